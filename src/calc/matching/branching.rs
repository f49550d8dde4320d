//! The best choice among given columns: cutting planes, then branching.

use std::collections::BTreeMap;

use super::column::Column;
use super::cuts;
use super::pool::{Pool, WHOLE};
use super::simplex::End;

/// Least and greatest value of a variable.
type Interval = (f64, f64);

/// How a search ended.
pub(super) struct Searched {
    pub best: Option<Vec<(Column, u32)>>,
    /// Whether no better choice among the columns exists.
    pub is_complete: bool,
    /// No choice that is better than asked for costs less, in the goal's units.
    pub bound: f64,
}

impl Pool<'_> {
    /// The cheapest choice that costs at least `step` less than `cutoff`, by branching.
    pub fn search(
        &mut self,
        cutoff: f64,
        step: f64,
        most_nodes: u64,
        is_spent: &dyn Fn() -> bool,
    ) -> Searched {
        let mut cutoff = cutoff;
        let mut searched = Searched {
            best: None,
            is_complete: true,
            bound: f64::NEG_INFINITY,
        };
        // No choice that leaves out a strip may look good enough.
        for &stand_in in &self.stand_ins {
            self.lp
                .set_cost(stand_in, (2.0 * cutoff / self.unit).max(50.0));
        }
        let root = self.begin(f64::INFINITY, is_spent);
        if root == End::Stopped {
            searched.is_complete = false;
            return searched;
        }
        // Each entry: the variable, its bounds before, and the other branch if still to do.
        type Branch = (usize, (f64, f64), Option<(f64, f64)>);
        let mut path: Vec<Branch> = Vec::new();
        let mut end = root;
        loop {
            self.nodes += 1;
            if self.nodes > most_nodes || (self.nodes.is_multiple_of(4) && is_spent()) {
                searched.is_complete = false;
                return searched;
            }
            let limit = cutoff - step;
            let mut is_open = end == End::Optimal && self.value() <= limit;
            if end == End::Stopped {
                searched.is_complete = false;
                is_open = false;
            }
            if is_open {
                if path.is_empty() {
                    if self.is_whole && !self.cut(limit, is_spent) {
                        end = End::Infeasible;
                        continue;
                    }
                    self.fix_by_cost(limit);
                    searched.bound = self.value() * (1.0 - 1e-9);
                }
                match self.branch() {
                    Some((variable, first, second)) => {
                        path.push((variable, self.lp.bounds(variable), Some(second)));
                        self.lp.set_bounds(variable, first);
                        end = self.resolve(limit / self.unit);
                        continue;
                    }
                    None => {
                        let value = self.value();
                        cutoff = value.min(cutoff - step);
                        searched.best = Some(self.chosen());
                    }
                }
            }
            // Back to the last branch whose other side is still to do.
            loop {
                match path.pop() {
                    None => return searched,
                    Some((variable, before, None)) => self.lp.set_bounds(variable, before),
                    Some((variable, before, Some(other))) => {
                        self.lp.set_bounds(variable, other);
                        path.push((variable, before, None));
                        break;
                    }
                }
            }
            let limit = cutoff - step;
            end = self.resolve(limit / self.unit);
        }
    }

    /// At the root: adds cutting planes while they help; `false` once nothing costs `limit` or less.
    fn cut(&mut self, limit: f64, is_spent: &dyn Fn() -> bool) -> bool {
        const ROUNDS: usize = 30;
        const ROUND_CUTS: usize = 30;
        const MOST_ROWS: usize = 700;
        let mut stalled = 0;
        for _ in 0..ROUNDS {
            if is_spent() || self.lp.rows() > MOST_ROWS {
                break;
            }
            let before = self.value();
            let sets = self.broken(ROUND_CUTS);
            if sets.is_empty() {
                break;
            }
            for set in &sets {
                self.add_cut(set);
            }
            if self.resolve(limit / self.unit) != End::Optimal || self.value() > limit {
                return false;
            }
            self.fix_by_cost(limit);
            let gained = (self.value() - before) / (limit - before).max(1e-9);
            stalled = if gained < 0.02 { stalled + 1 } else { 0 };
            if stalled >= 3 {
                break;
            }
        }
        true
    }

    /// Rows of strips and pieces by index: those of strips come first.
    fn entries(&self, place: usize, piece_place: &[usize]) -> Vec<(usize, u32)> {
        let column = self.columns[place];
        let mut entries: Vec<(usize, u32)> = column
            .takes
            .iter()
            .map(|&(class, count)| (usize::from(class), count))
            .collect();
        entries.push((self.wanted.len() + piece_place[column.piece], 1));
        entries
    }

    fn piece_places(&self) -> Vec<usize> {
        let mut places = vec![usize::MAX; self.part.pieces.len()];
        for (place, &(piece, _)) in self.pieces.iter().enumerate() {
            places[piece] = place;
        }
        places
    }

    /// Sets of rows whose cut the present solution breaks.
    fn broken(&self, most: usize) -> Vec<Vec<usize>> {
        const MOST_ROWS: usize = 600;
        let piece_places = self.piece_places();
        let mut weights = Vec::new();
        let count = self.wanted.len() + self.pieces.len();
        let mut odd: Vec<Vec<usize>> = vec![Vec::new(); count];
        let mut used = vec![0.0; count];
        for (place, &variable) in self.variables.iter().enumerate() {
            let weight = self.lp.value(variable);
            if weight <= WHOLE {
                continue;
            }
            for (row, entry) in self.entries(place, &piece_places) {
                used[row] += weight * f64::from(entry);
                if !entry.is_multiple_of(2) {
                    odd[row].push(weights.len());
                }
            }
            weights.push(weight);
        }
        let mut rows = Vec::new();
        let mut names = Vec::new();
        for (name, odd) in odd.into_iter().enumerate() {
            let right = match name.checked_sub(self.wanted.len()) {
                None => self.wanted[name],
                Some(piece) => self.pieces[piece].1,
            };
            let over = used[name] - f64::from(right);
            if odd.is_empty() || over < -0.9 {
                continue;
            }
            names.push(name);
            rows.push(cuts::Row { right, odd, over });
        }
        if rows.len() > MOST_ROWS {
            return Vec::new();
        }
        let mut sets = cuts::broken(&rows, &weights, most);
        for set in &mut sets {
            for row in set {
                *row = names[*row];
            }
        }
        sets
    }

    fn add_cut(&mut self, set: &[usize]) {
        let piece_places = self.piece_places();
        let right: u32 = set
            .iter()
            .map(|&row| match row.checked_sub(self.wanted.len()) {
                None => self.wanted[row],
                Some(piece) => self.pieces[piece].1,
            })
            .sum();
        let mut entries = Vec::new();
        for place in 0..self.columns.len() {
            let sum: u32 = self
                .entries(place, &piece_places)
                .iter()
                .filter(|(row, _)| set.contains(row))
                .map(|entry| entry.1)
                .sum();
            if sum >= 2 {
                entries.push((self.variables[place], f64::from(sum / 2)));
            }
        }
        self.lp
            .add_row(&entries, f64::from(right / 2), (0.0, f64::INFINITY));
    }

    /// At the root: what would cost more than `limit` if used stays out.
    fn fix_by_cost(&mut self, limit: f64) {
        let room = (limit - self.value()) / self.unit;
        for &variable in &self.variables {
            if !self.lp.is_basic(variable)
                && self.lp.value(variable) == 0.0
                && self.lp.reduced_cost(variable) > room + 1e-7
            {
                self.lp.set_bounds(variable, (0.0, 0.0));
            }
        }
    }

    /// Whether two strips come from one piece, where that is neither so nor not.
    fn branch_on_pair(&mut self) -> Option<(usize, Interval, Interval)> {
        const MOST_ROWS: usize = 900;
        if self.lp.rows() >= MOST_ROWS {
            return None;
        }
        let mut together: BTreeMap<(usize, usize), f64> = BTreeMap::new();
        for (place, &variable) in self.variables.iter().enumerate() {
            let weight = self.lp.value(variable);
            if weight <= WHOLE || (weight - weight.round()).abs() <= 1e-5 {
                continue;
            }
            let takes = &self.columns[place].takes;
            for (index, &(a, count)) in takes.iter().enumerate() {
                if count > 1 {
                    *together
                        .entry((usize::from(a), usize::from(a)))
                        .or_default() += weight;
                }
                for &(b, _) in &takes[index + 1..] {
                    *together
                        .entry((usize::from(a), usize::from(b)))
                        .or_default() += weight;
                }
            }
        }
        // Whole weights of other columns do not change the fraction.
        let (pair, _) = together
            .into_iter()
            .map(|(pair, weight)| (pair, (weight - weight.floor() - 0.6).abs()))
            .filter(|(_, off)| *off < 0.59)
            .min_by(|a, b| a.1.total_cmp(&b.1))?;
        let (a, b) = pair;
        let has = |column: &Column| {
            let count = |class: usize| {
                column
                    .takes
                    .iter()
                    .find(|take| usize::from(take.0) == class)
                    .map_or(0, |take| take.1)
            };
            if a == b {
                count(a) > 1
            } else {
                count(a) > 0 && count(b) > 0
            }
        };
        let used: f64 = (0..self.columns.len())
            .filter(|&place| has(self.columns[place]))
            .map(|place| self.lp.value(self.variables[place]))
            .sum();
        let most = f64::from(self.wanted[a].min(self.wanted[b]));
        let logical = match self.pairs.get(&pair) {
            Some(&logical) => logical,
            None => {
                let entries: Vec<(usize, f64)> = (0..self.columns.len())
                    .filter(|&place| has(self.columns[place]))
                    .map(|place| (self.variables[place], 1.0))
                    .collect();
                let logical = self.lp.add_row(&entries, most, (0.0, most));
                self.pairs.insert(pair, logical);
                logical
            }
        };
        let (lower, upper) = self.lp.bounds(logical);
        let more = (lower, most - used.ceil());
        let less = (most - used.floor(), upper);
        (more.0 <= more.1 && less.0 <= less.1).then_some((logical, more, less))
    }

    /// A variable that is not whole, with the bounds to try first and then; `None` where all are.
    fn branch(&mut self) -> Option<(usize, Interval, Interval)> {
        // How often a piece is used says more than how it is cut.
        let mut best: Option<(f64, usize)> = None;
        for place in 0..self.pieces.len() {
            if self.columns_of[place].len() < 2 {
                continue;
            }
            let used = self.used(place);
            let off = (used - used.round()).abs();
            if off > 1e-5 && best.is_none_or(|(most, _)| off > most) {
                best = Some((off, place));
            }
        }
        if let Some((_, place)) = best {
            let used = self.used(place);
            let logical = match self.rows[place] {
                Some((_, logical)) => logical,
                None => self.add_piece_row(place),
            };
            let cap = f64::from(self.pieces[place].1);
            let (lower, upper) = self.lp.bounds(logical);
            let more = (lower, cap - used.ceil());
            let less = (cap - used.floor(), upper);
            return Some(if used - used.floor() >= 0.5 {
                (logical, more, less)
            } else {
                (logical, less, more)
            });
        }
        if self.is_whole
            && let Some(branch) = self.branch_on_pair()
        {
            return Some(branch);
        }
        let mut best: Option<(f64, usize)> = None;
        for &variable in &self.variables {
            let value = self.lp.value(variable);
            let off = (value - value.round()).abs();
            if off > 1e-5 {
                let score = value - value.floor();
                if best.is_none_or(|(most, _)| score > most) {
                    best = Some((score, variable));
                }
            }
        }
        let (_, variable) = best?;
        let value = self.lp.value(variable);
        let (lower, upper) = self.lp.bounds(variable);
        Some((variable, (value.ceil(), upper), (lower, value.floor())))
    }
}
