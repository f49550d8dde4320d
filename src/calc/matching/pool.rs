//! A choice among given columns: the linear program, and its solution rounded.

use super::column::{Answer, Column, Worth};
use super::goal::Goal;
use super::model::Part;
use super::simplex::{End, Lp};

const MOST_PIVOTS: u64 = 20_000;
/// Pivots between two looks at the clock.
const CHUNK: u64 = 100;
pub(super) const WHOLE: f64 = 1e-6;

/// Columns, what they must give, and what there is of each piece.
pub(super) struct Pool<'a> {
    pub(super) part: &'a Part,
    pub(super) lp: Lp,
    pub(super) unit: f64,
    pub(super) columns: Vec<&'a Column>,
    pub(super) variables: Vec<usize>,
    /// Places in `columns` by place in `pieces`.
    pub(super) columns_of: Vec<Vec<usize>>,
    pub(super) pieces: Vec<(usize, u32)>,
    pub(super) rows: Vec<Option<(usize, usize)>>,
    pub(super) wanted: Vec<u32>,
    /// By class.
    row_of: Vec<Option<u32>>,
    pub(super) is_whole: bool,
    /// Variables that stand for strips that no column gives.
    pub(super) stand_ins: Vec<usize>,
    /// Bounds before they were tightened, to be undone in turn.
    pub(super) trail: Vec<(usize, (f64, f64))>,
    pub nodes: u64,
    /// Whether several candidates are looked at before each branch although the list of columns is not whole.
    pub is_thorough: bool,
}

