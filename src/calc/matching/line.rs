//! Strips along one line: a knapsack in which each class has a limit.

use super::model::PieceClass;
use super::plan::{Plan, RipPlan, SectionPlan};
use super::price::Tables;

pub(super) struct LineItem {
    pub length: usize,
    pub class: usize,
    pub reward: f64,
    pub limit: usize,
}

/// A bounded knapsack by depth first search, under the values of the unbounded one.
pub(super) struct LineSearch<'a> {
    pub items: &'a [LineItem],
    pub bounds: &'a [f64],
    pub taken: Vec<usize>,
    pub best: Vec<usize>,
    pub best_value: f64,
    pub nodes: u32,
}

impl LineSearch<'_> {
    pub fn take(&mut self, next: usize, length: usize, value: f64) {
        if value > self.best_value {
            self.best_value = value;
            self.best.clone_from(&self.taken);
        }
        if self.nodes == 0 || value + self.bounds[length] <= self.best_value * (1.0 + 1e-12) {
            return;
        }
        self.nodes -= 1;
        let Some(item) = self.items.get(next) else {
            return;
        };
        let most = item.limit.min(length / item.length);
        for count in (0..=most).rev() {
            self.taken.extend(std::iter::repeat_n(item.class, count));
            self.take(
                next + 1,
                length - count * item.length,
                value + count as f64 * item.reward,
            );
            self.taken.truncate(self.taken.len() - count);
        }
    }
}

/// Exact values of a line for every length, at once.
pub(super) struct Line {
    /// Longest first.
    items: Vec<LineItem>,
    /// Best value of a length, by the number of items that are left out from the front, then by length.
    values: Vec<f64>,
    lengths: usize,
}

impl Line {
    /// Entries up to which a table is filled.
    const MOST_ENTRIES: usize = 1 << 22;

    /// `bare` is what a rest of each length is worth without strips; `None` where the table would be too
    /// large.
    pub fn new(mut items: Vec<LineItem>, bare: &[f64]) -> Option<Line> {
        let lengths = bare.len();
        if (items.len() + 1).saturating_mul(lengths) > Line::MOST_ENTRIES {
            return None;
        }
        items.sort_by_key(|item| (std::cmp::Reverse(item.length), item.class));
        let mut values = vec![0.0; (items.len() + 1) * lengths];
        values[items.len() * lengths..].copy_from_slice(bare);
        let mut row = bare.to_vec();
        let mut before = row.clone();
        for (place, item) in items.iter().enumerate().rev() {
            // One, two, four at a time: every number up to the limit is a sum of these.
            let mut left = item.limit.min((lengths - 1) / item.length);
            let mut times = 1;
            while left > 0 {
                let taken = times.min(left);
                let (length, reward) = (taken * item.length, taken as f64 * item.reward);
                before.copy_from_slice(&row);
                for (value, before) in row[length..].iter_mut().zip(&before) {
                    let with = before + reward;
                    *value = if with > *value { with } else { *value };
                }
                left -= taken;
                times *= 2;
            }
            values[place * lengths..(place + 1) * lengths].copy_from_slice(&row);
        }
        Some(Line {
            items,
            values,
            lengths,
        })
    }

    fn at(&self, place: usize, length: usize) -> f64 {
        self.values[place * self.lengths + length]
    }

    pub fn value(&self, length: usize) -> f64 {
        self.at(0, length)
    }

    /// The classes of the most valuable strips from `place` on.
    fn best(&self, place: usize, mut length: usize, classes: &mut Vec<usize>) {
        for place in place..self.items.len() {
            let item = &self.items[place];
            let most = item.limit.min(length / item.length);
            let worth = |count: usize| {
                self.at(place + 1, length - count * item.length) + count as f64 * item.reward
            };
            let count = (1..=most).fold(0, |best, count| {
                if worth(count) > worth(best) {
                    count
                } else {
                    best
                }
            });
            classes.extend(std::iter::repeat_n(item.class, count));
            length -= count * item.length;
        }
    }

    /// The most valuable strips that are worth `least`, and then for each item the most valuable of which it
    /// is the longest, as long as no strip is taken twice: `limits` says what is left of each class, and less
    /// afterwards.
    fn plans(&self, length: usize, least: f64, limits: &mut [u32]) -> Vec<Vec<usize>> {
        let mut leaders: Vec<(f64, usize)> = Vec::new();
        for (place, item) in self.items.iter().enumerate() {
            if item.length <= length && item.reward > 0.0 {
                let value = item.reward + self.at(place + 1, length - item.length);
                if value >= least {
                    leaders.push((value, place));
                }
            }
        }
        leaders.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let mut plans = Vec::new();
        let mut take = |classes: Vec<usize>| {
            let mut left = limits.to_vec();
            for &class in &classes {
                match left[class].checked_sub(1) {
                    Some(less) => left[class] = less,
                    None => return,
                }
            }
            limits.copy_from_slice(&left);
            plans.push(classes);
        };
        if self.value(length) >= least {
            let mut best = Vec::new();
            self.best(0, length, &mut best);
            take(best);
        }
        for (_, place) in leaders {
            let item = &self.items[place];
            let mut classes = vec![item.class];
            self.best(place + 1, length - item.length, &mut classes);
            take(classes);
        }
        plans
    }

