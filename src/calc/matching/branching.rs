//! The best choice among given columns: cutting planes, then branching.

use super::candidates::{Choice, Side, Sides};
use super::column::Column;
use super::cuts;
use super::pool::{Pool, WHOLE};
use super::simplex::End;

/// Least and greatest value of a variable.
pub(super) type Interval = (f64, f64);

/// How a search ended.
pub(super) struct Searched {
    pub best: Option<Vec<(Column, u32)>>,
    /// Whether no better choice among the columns exists.
    pub is_complete: bool,
    /// No choice that is better than asked for costs less, in the goal's units.
    pub bound: f64,
    /// Columns that a better choice may use, by what each costs beyond the prices at the root; filled once the
    /// root is done.
    pub kept: Vec<(f64, usize)>,
}

struct Branch {
    /// How long the trail was before.
    mark: usize,
    /// The other side, if still to do.
    other: Option<Side>,
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
            kept: Vec::new(),
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
        let mut path: Vec<Branch> = Vec::new();
        let mut end = root;
        // What the choices below the present node cost at least.
        let mut least = f64::NEG_INFINITY;
        // The same below nodes that were given up because the numbers went bad.
        let mut given_up = f64::INFINITY;
        loop {
            self.nodes += 1;
            if self.nodes > most_nodes || (self.nodes.is_multiple_of(4) && is_spent()) {
                searched.is_complete = false;
                let open = path.iter().filter_map(|branch| branch.other.as_ref());
                let open = open.map(|side| side.cost);
                let open = open.fold(least.min(given_up), f64::min);
                searched.bound = searched.bound.max(open * (1.0 - 1e-9));
                return searched;
            }
            let limit = cutoff - step;
            if end == End::Optimal && path.is_empty() && self.is_whole {
                end = self.cut(limit, is_spent);
            }
            if end == End::Optimal {
                end = self.tighten(limit);
            }
            let choice = match end {
                End::Optimal => self.choose(limit),
                End::Infeasible => Choice::Closed,
                End::Stopped => Choice::Unknown,
            };
            match choice {
                Choice::Branch(Sides { first, second }) => {
                    if path.is_empty() {
                        searched.bound = self.value() * (1.0 - 1e-9);
                        searched.kept = self.kept();
                        if self.is_whole && searched.kept.len() < self.columns.len() / 2 {
                            // Fewer columns make a quicker search.
                            searched.is_complete = false;
                            return searched;
                        }
                    }
                    path.push(Branch {
                        mark: self.trail.len(),
                        other: Some(second),
                    });
                    least = first.cost;
                    self.set_all(&first);
                    end = self.resolve_within(limit);
                    continue;
                }
                Choice::Whole => {
                    let value = self.value();
                    cutoff = value.min(cutoff - step);
                    searched.best = Some(self.chosen());
                }
                Choice::Closed => {}
                Choice::Unknown => {
                    searched.is_complete = false;
                    given_up = given_up.min(least);
                }
            }
            // Back to the last branch whose other side is still to do.
            loop {
                let Some(branch) = path.last_mut() else {
                    return searched;
                };
                let mark = branch.mark;
                let other = branch.other.take();
                self.undo(mark);
                match other {
                    None => {
                        path.pop();
                    }
                    Some(other) => {
                        least = other.cost;
                        self.set_all(&other);
                        break;
                    }
                }
            }
            end = self.resolve_within(cutoff - step);
        }
    }

    /// What is not left out.
    fn kept(&self) -> Vec<(f64, usize)> {
        let kept = self.variables.iter().enumerate();
        kept.filter(|&(_, &variable)| self.lp.bounds(variable).1 > 0.0)
            .map(|(place, &variable)| (self.lp.reduced_cost(variable), place))
            .collect()
    }

    /// Solves anew; infeasible where everything costs more than `limit`.
    pub(super) fn resolve_within(&mut self, limit: f64) -> End {
        let end = self.resolve(limit / self.unit);
        if end == End::Optimal && self.value() > limit {
            return End::Infeasible;
        }
        end
    }

    /// Narrows the bounds of a variable until [`Pool::undo`].
    pub(super) fn set(&mut self, variable: usize, bounds: Interval) {
        self.trail.push((variable, self.lp.bounds(variable)));
        self.lp.set_bounds(variable, bounds);
    }

    /// Takes back what was set since the trail was as long as `mark`.
    pub(super) fn undo(&mut self, mark: usize) {
        while self.trail.len() > mark {
            if let Some((variable, bounds)) = self.trail.pop() {
                self.lp.set_bounds(variable, bounds);
            }
        }
    }

    /// Leaves out what would cost more than `limit`, and columns that take more than what settled ones leave.
    pub(super) fn tighten(&mut self, limit: f64) -> End {
        loop {
            if self.value() > limit {
                return End::Infeasible;
            }
            self.fix_by_cost(limit);
            if !self.leave_out_too_large() {
                return End::Optimal;
            }
            let end = self.resolve_within(limit);
            if end != End::Optimal {
                return end;
            }
        }
    }

    /// Whether the point changes by leaving out columns that take more than what settled ones leave.
    pub(super) fn leave_out_too_large(&mut self) -> bool {
        // Elsewhere a strip may be given too often, and is trimmed.
        if !self.is_whole {
            return false;
        }
        let mut left: Vec<f64> = self.wanted.iter().map(|&count| f64::from(count)).collect();
        let mut is_settled = false;
        for (place, &variable) in self.variables.iter().enumerate() {
            let lower = self.lp.bounds(variable).0;
            if lower > 0.0 {
                is_settled = true;
                for &(class, count) in &self.columns[place].takes {
                    left[usize::from(class)] -= lower * f64::from(count);
                }
            }
        }
        if !is_settled {
            return false;
        }
        let mut is_changed = false;
        for place in 0..self.columns.len() {
            let variable = self.variables[place];
            let (lower, upper) = self.lp.bounds(variable);
            if upper <= lower {
                continue;
            }
            let takes = &self.columns[place].takes;
            let most = takes
                .iter()
                .map(|&(class, count)| {
                    ((left[usize::from(class)] + 0.5) / f64::from(count)).floor()
                })
                .fold(f64::INFINITY, f64::min);
            let most = lower + most.max(0.0);
            if most < upper {
                is_changed |= self.lp.value(variable) > most + WHOLE;
                self.set(variable, (lower, most));
            }
        }
        is_changed
    }

    /// At the root: adds cutting planes while they help; infeasible once nothing costs `limit` or less.
    fn cut(&mut self, limit: f64, is_spent: &dyn Fn() -> bool) -> End {
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
            let end = self.resolve_within(limit);
            if end != End::Optimal {
                return end;
            }
            self.fix_by_cost(limit);
            let gained = (self.value() - before) / (limit - before).max(1e-9);
            stalled = if gained < 0.02 { stalled + 1 } else { 0 };
            if stalled >= 3 {
                break;
            }
        }
        End::Optimal
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

    /// What would cost more than `limit` if used stays out.
    fn fix_by_cost(&mut self, limit: f64) {
        let room = (limit - self.value()) / self.unit;
        for place in 0..self.variables.len() {
            let variable = self.variables[place];
            let (lower, upper) = self.lp.bounds(variable);
            if lower < upper
                && !self.lp.is_basic(variable)
                && self.lp.value(variable) == lower
                && self.lp.reduced_cost(variable) > room + 1e-7
            {
                self.set(variable, (lower, lower));
            }
        }
    }
}
