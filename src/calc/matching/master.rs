//! Column generation: the linear relaxation over all layouts of all pieces, and its bound.

use std::collections::BTreeMap;

use super::column::{Answer, Column};
use super::goal::Goal;
use super::model::Part;
use super::price::{Prices, Tables};
use super::shape::Shape;
use super::simplex::{End, Lp};
use crate::calc::budget::Budget;

const MOST_PIVOTS: u64 = 50_000;
/// Pivots between two looks at the clock.
const CHUNK: u64 = 200;
/// New columns in one round, about.
const ROUND_COLUMNS: usize = 240;

/// Prices of the linear relaxation with the bound that they prove.
#[derive(Clone, Debug)]
pub(super) struct Dual {
    /// For a strip of each class, in the goal's units; whole numbers.
    pub rewards: Vec<f64>,
    /// For a strip more that may be missing, and a cent more that may be spent.
    pub missing: f64,
    pub spend: f64,
    /// What each piece's best layout gains beyond its cost; not negative.
    pub gains: Vec<f64>,
    /// No answer within the goal's limits costs less.
    pub bound: f64,
}

#[derive(Clone)]
pub(super) struct Master<'a> {
    part: &'a Part,
    shapes: Vec<Shape>,
    pub goal: Goal,
    lp: Lp,
    /// Cost in the goal's units that is 1 in the linear program.
    unit: f64,
    pub columns: Vec<Column>,
    variables: Vec<usize>,
    /// Strips of each class that are not settled.
    left: Vec<u32>,
    known: BTreeMap<(usize, Vec<(u16, u32)>), usize>,
    columns_of: Vec<Vec<usize>>,
    piece_rows: Vec<Option<usize>>,
    missing_row: Option<usize>,
    spend_row: Option<usize>,
    pub dual: Option<Dual>,
    pub rounds: u64,
    pub most_rounds: u64,
    /// Whether columns must keep within the wanted counts, where pricing can see to that.
    pub is_proper: bool,
}