    /// Every choice of strips that is worth `least`, until `visit` says stop; whether none was left out.
    pub fn each(&self, length: usize, least: f64, visit: &mut dyn FnMut(&[usize]) -> bool) -> bool {
        let mut classes = Vec::new();
        self.each_from(0, length, least, &mut classes, visit)
    }

    fn each_from(
        &self,
        from: usize,
        length: usize,
        least: f64,
        classes: &mut Vec<usize>,
        visit: &mut dyn FnMut(&[usize]) -> bool,
    ) -> bool {
        if self.at(self.items.len(), length) >= least && !visit(classes) {
            return false;
        }
        let count = classes.len();
        for place in from..self.items.len() {
            if self.at(place, length) < least {
                break;
            }
            let item = &self.items[place];
            let (mut length, mut least) = (length, least);
            for _ in 0..item.limit {
                if item.length > length {
                    break;
                }
                length -= item.length;
                least -= item.reward;
                classes.push(item.class);
                let goes_on = self.at(place + 1, length) < least
                    || self.each_from(place + 1, length, least, classes, visit);
                if !goes_on {
                    return false;
                }
            }
            classes.truncate(count);
        }
        true
    }
}

impl Tables<'_> {
    pub(super) fn fill_line(&self, width: usize, strips: &[(usize, usize)]) -> Vec<f64> {
        let shape = self.shape;
        let shape_of_width = &shape.widths[width];
        let mut items: Vec<(usize, f64)> = Vec::new();
        for &(length, class) in strips {
            let reward = self.rewards[class];
            match items.last_mut() {
                Some(last) if last.0 == length => last.1 = last.1.max(reward),
                _ => items.push((length, reward)),
            }
        }
        items.retain(|item| item.1 > 0.0);
        let longest = shape_of_width.longest;
        let keeps = shape_of_width.is_keepable && self.keep > 0.0;
        let mut values = vec![0.0; longest + 1];
        let shortest = items.first().map_or(longest + 1, |item| item.0);
        // Blocks shorter than the shortest strip do not depend on themselves.
        let mut from = 1;
        while from <= longest {
            let to = (from + shortest).min(longest + 1);
            for &(length, reward) in &items {
                if length >= to {
                    break;
                }
                let from = from.max(length);
                let (done, open) = values.split_at_mut(from);
                let before = &done[from - length..];
                for (value, before) in open[..to - from].iter_mut().zip(before) {
                    let with: f64 = before + reward;
                    *value = with.max(*value);
                }
            }
            for at in from..to {
                if keeps && at >= shape.keep_length {
                    values[at] = values[at].max(self.kept_whole(shape_of_width.width, at));
                }
                values[at] = values[at].max(values[at - 1]);
            }
            from = to;
        }
        values
    }

    /// The table of a line with limits on strips, if this is one and a table is not too large.
    pub(super) fn line(&mut self, width: usize) -> Option<&Line> {
        if self.lines.is_empty() {
            self.lines.resize_with(self.shape.widths.len(), || None);
        }
        if self.lines[width].is_none() {
            self.lines[width] = self.line_within(width, self.limits?);
        }
        self.lines[width].as_ref()
    }

    fn line_within(&self, width: usize, limits: &[u32]) -> Option<Line> {
        let shape = &self.shape.widths[width];
        let strips = shape.line.as_ref()?;
        let keeps = shape.is_keepable && self.keep > 0.0;
        let bare: Vec<f64> = (0..=shape.longest)
            .map(|length| {
                if keeps && length >= self.shape.keep_length {
                    self.kept_whole(shape.width, length)
                } else {
                    0.0
                }
            })
            .collect();
        let items = strips
            .iter()
            .map(|&(length, class)| LineItem {
                length,
                class,
                reward: self.rewards[class],
                limit: limits[class] as usize,
            })
            .filter(|item| item.limit > 0)
            .collect();
        Line::new(items, &bare)
    }

    /// Layouts for a piece that is cut along one line: the best within the limits on strips, then
    /// the best of the strips that are left, and so on while they are worth `least`. Empty for
    /// other pieces and without limits.
    pub fn line_plans(&mut self, piece: &PieceClass, least: f64) -> Vec<Plan> {
        const MOST_PLANS: usize = 24;
        let width = self.shape.width_of(piece);
        let mut plans = Vec::new();
        let Some(limits) = self.limits else {
            return plans;
        };
        if self.shape.widths[width].line.is_none() {
            return plans;
        }
        let mut left = limits.to_vec();
        while plans.len() < MOST_PLANS {
            let mut plan = Plan::default();
            for (index, clear) in piece.clear.iter().enumerate() {
                let length = self.units(clear.to - clear.from);
                self.limited_line(width, length, index, &mut left, &mut plan);
            }
            let takes = plan.takes();
            let value: f64 = takes
                .iter()
                .map(|&(class, count)| self.rewards[usize::from(class)] * f64::from(count))
                .sum();
            if takes.is_empty() || (value < least && !plans.is_empty()) {
                break;
            }
            plans.push(plan);
        }
        plans
    }

    /// The best strips in a row of which no more are taken than are left.
    fn limited_line(
        &mut self,
        width: usize,
        length: usize,
        clear: usize,
        limits: &mut [u32],
        plan: &mut Plan,
    ) {
        let shape = self.shape;
        self.length(width, length);
        let Some(line) = &shape.widths[width].line else {
            return;
        };
        let mut items: Vec<LineItem> = line
            .iter()
            .filter(|(_, class)| self.rewards[*class] > 0.0 && limits[*class] > 0)
            .map(|&(length, class)| LineItem {
                length,
                class,
                reward: self.rewards[class],
                limit: limits[class] as usize,
            })
            .collect();
        items.sort_by(|a, b| {
            let density = |item: &LineItem| item.reward / item.length as f64;
            density(b).total_cmp(&density(a))
        });
        let mut search = LineSearch {
            items: &items,
            bounds: &self.lengths[width],
            taken: Vec::new(),
            best: Vec::new(),
            best_value: 0.0,
            nodes: 4_000,
        };
        search.take(0, length, 0.0);
        for class in search.best {
            limits[class] -= 1;
            plan.sections.extend(self.strip_alone(width, clear, class));
        }
    }

    /// The most valuable layouts of a piece along one line within the limits on strips, each led by another
    /// strip; empty for other pieces.
    pub fn leading_plans(&mut self, piece: &PieceClass, least: f64) -> Vec<Plan> {
        const MOST_PLANS: usize = 24;
        const MOST_TABLES: usize = 8;
        let width = self.shape.width_of(piece);
        let [clear] = piece.clear.as_slice() else {
            return Vec::new();
        };
        let length = self.units(clear.to - clear.from);
        let Some(limits) = self.limits else {
            return Vec::new();
        };
        if self.line(width).is_none() {
            return Vec::new();
        }
        let mut left = limits.to_vec();
        let mut plans = Vec::new();
        for turn in 0..MOST_TABLES {
            let anew = if turn == 0 {
                None
            } else {
                self.line_within(width, &left)
            };
            let line = anew.as_ref().or(self.lines[width].as_ref());
            let found = line.map_or_else(Vec::new, |line| line.plans(length, least, &mut left));
            if found.is_empty() {
                break;
            }
            plans.extend(found);
            if plans.len() >= MOST_PLANS {
                break;
            }
        }
        plans
            .iter()
            .map(|classes| self.plan_of_strips(width, classes))
            .collect()
    }

    /// Every choice of strips along a line that is worth `least`; the line's table must be there.
    pub(super) fn each_along(
        &self,
        width: usize,
        length: usize,
        least: f64,
        visit: &mut dyn FnMut(&[usize]) -> bool,
    ) -> bool {
        match self.lines.get(width) {
            Some(Some(line)) => line.each(length, least, visit),
            _ => false,
        }
    }

    /// One strip after the other, each in a section of its own.
    pub(super) fn plan_of_strips(&self, width: usize, classes: &[usize]) -> Plan {
        let sections = classes
            .iter()
            .filter_map(|&class| self.strip_alone(width, 0, class));
        Plan {
            sections: sections.collect(),
        }
    }

    fn strip_alone(&self, width: usize, clear: usize, class: usize) -> Option<SectionPlan> {
        let rip = self.shape.rips.iter().rfind(|rip| {
            rip.width <= self.shape.widths[width].width
                && rip.strips.iter().any(|strip| strip.1 == class)
        })?;
        Some(SectionPlan {
            clear,
            length: self.part.strips[class].length,
            reaches_before: false,
            reaches_after: false,
            spans: false,
            rips: vec![RipPlan {
                width: rip.width,
                classes: vec![class as u16],
                behind: Vec::new(),
            }],
        })
    }
}