impl<'a> Pool<'a> {
    /// `wanted` strips and `left` pieces of each class; `fixed` is the worth of what is settled
    /// outside, all its strips counted as given. Where the list of columns is whole, they are searched for choices
    /// that give no strip too many, and what only helps with more is left out.
    pub fn new(
        part: &'a Part,
        goal: Goal,
        columns: Vec<&'a Column>,
        wanted: Vec<u32>,
        left: &[u32],
        fixed: &Worth,
        is_whole: bool,
    ) -> Pool<'a> {
        let dearest = part
            .pieces
            .iter()
            .map(|piece| goal.piece_cost(piece))
            .fold(1.0, f64::max);
        let unit = if dearest > 1.0 {
            dearest
        } else {
            goal.missing.max(1.0)
        };
        let mut lp = Lp::default();
        let mut row_of = vec![None; part.strips.len()];
        for (class, &count) in wanted.iter().enumerate() {
            if count > 0 {
                row_of[class] = Some(lp.rows() as u32);
                let over = if is_whole { 0.0 } else { f64::NEG_INFINITY };
                lp.add_row(&[], f64::from(count), (over, 0.0));
            }
        }
        let may_miss = goal.limit.is_none_or(|limit| limit.missing > 0);
        let missing_cost = if goal.limit.is_none() {
            goal.missing / unit
        } else {
            0.0
        };
        let mut gaps = Vec::new();
        let mut stand_ins = Vec::new();
        let mut dear = Vec::new();
        for (class, &count) in wanted.iter().enumerate() {
            let Some(row) = row_of[class] else { continue };
            if may_miss {
                let gap = lp.add_column(missing_cost, vec![(row, 1.0)], (0.0, f64::from(count)));
                gaps.push((gap, 1.0));
                stand_ins.push((row as usize, gap));
            }
            if goal.limit.is_some() {
                let stand_in = lp.add_column(50.0, vec![(row, 1.0)], (0.0, f64::INFINITY));
                if may_miss {
                    stand_ins.pop();
                }
                stand_ins.push((row as usize, stand_in));
                dear.push(stand_in);
            }
        }
        let mut spend_row = None;
        if let Some(limit) = goal.limit {
            if may_miss {
                lp.add_row(&gaps, f64::from(limit.missing), (0.0, f64::INFINITY));
            }
            if let Some(spend) = limit.spend.filter(|spend| *spend > 0) {
                let left = (spend - fixed.spend).max(0);
                spend_row = Some(lp.rows() as u32);
                lp.add_row(&[], left as f64, (0.0, f64::INFINITY));
            }
        }
        for (row, variable) in stand_ins {
            lp.make_basic(row, variable);
        }
        lp.refactor();
        let mut place_of = vec![usize::MAX; part.pieces.len()];
        let mut pool = Pool {
            part,
            lp,
            unit,
            columns: Vec::new(),
            variables: Vec::new(),
            columns_of: Vec::new(),
            pieces: Vec::new(),
            rows: Vec::new(),
            wanted,
            row_of,
            is_whole,
            stand_ins: dear,
            trail: Vec::new(),
            nodes: 0,
            is_thorough: false,
        };
        for column in columns {
            let piece = &part.pieces[column.piece];
            let cap = goal.cap(piece).min(left[column.piece]);
            if cap == 0 {
                continue;
            }
            let mut entries: Vec<(u32, f64)> = column
                .takes
                .iter()
                .filter_map(|&(class, count)| {
                    pool.row_of[usize::from(class)].map(|row| (row, f64::from(count)))
                })
                .collect();
            if let Some(row) = spend_row
                && piece.price > 0
            {
                entries.push((row, piece.price as f64));
            }
            let cost = goal.column_cost(part, column) / unit;
            let variable = pool.lp.add_column(cost, entries, (0.0, f64::from(cap)));
            if place_of[column.piece] == usize::MAX {
                place_of[column.piece] = pool.pieces.len();
                pool.pieces.push((column.piece, cap));
                pool.columns_of.push(Vec::new());
                pool.rows.push(None);
            }
            pool.columns_of[place_of[column.piece]].push(pool.columns.len());
            pool.columns.push(column);
            pool.variables.push(variable);
        }
        pool
    }

    /// Cost of the linear program, in the goal's units.
    pub(super) fn value(&self) -> f64 {
        self.lp.objective() * self.unit
    }

    pub(super) fn add_piece_row(&mut self, place: usize) -> usize {
        let (_, cap) = self.pieces[place];
        let columns = &self.columns_of[place];
        let entries: Vec<(usize, f64)> = columns
            .iter()
            .map(|&column| (self.variables[column], 1.0))
            .collect();
        let row = self.lp.rows();
        let logical = self
            .lp
            .add_row(&entries, f64::from(cap), (0.0, f64::from(cap)));
        self.rows[place] = Some((row, logical));
        logical
    }

    pub(super) fn used(&self, place: usize) -> f64 {
        let columns = self.columns_of[place].iter();
        columns
            .map(|&column| self.lp.value(self.variables[column]))
            .sum()
    }

    /// Solves by the dual method, with a row for each piece that is overdrawn.
    pub(super) fn resolve(&mut self, cutoff: f64) -> End {
        loop {
            let end = self.lp.dual(MOST_PIVOTS, cutoff);
            if end != End::Optimal {
                return end;
            }
            if !self.add_overdrawn() {
                return End::Optimal;
            }
        }
    }

    fn add_overdrawn(&mut self) -> bool {
        let mut was_overdrawn = false;
        for place in 0..self.pieces.len() {
            if self.rows[place].is_none()
                && self.columns_of[place].len() > 1
                && self.used(place) > f64::from(self.pieces[place].1) + WHOLE
            {
                self.add_piece_row(place);
                was_overdrawn = true;
            }
        }
        was_overdrawn
    }

    pub(super) fn begin(&mut self, cutoff: f64, is_spent: &dyn Fn() -> bool) -> End {
        for _ in 0..MOST_PIVOTS / CHUNK {
            let end = self.lp.primal(CHUNK);
            if end == End::Optimal {
                return if self.add_overdrawn() {
                    self.resolve(cutoff)
                } else {
                    end
                };
            }
            if is_spent() {
                break;
            }
        }
        End::Stopped
    }

    /// Rounds the linear program's solution up, column by column.
    pub fn dive(&mut self, is_spent: &dyn Fn() -> bool) -> Option<Vec<(Column, u32)>> {
        if self.begin(f64::INFINITY, is_spent) != End::Optimal {
            return None;
        }
        loop {
            let mut best: Option<(f64, usize)> = None;
            for (place, &variable) in self.variables.iter().enumerate() {
                let value = self.lp.value(variable);
                let part = value - (value + WHOLE).floor();
                if part <= WHOLE {
                    // What is whole stays.
                    if value > 0.5 && self.lp.bounds(variable).0 < value.round() {
                        let upper = self.lp.bounds(variable).1;
                        self.lp.set_bounds(variable, (value.round(), upper));
                    }
                } else if best.is_none_or(|(most, _)| part > most) {
                    best = Some((part, place));
                }
            }
            let Some((_, place)) = best else {
                return Some(self.chosen());
            };
            if is_spent() {
                return Some(self.chosen());
            }
            let variable = self.variables[place];
            let (lower, upper) = self.lp.bounds(variable);
            let up = (self.lp.value(variable)).ceil().min(upper).max(lower);
            self.lp.set_bounds(variable, (up, upper));
            if self.resolve(f64::INFINITY) != End::Optimal {
                // The other way: without this column beyond what is settled.
                self.lp.set_bounds(variable, (lower, lower));
                if self.resolve(f64::INFINITY) != End::Optimal {
                    return Some(self.chosen());
                }
            }
        }
    }

    /// Columns with whole counts, no strip twice.
    pub(super) fn chosen(&self) -> Vec<(Column, u32)> {
        let mut wanted = self.wanted.clone();
        let mut used = vec![0_u32; self.part.pieces.len()];
        let cap_of: Vec<(usize, u32)> = self.pieces.clone();
        let mut caps = vec![0_u32; self.part.pieces.len()];
        for (piece, cap) in cap_of {
            caps[piece] = cap;
        }
        let mut chosen: Vec<(Column, u32)> = Vec::new();
        let mut order: Vec<usize> = (0..self.columns.len())
            .filter(|&place| self.lp.value(self.variables[place]) > 0.5)
            .collect();
        // Exact fits first, so that what is trimmed is what is too much.
        order.sort_by_key(|&place| std::cmp::Reverse(self.columns[place].strips()));
        for place in order {
            let column = self.columns[place];
            for _ in 0..(self.lp.value(self.variables[place]) + 0.5).floor() as u32 {
                if used[column.piece] >= caps[column.piece] {
                    break;
                }
                let Some(column) = column.limited(self.part, &wanted) else {
                    break;
                };
                for &(class, count) in &column.takes {
                    wanted[usize::from(class)] -= count;
                }
                used[column.piece] += 1;
                match chosen
                    .iter_mut()
                    .find(|(known, _)| known.piece == column.piece && known.takes == column.takes)
                {
                    Some((_, count)) => *count += 1,
                    None => chosen.push((column, 1)),
                }
            }
        }
        chosen
    }
}

impl Answer {
    /// The answer with `chosen` added.
    pub fn with(mut self, chosen: Vec<(Column, u32)>) -> Answer {
        for (column, count) in chosen {
            let same = self
                .uses
                .iter_mut()
                .find(|(known, _)| known.piece == column.piece && known.takes == column.takes);
            match same {
                Some((known, known_count)) => {
                    // Equal strips from equal pieces: the better layout for all of them.
                    if column.wood < known.wood {
                        *known = column;
                    }
                    *known_count += count;
                }
                None => self.uses.push((column, count)),
            }
        }
        self
    }
}
