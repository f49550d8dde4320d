//! Exact pricing: the most valuable layout of each piece for given rewards of strips.
//!
//! Tables for one group of pieces, filled as they are asked for. `R_w(m)` is the best value of a
//! rip of width `w` and length `m`: an unbounded knapsack of strips, with a kept remainder behind
//! them, whose value is linear, so that a running maximum serves. `V(m, y)` is the best value of
//! a section of length `m` and width `y`: a knapsack of rips in the same way. The value of a
//! piece is a knapsack of sections over its length. In an optimal layout at most one section is
//! longer than it must be, because kept values are linear beyond their thresholds; so the others
//! have one of the lengths in `Shape::breakpoints`.

use std::collections::BTreeMap;

use super::line::Line;
use super::model::{Part, PieceClass};
use super::plan::{Plan, RipPlan, SectionPlan};
use super::shape::Shape;

/// Rewards and weights under which layouts are priced.
#[derive(Clone, Debug)]
pub(super) struct Prices {
    /// For a strip of each class; whole numbers.
    pub rewards: Vec<f64>,
    /// Factor on the value of kept wood.
    pub keep: f64,
    /// Strips of each class that one layout may take; seen to only where the problem is
    /// one-dimensional.
    pub limits: Option<Vec<u32>>,
}

pub(super) struct Tables<'a> {
    pub(super) part: &'a Part,
    pub(super) shape: &'a Shape,
    pub(super) rewards: &'a [f64],
    pub(super) limits: Option<&'a [u32]>,
    /// Value of a kept square grid unit.
    pub(super) keep: f64,
    /// `R` by rip, then length.
    pub(super) rips: Vec<Vec<f64>>,
    /// Strips alone, by rip, then length.
    strips: Vec<Vec<f64>>,
    /// `V` by length, then width; empty until asked for.
    pub(super) sections: Vec<Vec<f64>>,
    /// Best value of a whole length, by width, then length; NaN until asked for.
    pub(super) lengths: Vec<Vec<f64>>,
    /// With limits on strips, by width where it is a line; `None` until asked for.
    pub(super) lines: Vec<Option<Line>>,
    /// The same if every section could be ripped.
    free_lengths: Vec<Vec<f64>>,
    /// What [`Tables::reaching`] found for a width, a length, and what is beside it.
    reaching: BTreeMap<(usize, usize, Reach, bool), Reached>,
}

/// The value of a length with flaws beside it, and the first section of its best layout: its length and reach.
type Reached = (f64, Option<(usize, Reach)>);

/// Entries beyond which the table of lengths with flaws beside them begins anew.
const MOST_REACHING: usize = 50_000;

/// Reach of a section over the flaws beside it, in nanometres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Reach {
    pub before: i64,
    pub after: i64,
}