impl<'a> Master<'a> {
    pub fn new(part: &'a Part, shapes: Vec<Shape>, goal: Goal) -> Master<'a> {
        let costs = part.pieces.iter().map(|piece| goal.piece_cost(piece));
        let dearest = costs.fold(1.0, f64::max);
        let unit = if dearest > 1.0 {
            dearest
        } else {
            goal.missing.max(1.0)
        };
        let mut master = Master {
            part,
            shapes,
            goal,
            lp: Lp::default(),
            unit,
            columns: Vec::new(),
            variables: Vec::new(),
            left: part.strips.iter().map(|strip| strip.count).collect(),
            known: BTreeMap::new(),
            columns_of: vec![Vec::new(); part.pieces.len()],
            piece_rows: vec![None; part.pieces.len()],
            missing_row: None,
            spend_row: None,
            dual: None,
            rounds: 0,
            most_rounds: u64::MAX,
            is_proper: false,
        };
        master.begin();
        master
    }

    fn begin(&mut self) {
        for strip in &self.part.strips {
            self.lp
                .add_row(&[], f64::from(strip.count), (f64::NEG_INFINITY, 0.0));
        }
        let limit = self.goal.limit;
        let missing = match limit {
            None => self.goal.missing / self.unit,
            Some(_) => 0.0,
        };
        let may_miss = limit.is_none_or(|limit| limit.missing > 0);
        let mut gaps = Vec::new();
        for (row, strip) in self.part.strips.iter().enumerate() {
            let count = f64::from(strip.count);
            if may_miss {
                let gap = self
                    .lp
                    .add_column(missing, vec![(row as u32, 1.0)], (0.0, count));
                gaps.push((gap, 1.0));
            }
            if limit.is_some() {
                // Stands for strips that no column gives yet; dearer than any layout.
                self.lp
                    .add_column(20.0, vec![(row as u32, 1.0)], (0.0, f64::INFINITY));
            }
        }
        if let Some(limit) = limit {
            if may_miss {
                let right = f64::from(limit.missing);
                self.lp.add_row(&gaps, right, (0.0, f64::INFINITY));
                self.missing_row = Some(self.lp.rows() - 1);
            }
            if let Some(spend) = limit.spend.filter(|spend| *spend > 0) {
                self.lp.add_row(&[], spend as f64, (0.0, f64::INFINITY));
                self.spend_row = Some(self.lp.rows() - 1);
            }
        }
        // Feasible from the start: every row is met by its stand-in. The variables are the rows'
        // own, then one or two for each strip.
        let strips = self.part.strips.len();
        let step = if may_miss && limit.is_some() { 2 } else { 1 };
        for row in 0..strips {
            let stand_in = strips + row * step + (step - 1);
            self.lp.make_basic(row, stand_in);
        }
        self.lp.refactor();
    }

    /// Adds a column unless one with the same strips from the same piece is no dearer.
    pub fn add(&mut self, column: Column) -> bool {
        let cap = self.goal.cap(&self.part.pieces[column.piece]);
        if cap == 0 {
            return false;
        }
        let key = (column.piece, column.takes.clone());
        if let Some(&index) = self.known.get(&key) {
            if self.columns[index].wood <= column.wood {
                return false;
            }
            // The better layout takes the place of the dearer one.
            let cost = self.goal.column_cost(self.part, &column) / self.unit;
            self.lp.set_cost(self.variables[index], cost);
            self.columns[index] = column;
            return true;
        }
        let mut entries: Vec<(u32, f64)> = column
            .takes
            .iter()
            .map(|&(class, count)| (u32::from(class), f64::from(count)))
            .collect();
        if let Some(row) = self.piece_rows[column.piece] {
            entries.push((row as u32, 1.0));
        }
        let price = self.part.pieces[column.piece].price;
        if let Some(row) = self.spend_row
            && price > 0
        {
            entries.push((row as u32, price as f64));
        }
        let cost = self.goal.column_cost(self.part, &column) / self.unit;
        let variable = self.lp.add_column(cost, entries, (0.0, f64::from(cap)));
        let index = self.columns.len();
        self.columns_of[column.piece].push(index);
        self.known.insert(key, index);
        self.variables.push(variable);
        self.columns.push(column);
        true
    }

    pub fn add_answer(&mut self, answer: &Answer) {
        for (column, _) in &answer.uses {
            self.add(column.clone());
        }
    }

    /// Solves the linear program over the columns so far.
    fn solve(&mut self, is_spent: &dyn Fn() -> bool) -> bool {
        let mut end = End::Stopped;
        for _ in 0..MOST_PIVOTS / CHUNK {
            end = self.lp.primal(CHUNK);
            if end == End::Optimal || is_spent() {
                break;
            }
        }
        if end != End::Optimal {
            return false;
        }
        loop {
            let mut is_met = true;
            for piece in 0..self.part.pieces.len() {
                if self.piece_rows[piece].is_some() || self.columns_of[piece].len() < 2 {
                    continue;
                }
                let columns = &self.columns_of[piece];
                let used: f64 = columns
                    .iter()
                    .map(|&column| self.lp.value(self.variables[column]))
                    .sum();
                let cap = f64::from(self.goal.cap(&self.part.pieces[piece]));
                if used > cap + 1e-6 {
                    let entries: Vec<(usize, f64)> = columns
                        .iter()
                        .map(|&column| (self.variables[column], 1.0))
                        .collect();
                    self.piece_rows[piece] = Some(self.lp.rows());
                    self.lp.add_row(&entries, cap, (0.0, f64::INFINITY));
                    is_met = false;
                }
            }
            if is_met {
                return true;
            }
            if self.lp.dual(MOST_PIVOTS, f64::INFINITY) != End::Optimal {
                return false;
            }
            if self.lp.primal(MOST_PIVOTS) != End::Optimal {
                return false;
            }
        }
    }

    /// The value of the linear program, in the goal's units.
    pub fn value(&self) -> f64 {
        self.lp.objective() * self.unit
    }

    /// Weight of each column in the linear program's solution.
    pub fn weights(&self) -> Vec<f64> {
        self.variables
            .iter()
            .map(|&variable| self.lp.value(variable))
            .collect()
    }

    /// How many of a column are settled.
    pub fn settled(&self, place: usize) -> f64 {
        self.lp.bounds(self.variables[place]).0
    }

    /// Settles `count` of a column, or fewer where strips or pieces run out; columns that take more than is
    /// left go out. Returns how many.
    pub fn settle(&mut self, place: usize, count: u32) -> u32 {
        let variable = self.variables[place];
        let (lower, upper) = self.lp.bounds(variable);
        let column = &self.columns[place];
        let most = column
            .takes
            .iter()
            .map(|&(class, taken)| self.left[usize::from(class)] / taken);
        let count = most.min().unwrap_or(0).min(count);
        let count = count.min((upper - lower) as u32);
        for &(class, taken) in &column.takes {
            self.left[usize::from(class)] -= taken * count;
        }
        self.lp
            .set_bounds(variable, (lower + f64::from(count), upper));
        for (column, &variable) in self.columns.iter().zip(&self.variables) {
            let (lower, upper) = self.lp.bounds(variable);
            if lower < upper && !column.fits(&self.left) {
                self.lp.set_bounds(variable, (lower, lower));
            }
        }
        count
    }

    /// After some columns are settled: prices what is left until nothing improves or the value is at most
    /// `enough`. The value of the linear program, in the goal's units; `None` where it has no solution or time
    /// is over.
    pub fn generate_rest(
        &mut self,
        enough: f64,
        threads: usize,
        is_spent: &(dyn Fn() -> bool + Sync),
    ) -> Option<f64> {
        if self.lp.dual(MOST_PIVOTS, f64::INFINITY) != End::Optimal {
            return None;
        }
        loop {
            if !self.solve(is_spent) {
                return None;
            }
            if self.value() <= enough {
                return Some(self.value());
            }
            let (rewards, missing, spend) = self.prices_of_rows();
            let prices = rewards.iter().map(|reward| reward.round()).collect();
            let prices = (prices, missing.round(), spend.round());
            let (_, columns) = self.price(prices, threads, is_spent)?;
            let added = self.take(columns, &rewards, spend);
            if added == 0 || is_spent() {
                return Some(self.value());
            }
        }
    }

    /// What a further piece of each class would be worth to the linear program.
    fn rents(&self) -> Vec<f64> {
        let mut rents = vec![0.0; self.part.pieces.len()];
        for (index, column) in self.columns.iter().enumerate() {
            let variable = self.variables[index];
            let (lower, upper) = self.lp.bounds(variable);
            let is_full = lower < upper && self.lp.value(variable) == upper;
            if !self.lp.is_basic(variable) && is_full {
                let rent = -self.lp.reduced_cost(variable) * self.unit;
                rents[column.piece] = rent.max(rents[column.piece]);
            }
        }
        for (rent, row) in rents.iter_mut().zip(&self.piece_rows) {
            if let Some(row) = row {
                *rent += (-self.lp.prices()[*row] * self.unit).max(0.0);
            }
        }
        rents
    }

    fn prices_of_rows(&self) -> (Vec<f64>, f64, f64) {
        let prices = self.lp.prices();
        let rewards = prices[..self.part.strips.len()]
            .iter()
            .map(|price| (price * self.unit).max(0.0))
            .collect();
        let of = |row: Option<usize>| row.map_or(0.0, |row| (-prices[row] * self.unit).max(0.0));
        (rewards, of(self.missing_row), of(self.spend_row))
    }

    /// Adds columns until none improves, the bound is at least `enough`, or the budget is spent.
    pub fn generate(&mut self, enough: f64, budget: &Budget<'_>, share: f64) {
        let mut smoothing: f64 = 0.6;
        let is_spent = || budget.is_spent() || budget.spent_share() >= share;
        while !is_spent() && self.rounds < self.most_rounds {
            budget.take(1);
            self.rounds += 1;
            if !self.solve(&is_spent) {
                break;
            }
            let (rewards, missing, spend) = self.prices_of_rows();
            let value = self.value();
            let mut is_exact = true;
            let mixed = match &self.dual {
                Some(dual) if smoothing > 0.0 => {
                    is_exact = false;
                    let mix =
                        |best: f64, now: f64| (smoothing * best + (1.0 - smoothing) * now).round();
                    let rewards = dual.rewards.iter().zip(&rewards);
                    (
                        rewards.map(|(&best, &now)| mix(best, now)).collect(),
                        mix(dual.missing, missing),
                        mix(dual.spend, spend),
                    )
                }
                _ => (
                    rewards.iter().map(|reward| reward.round()).collect(),
                    missing.round(),
                    spend.round(),
                ),
            };
            let Some((dual, columns)) = self.price(mixed, budget.threads(), &is_spent) else {
                break;
            };
            let added = self.take(columns, &rewards, spend);
            let improves = self
                .dual
                .as_ref()
                .is_none_or(|best| dual.bound > best.bound);
            if improves {
                self.dual = Some(dual);
            }
            let bound = self
                .dual
                .as_ref()
                .map_or(f64::NEG_INFINITY, |dual| dual.bound);
            if bound >= enough || value - bound <= value.abs() * 1e-7 {
                break;
            }
            if added == 0 {
                if is_exact {
                    break;
                }
                smoothing = if smoothing > 0.2 {
                    smoothing / 2.0
                } else {
                    0.0
                };
            } else if value - bound <= value.abs() * 1e-3 {
                smoothing = smoothing.min(0.3);
            }
        }
    }

    /// Adds columns, and says how many of them help under the prices given: one found under mixed prices may
    /// not help under the true ones.
    fn take(&mut self, columns: Vec<Column>, rewards: &[f64], spend: f64) -> usize {
        let mut added = 0;
        for column in columns {
            let gain: f64 = column
                .takes
                .iter()
                .map(|&(class, count)| rewards[usize::from(class)] * f64::from(count))
                .sum();
            let price = self.part.pieces[column.piece].price as f64;
            let cost = self.goal.column_cost(self.part, &column) + spend * price;
            let may_be = !self.is_proper || column.fits(&self.left);
            let helps = gain > cost * (1.0 + 1e-9) && may_be;
            if self.add(column) && helps {
                added += 1;
            }
        }
        added
    }

    /// Prices every piece: the bound that the prices prove, and the best columns. `None` where time is over.
    fn price(
        &self,
        (rewards, missing, spend): (Vec<f64>, f64, f64),
        threads: usize,
        is_spent: &(dyn Fn() -> bool + Sync),
    ) -> Option<(Dual, Vec<Column>)> {
        let part = self.part;
        let prices = Prices {
            rewards,
            keep: self.goal.wood,
            limits: self.is_proper.then(|| self.left.clone()),
        };
        let groups = self.shapes.len();
        let per_group = (ROUND_COLUMNS / groups).max(6);
        let mut gains = vec![0.0; part.pieces.len()];
        let mut columns = Vec::new();
        let rents = self.rents();
        let work = |group: usize| {
            let mut tables = Tables::new(part, group, &self.shapes[group], &prices);
            let mut found = Vec::new();
            for (index, piece) in part.pieces.iter().enumerate() {
                if piece.group != group || self.goal.cap(piece) == 0 {
                    continue;
                }
                if is_spent() {
                    return None;
                }
                let cost = self.goal.piece_cost(piece) + spend * piece.price as f64;
                let gain = tables.value(piece) - cost;
                if gain > 0.0 {
                    found.push((gain, cost, index));
                }
            }
            let all: Vec<(usize, f64)> = found
                .iter()
                .map(|&(gain, _, index)| (index, gain))
                .collect();
            for (gain, _, index) in &mut found {
                *gain -= rents[*index];
            }
            found.retain(|&(gain, cost, _)| gain > cost.max(self.unit * 1e-3) * 1e-7);
            found.sort_by(|a, b| (b.0 / b.1.max(1.0)).total_cmp(&(a.0 / a.1.max(1.0))));
            found.truncate(per_group);
            let mut columns: Vec<Column> = Vec::new();
            for (_, cost, index) in found {
                let piece = &part.pieces[index];
                let mut plans = tables.leading_plans(piece, 0.97 * cost);
                if plans.is_empty() {
                    plans = tables.line_plans(piece, 0.97 * cost);
                }
                if plans.is_empty() {
                    plans.push(tables.plan(piece));
                    plans.extend(tables.spanning_plan(piece));
                }
                let plans = plans.into_iter();
                columns.extend(plans.filter_map(|plan| Column::fitting(part, index, plan)));
            }
            Some((all, columns))
        };
        for priced in super::threads::map(groups, threads, work) {
            let (all, found) = priced?;
            for (index, gain) in all {
                gains[index] = gain;
            }
            columns.extend(found);
        }
        let bound = self.bound(&prices.rewards, missing, spend, &gains);
        let dual = Dual {
            rewards: prices.rewards,
            missing,
            spend,
            gains,
            bound,
        };
        Some((dual, columns))
    }

    /// What the prices prove, by weak duality: every sum here is of whole numbers.
    fn bound(&self, rewards: &[f64], missing: f64, spend: f64, gains: &[f64]) -> f64 {
        let part = self.part;
        let mut bound = 0.0;
        for (strip, reward) in part.strips.iter().zip(rewards) {
            let count = f64::from(strip.count);
            bound += reward * count;
            match self.goal.limit {
                None => bound += count * (self.goal.missing - reward).min(0.0),
                Some(limit) if limit.missing > 0 => bound += count * (missing - reward).min(0.0),
                Some(_) => {}
            }
        }
        if let Some(limit) = self.goal.limit {
            bound -= missing * f64::from(limit.missing);
            bound -= spend * limit.spend.unwrap_or(0) as f64;
        }
        let mut pieces = 0.0;
        let mut shrink: f64 = 1.0;
        let mut stock = 0.0;
        for (piece, gain) in part.pieces.iter().zip(gains) {
            let cap = f64::from(self.goal.cap(piece));
            pieces += gain * cap;
            if piece.is_bought && self.goal.piece_cost(piece) > 0.0 {
                let cost = self.goal.piece_cost(piece);
                shrink = shrink.min(cost / (cost + gain));
            } else {
                stock += gain * cap;
            }
        }
        let plain = bound - pieces;
        // Where only money counts all values shrink with the prices, until no board gains.
        let shrunk = if self.goal.wood == 0.0 && self.goal.spend > 0.0 {
            ((bound - stock) * shrink * (1.0 - 1e-12)).floor()
        } else {
            f64::NEG_INFINITY
        };
        let inexact = if part.grid.is_exact {
            0.0
        } else {
            1e-12 * bound.abs() + gains.len() as f64
        };
        plain.max(shrunk) - inexact
    }
}