impl<'a> Tables<'a> {
    pub fn new(part: &'a Part, group: usize, shape: &'a Shape, prices: &'a Prices) -> Tables<'a> {
        let mut tables = Tables {
            part,
            shape,
            rewards: &prices.rewards,
            limits: prices.limits.as_deref(),
            keep: part.groups[group].keep_value * prices.keep,
            rips: Vec::with_capacity(shape.rips.len()),
            strips: Vec::with_capacity(shape.rips.len()),
            sections: vec![Vec::new(); shape.longest + 1],
            lengths: vec![Vec::new(); shape.widths.len()],
            lines: Vec::new(),
            free_lengths: vec![Vec::new(); shape.widths.len()],
            reaching: BTreeMap::new(),
        };
        if shape.widths.iter().any(|width| width.line.is_none()) {
            for index in 0..shape.rips.len() {
                tables.fill_rip(index);
            }
        }
        tables
    }

    pub(super) fn fill_rip(&mut self, index: usize) {
        let shape = self.shape;
        let rip = &shape.rips[index];
        // Of strips of one length only the dearest matters.
        let mut items: Vec<(usize, f64)> = Vec::new();
        for &(length, class) in &rip.strips {
            let reward = self.rewards[class];
            match items.last_mut() {
                Some(last) if last.0 == length => last.1 = last.1.max(reward),
                _ => items.push((length, reward)),
            }
        }
        items.retain(|item| item.1 > 0.0);
        let mut strips = vec![0.0; shape.longest + 1];
        for at in 1..=shape.longest {
            let mut best: f64 = strips[at - 1];
            for &(length, reward) in &items {
                if length > at {
                    break;
                }
                best = best.max(strips[at - length] + reward);
            }
            strips[at] = best;
        }
        let mut values = strips.clone();
        if rip.is_keepable && self.keep > 0.0 {
            let slope = self.keep * rip.width as f64 / self.part.grid.across as f64;
            let mut best_start = f64::NEG_INFINITY;
            for (before, value) in values.iter_mut().skip(shape.keep_length).enumerate() {
                let at = before + shape.keep_length;
                best_start = best_start.max(strips[before] - slope * before as f64);
                let kept = best_start + slope * (at as f64 - shape.crosscut_kerf);
                *value = value.max(kept);
            }
        }
        self.strips.push(strips);
        self.rips.push(values);
    }

    /// Knapsack of rips across a section of grid length `length`, without a kept remainder.
    fn across(&self, length: usize) -> Vec<f64> {
        let shape = self.shape;
        let items: Vec<(usize, f64)> = shape
            .rips
            .iter()
            .zip(&self.rips)
            .map(|(rip, values)| (rip.units, values[length]))
            .filter(|item| item.1 > 0.0)
            .collect();
        let mut row = vec![0.0; shape.widest + 1];
        for at in 1..=shape.widest {
            let mut best: f64 = row[at - 1];
            for &(units, value) in &items {
                if units > at {
                    break;
                }
                best = best.max(row[at - units] + value);
            }
            row[at] = best;
        }
        row
    }

    pub(super) fn section_row(&mut self, length: usize) -> &[f64] {
        if self.sections[length].is_empty() {
            let shape = self.shape;
            let row = self.across(length);
            let mut values = row.clone();
            if self.keep > 0.0 && length >= shape.keep_length {
                let slope = self.keep * (length as f64 - shape.crosscut_kerf);
                let mut best_start = f64::NEG_INFINITY;
                for (before, value) in values.iter_mut().skip(shape.keep_width).enumerate() {
                    let at = before + shape.keep_width;
                    best_start = best_start.max(row[before] - slope * before as f64);
                    let kept = best_start + slope * (at as f64 - shape.rip_kerf);
                    *value = value.max(kept);
                }
            }
            self.sections[length] = values;
        }
        &self.sections[length]
    }

    /// Value of a section that may not be ripped.
    fn unripped(&self, width: usize, length: usize) -> f64 {
        let shape = self.shape;
        let width = &shape.widths[width];
        let mut best: f64 = width.whole.map_or(0.0, |rip| self.rips[rip][length]);
        if width.is_keepable && length >= shape.keep_length {
            best = best.max(self.kept_whole(width.width, length));
        }
        best
    }

    pub(super) fn kept_whole(&self, width: i64, length: usize) -> f64 {
        let across = width as f64 / self.part.grid.across as f64;
        self.keep * across * (length as f64 - self.shape.crosscut_kerf)
    }

    /// Whether a section may be ripped that reaches `reach` nanometres over flaws.
    pub fn may_rip(&self, length: usize, reach: i64) -> bool {
        if reach == 0 {
            return length >= self.shape.rip_length;
        }
        let habits = &self.part.habits;
        let unit = self.part.grid.along;
        length as i64 * unit - habits.crosscut_kerf + reach
            >= habits.min_rip_length - if self.part.grid.is_exact { 0 } else { unit }
    }

    pub fn section(&mut self, width: usize, length: usize, reach: i64) -> f64 {
        if self.may_rip(length, reach) {
            let units = self.shape.widths[width].units;
            self.section_row(length)[units]
        } else {
            self.unripped(width, length)
        }
    }

    /// Best value of a clear length without flaws beside it.
    pub(super) fn length(&mut self, width: usize, length: usize) -> f64 {
        let shape = self.shape;
        let known = &self.lengths[width];
        if known.is_empty() {
            let longest = shape.widths[width].longest;
            self.lengths[width] = match &shape.widths[width].line {
                Some(strips) => self.fill_line(width, strips),
                None => vec![f64::NAN; longest + 1],
            };
        }
        let known = self.lengths[width][length];
        if !known.is_nan() {
            return known;
        }
        let mut best = self.section(width, length, 0);
        let least_rest = shape.shortest.min(shape.keep_length);
        for &first in &shape.breakpoints {
            if first + least_rest > length {
                break;
            }
            let value = self.section(width, first, 0);
            if value > 0.0 {
                best = best.max(value + self.length(width, length - first));
            }
        }
        self.lengths[width][length] = best;
        best
    }

    /// The same without the rule that a short section may not be ripped.
    fn free_length(&mut self, width: usize, length: usize) -> f64 {
        let shape = self.shape;
        if self.free_lengths[width].is_empty() {
            self.free_lengths[width] = vec![f64::NAN; shape.widths[width].longest + 1];
        }
        let known = self.free_lengths[width][length];
        if !known.is_nan() {
            return known;
        }
        let mut best = self.section(width, length, i64::MAX / 4);
        let least_rest = shape.shortest.min(shape.keep_length);
        for &first in &shape.breakpoints {
            if first + least_rest > length {
                break;
            }
            let value = self.section(width, first, i64::MAX / 4);
            best = best.max(value + self.free_length(width, length - first));
        }
        self.free_lengths[width][length] = best;
        best
    }

    /// Lengths with which a section that reaches over a flaw can be worth more than without.
    pub fn reaching_lengths(&self, reach: i64) -> Vec<usize> {
        let shape = self.shape;
        let unit = self.part.grid.along;
        let habits = &self.part.habits;
        let least = (habits.min_rip_length + habits.crosscut_kerf - reach).max(1);
        let least = usize::try_from((least + unit - 1) / unit).unwrap_or(1);
        let mut lengths: Vec<usize> = shape
            .breakpoints
            .iter()
            .copied()
            .filter(|&at| at >= least && at < shape.rip_length)
            .collect();
        lengths.push(least);
        lengths
    }

    /// Best value of a clear length with flaws beside it over which sections may reach, and the
    /// first section of such a layout: its length and reach.
    pub fn reaching(&mut self, width: usize, length: usize, reach: Reach, is_all: bool) -> Reached {
        let mut best = (self.length(width, length), None);
        if reach == Reach::default() {
            return best;
        }
        let key = (width, length, reach, is_all);
        if let Some(&known) = self.reaching.get(&key) {
            return known;
        }
        let none = Reach::default();
        let before = Reach { after: 0, ..reach };
        let after = Reach { before: 0, ..reach };
        let mut offer = |value: f64, first: usize, by: Reach| {
            if value > best.0 {
                best = (value, Some((first, by)));
            }
        };
        let whole = if is_all {
            reach
        } else if reach.before >= reach.after {
            before
        } else {
            after
        };
        offer(
            self.section(width, length, whole.before + whole.after),
            length,
            whole,
        );
        let least_rest = self.shape.shortest.min(self.shape.keep_length);
        for (by, rest) in [(before, after), (after, before)] {
            if by == none {
                continue;
            }
            for first in self.reaching_lengths(by.before + by.after) {
                if first + least_rest > length {
                    continue;
                }
                let value = self.section(width, first, by.before + by.after);
                if value > 0.0 {
                    let (rest, _) = self.reaching(width, length - first, rest, false);
                    offer(value + rest, first, by);
                }
            }
        }
        for index in 0..self.shape.breakpoints.len() {
            let first = self.shape.breakpoints[index];
            if first + least_rest > length {
                break;
            }
            let value = self.section(width, first, 0);
            if value > 0.0 {
                let (rest, _) = self.reaching(width, length - first, reach, false);
                offer(value + rest, first, none);
            }
        }
        if self.reaching.len() >= MOST_REACHING {
            self.reaching.clear();
        }
        self.reaching.insert(key, best);
        best
    }

    pub fn units(&self, length: i64) -> usize {
        let unit = self.part.grid.along;
        usize::try_from((length + self.part.habits.crosscut_kerf + unit - 1) / unit).unwrap_or(0)
    }

    pub fn reach_matters(&self, width: usize) -> bool {
        let shape = self.shape;
        shape.shortest.min(shape.keep_length) < shape.rip_length
            && shape.widths[width].line.is_none()
    }

    /// The value of the best layout of `piece`, at least: never too low.
    pub fn value(&mut self, piece: &PieceClass) -> f64 {
        let width = self.shape.width_of(piece);
        match piece.clear.as_slice() {
            [] => 0.0,
            [clear] => {
                let length = self.units(clear.to - clear.from);
                if self.reach_matters(width) {
                    let reach = Reach {
                        before: clear.before,
                        after: clear.after,
                    };
                    self.reaching(width, length, reach, true).0
                } else if let Some(line) = self.line(width) {
                    line.value(length)
                } else {
                    self.length(width, length)
                }
            }
            several => {
                let lengths: Vec<usize> = several
                    .iter()
                    .map(|clear| self.units(clear.to - clear.earliest))
                    .collect();
                lengths
                    .into_iter()
                    .map(|length| {
                        if self.reach_matters(width) {
                            self.free_length(width, length)
                        } else {
                            self.length(width, length)
                        }
                    })
                    .sum()
            }
        }
    }

    /// A layout of the value that `value` states, but for pieces with a flaw inside, where it may
    /// be worth less because a short section may not be ripped.
    pub fn plan(&mut self, piece: &PieceClass) -> Plan {
        let width = self.shape.width_of(piece);
        let mut plan = Plan::default();
        let is_all = piece.clear.len() == 1;
        for (index, clear) in piece.clear.iter().enumerate() {
            // The flaw between two clear stretches serves the section before it.
            let before = if index == 0 { clear.before } else { 0 };
            let mut reach = Reach {
                before,
                after: clear.after,
            };
            let mut length = self.units(clear.to - clear.from);
            let mut is_whole = is_all || index == 0;
            while length > 0 {
                let (_, first) = if self.reach_matters(width) {
                    self.reaching(width, length, reach, is_whole)
                } else {
                    (0.0, None)
                };
                is_whole = false;
                let (first, by) = match first {
                    Some(first) => first,
                    None => {
                        reach = Reach::default();
                        (self.first_section(width, length), Reach::default())
                    }
                };
                if by.before > 0 {
                    reach.before = 0;
                }
                if by.after > 0 {
                    reach.after = 0;
                }
                if let Some(section) = self.section_plan(width, first, index, by) {
                    plan.sections.push(section);
                }
                length -= first;
            }
        }
        plan
    }

    /// The length of a section with which a best layout of a clear length can begin.
    fn first_section(&mut self, width: usize, length: usize) -> usize {
        let shape = self.shape;
        let best = self.length(width, length);
        if let Some(strips) = &shape.widths[width].line {
            // Waste and kept remainders come last.
            let strip = strips.iter().copied().find(|&(first, class)| {
                first <= length
                    && self.rewards[class] > 0.0
                    && self.rewards[class] + self.lengths[width][length - first] >= best
            });
            return strip.map_or(length, |(first, _)| first);
        }
        if self.section(width, length, 0) >= best {
            return length;
        }
        let least_rest = shape.shortest.min(shape.keep_length);
        for &first in &shape.breakpoints {
            if first + least_rest > length {
                break;
            }
            let value = self.section(width, first, 0);
            if value > 0.0 && value + self.length(width, length - first) >= best {
                return first;
            }
        }
        length
    }

    /// How a section is ripped and its rips are cut; `None` where it gives no strip.
    fn section_plan(
        &mut self,
        width: usize,
        length: usize,
        clear: usize,
        by: Reach,
    ) -> Option<SectionPlan> {
        let shape = self.shape;
        if shape.widths[width].line.is_some() && self.rips.is_empty() {
            for index in 0..shape.rips.len() {
                self.fill_rip(index);
            }
        }
        let may_rip = self.may_rip(length, by.before + by.after);
        let chosen = if may_rip {
            self.rips_across(width, length)
        } else {
            let whole = shape.widths[width].whole?;
            if self.rips[whole][length] < self.unripped(width, length) {
                return None;
            }
            vec![whole]
        };
        let rips: Vec<RipPlan> = chosen
            .into_iter()
            .map(|rip| RipPlan {
                width: shape.rips[rip].width,
                classes: self.rip_plan(rip, length),
                behind: Vec::new(),
            })
            .filter(|rip| !rip.classes.is_empty())
            .collect();
        if rips.is_empty() {
            return None;
        }
        let unit = self.part.grid.along;
        Some(SectionPlan {
            clear,
            length: length as i64 * unit - self.part.habits.crosscut_kerf,
            reaches_before: by.before > 0,
            reaches_after: by.after > 0,
            spans: false,
            rips,
        })
    }

    fn rips_across(&mut self, width: usize, length: usize) -> Vec<usize> {
        let shape = self.shape;
        let units = shape.widths[width].units;
        let best = self.section_row(length)[units];
        let row = self.across(length);
        let mut at = units;
        if row[at] < best {
            // Something is kept beside the rips: find where they end.
            let slope = self.keep * (length as f64 - shape.crosscut_kerf);
            let last = units - shape.keep_width;
            let worth = |before: usize| row[before] - slope * before as f64;
            at = (0..=last).fold(0, |best, before| {
                if worth(before) > worth(best) {
                    before
                } else {
                    best
                }
            });
        }
        let mut chosen = Vec::new();
        while row[at] > 0.0 {
            while row[at - 1] >= row[at] {
                at -= 1;
            }
            let rip = (0..shape.rips.len()).find(|&rip| {
                let value = self.rips[rip][length];
                let units = shape.rips[rip].units;
                value > 0.0 && units <= at && row[at - units] + value >= row[at]
            });
            let Some(rip) = rip else { break };
            chosen.push(rip);
            at -= shape.rips[rip].units;
        }
        chosen
    }

    pub(super) fn rip_plan(&self, index: usize, length: usize) -> Vec<u16> {
        let shape = self.shape;
        let rip = &shape.rips[index];
        let strips = &self.strips[index];
        let mut at = length;
        if self.rips[index][length] > strips[length] {
            let slope = self.keep * rip.width as f64 / self.part.grid.across as f64;
            let last = length - shape.keep_length;
            let worth = |before: usize| strips[before] - slope * before as f64;
            at = (0..=last).fold(0, |best, before| {
                if worth(before) > worth(best) {
                    before
                } else {
                    best
                }
            });
        }
        let mut classes = Vec::new();
        while strips[at] > 0.0 {
            while strips[at - 1] >= strips[at] {
                at -= 1;
            }
            let strip = rip.strips.iter().copied().find(|&(length, class)| {
                let reward = self.rewards[class];
                reward > 0.0 && length <= at && strips[at - length] + reward >= strips[at]
            });
            let Some((length, class)) = strip else { break };
            classes.push(class as u16);
            at -= length;
        }
        classes
    }
}
