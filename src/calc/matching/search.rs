//! The stages of one part: bound, good answers, proof.

use super::column::{Answer, Column, Worth};
use super::diving::{self, Manner};
use super::enumerate;
use super::goal::Goal;
use super::greedy;
use super::master::Master;
use super::model::Part;
use super::neighbours::Stand;
use super::outcome::Statistics;
use super::pool::Pool;
use super::proof::{Proof, Try};
use super::shape::Shape;
use crate::calc::budget::Budget;

/// Columns that are kept to choose from.
const POOL: usize = 40_000;
/// How often a dive with new columns may turn off from what looks best, dive by dive.
const FIRST_DIVES: [(u32, bool); 3] = [(0, true), (0, false), (1, true)];
const MORE_DIVES: [(u32, bool); 4] = [(1, false), (2, true), (2, false), (3, false)];
/// Neighbourhoods searched before the exact search, for each piece that is cut.
const ROUNDS_PER_USE: usize = 6;

/// Of a step of money or strips: a better answer is better by that much, whatever the simplex rounds.
const NEARLY: f64 = 1.0 - 1e-6;
/// Of a step of wood: the rest is for pieces that are touched.
const MOSTLY: f64 = 0.999;

/// One part with the best answer and bounds so far.
pub(super) struct Search<'a> {
    pub part: &'a Part,
    pub(super) shapes: Vec<Shape>,
    pub answer: Answer,
    pub worth: Worth,
    pub bound: Worth,
    /// Strips missing and cents spent of the answers that the later goals' bounds are for, where an earlier
    /// goal is open.
    bounded_for: (u32, i64),
    pub statistics: Statistics,
    /// Share of the budget at which this part must end.
    pub share: f64,
    columns: Vec<Column>,
    pub(super) random: u64,
    pub(super) stand: Stand,
}

impl<'a> Search<'a> {
    /// With a first answer.
    pub fn new(part: &'a Part, shapes: Vec<Shape>, budget: &Budget<'_>) -> Search<'a> {
        let mut answer = Answer::default();
        greedy::complete(part, &shapes, &mut answer, budget);
        let worth = answer.worth(part);
        Search {
            part,
            shapes,
            stand: Stand::at(&answer, worth),
            answer,
            worth,
            bound: Worth {
                missing: 0,
                spend: 0,
                wood: 0.0,
                touched: 0,
            },
            bounded_for: (0, 0),
            statistics: Statistics::default(),
            share: 1.0,
            columns: Vec::new(),
            random: 0x9e37_79b9_7f4a_7c15,
        }
    }

    pub fn is_proven(&self) -> bool {
        self.bound.missing == self.worth.missing
            && self.bound.spend == self.worth.spend
            && self.bound.wood == self.worth.wood
    }

    pub(super) fn is_spent(&self, budget: &Budget<'_>) -> bool {
        budget.is_spent() || budget.spent_share() >= self.share
    }

    /// Takes an answer if it is better.
    pub(super) fn offer(&mut self, answer: Answer) -> bool {
        let worth = answer.worth(self.part);
        if worth < self.worth {
            self.stand = Stand::at(&answer, worth);
            self.answer = answer;
            self.worth = worth;
            return true;
        }
        false
    }

    /// All stages, one goal after the other.
    pub fn run(&mut self, budget: &Budget<'_>, report: &mut dyn FnMut(&Search<'a>)) {
        let part = self.part;
        let all = Goal::all(part);
        // Along a line with boards for sale everything can be covered, and money decides.
        let is_plain = self.is_line() && self.worth.missing == 0 && self.worth.spend > 0;
        let rounds = if is_plain { 0 } else { u64::MAX };
        let mut master = self.master(all, f64::INFINITY, rounds, budget);
        if !is_plain {
            self.dive(&mut master, budget);
            report(self);
        }
        if self.worth.missing > 0 && !self.is_spent(budget) {
            let goal = Goal::missing(part);
            let bound = self.stage(goal, goal.missing * NEARLY, budget, report);
            self.bound.missing = (bound / goal.missing - 1e-9).ceil().max(0.0) as u32;
        }
        if self.bound.missing < self.worth.missing {
            self.bound_later(true, budget);
            self.improve_until_spent(all, &master, budget, report);
            return;
        }
        if self.worth.spend > 0 && !self.is_spent(budget) {
            let goal = Goal::spend(part, self.worth.missing);
            let step = self.price_step();
            let bound = self.stage(goal, goal.spend * step as f64 * NEARLY, budget, report);
            let cents = (bound / goal.spend - 1e-9).ceil().max(0.0) as i64;
            self.bound.spend = ((cents + step - 1) / step * step).min(self.worth.spend);
        }
        if self.bound.spend < self.worth.spend {
            self.bound_later(false, budget);
            self.improve_until_spent(all, &master, budget, report);
            return;
        }
        if self.is_settled_by_spend() {
            self.bound.wood = self.worth.wood;
            report(self);
            return;
        }
        if self.is_spent(budget) {
            return;
        }
        let goal = Goal::wood(part, self.worth.missing, self.worth.spend);
        let bound = self.stage(goal, goal.wood * self.wood_step() * MOSTLY, budget, report);
        self.bound.wood = self.wood_bound(&goal, bound);
    }

    /// Where an earlier goal is open: bounds of the later ones for answers that are as good in the earlier.
    fn bound_later(&mut self, is_spend_open: bool, budget: &Budget<'_>) {
        let part = self.part;
        let (missing, spend) = (self.worth.missing, self.worth.spend);
        if is_spend_open && spend > 0 {
            let goal = Goal::spend(part, missing);
            if let Some(dual) = &self.master(goal, f64::INFINITY, u64::MAX, budget).dual {
                let step = self.price_step();
                let cents = (dual.bound / goal.spend - 1e-9).ceil().max(0.0) as i64;
                self.bound.spend = ((cents + step - 1) / step * step).min(spend);
            }
        }
        if self.is_settled_by_spend() {
            let boards = self.bound.spend / self.part.pieces[0].price;
            self.bound.wood = boards as f64 * self.part.pieces[0].wood;
        } else {
            let goal = Goal::wood(part, missing, spend);
            if let Some(dual) = &self.master(goal, f64::INFINITY, u64::MAX, budget).dual {
                self.bound.wood = self.wood_bound(&goal, dual.bound).max(0.0);
            }
        }
        self.bounded_for = (missing, spend);
    }

    /// Whether the bounds of the later goals are for what is reached in the earlier ones: what is better in one
    /// and no worse in the other is among those.
    pub fn is_bounded(&self) -> bool {
        self.worth.missing <= self.bounded_for.0 && self.worth.spend <= self.bounded_for.1
    }

    /// Whether spend alone says how much wood is used: one board for sale and no credit.
    fn is_settled_by_spend(&self) -> bool {
        match self.part.pieces.as_slice() {
            [board] => board.price > 0 && self.part.habits.credit.0 == 0,
            _ => false,
        }
    }

    fn master(
        &mut self,
        goal: Goal,
        enough: f64,
        most_rounds: u64,
        budget: &Budget<'_>,
    ) -> Master<'a> {
        // The shapes live as long as the search; a clone is small beside the tables.
        let mut master = Master::new(self.part, self.shapes.clone(), goal);
        master.add_answer(&self.answer);
        for column in &self.columns {
            master.add(column.clone());
        }
        master.is_proper = self.is_line();
        master.most_rounds = most_rounds;
        let share = self.share;
        master.generate(enough, budget, share);
        self.statistics.rounds += master.rounds;
        self.statistics.columns += master.columns.len() as u64;
        self.columns.clone_from(&master.columns);
        master
    }

    /// Rounds the master's solution, and completes it.
    fn dive(&mut self, master: &mut Master<'a>, budget: &Budget<'_>) {
        let columns: Vec<&Column> = master.columns.iter().collect();
        let caps: Vec<u32> = self.part.pieces.iter().map(|piece| piece.count).collect();
        let wanted: Vec<u32> = self.part.strips.iter().map(|strip| strip.count).collect();
        let nothing = Answer::default().worth(self.part);
        let mut pool = Pool::new(
            self.part,
            master.goal,
            columns,
            wanted,
            &caps,
            &nothing,
            false,
        );
        let share = self.share;
        let is_spent = || budget.is_spent() || budget.spent_share() >= share;
        if let Some(chosen) = pool.dive(&is_spent) {
            let mut answer = Answer::default().with(chosen);
            greedy::complete(self.part, &self.shapes, &mut answer, budget);
            self.offer(answer);
        }
    }

    /// One goal: its bound, in its own units.
    fn stage(
        &mut self,
        goal: Goal,
        step: f64,
        budget: &Budget<'_>,
        report: &mut dyn FnMut(&Search<'a>),
    ) -> f64 {
        let enough = goal.cost(&self.worth) - step;
        let mut master = self.master(goal, enough, u64::MAX, budget);
        let Some(dual) = master.dual.clone() else {
            return 0.0;
        };
        let mut proof = Proof::new(goal, dual, step);
        self.note(&goal, proof.bound);
        report(self);
        if self.is_met(&goal, proof.bound, step) {
            return self.met(&goal, proof.bound, step);
        }
        if !self.is_line() {
            self.dive(&mut master, budget);
            report(self);
        }
        if self.is_line() {
            self.dive_anew(&FIRST_DIVES, &proof, &master, budget, report);
            if self.is_met(&goal, proof.bound, step) {
                return self.met(&goal, proof.bound, step);
            }
            for dive in MORE_DIVES {
                if let Try::Found = self.prove(&mut proof, budget) {
                    report(self);
                    return proof.bound;
                }
                self.dive_anew(&[dive], &proof, &master, budget, report);
                if self.is_met(&goal, proof.bound, step) {
                    return self.met(&goal, proof.bound, step);
                }
            }
        }
        let rounds = ROUNDS_PER_USE * (self.worth.touched as usize).max(4);
        let mut pool = self.pool(&proof, &master, budget);
        self.improve(&goal, &proof.dual, &pool, rounds, step, budget, report);
        // Columns of the complete list from which `pool` was made.
        let mut whole = 0;
        while !self.is_met(&goal, proof.bound, step) && !self.is_spent(budget) {
            let began = budget.spent_share();
            let end = self.prove(&mut proof, budget);
            self.note(&goal, proof.bound);
            report(self);
            // Looking for better answers has as much time as the try had, or more where that came to nothing.
            let turns = match end {
                Try::Found => return proof.bound,
                Try::InVain => 3.0,
                Try::Partly | Try::Left => 1.0,
            };
            if let Some(columns) = proof.listed.as_ref().filter(|all| all.len() != whole) {
                let used = self.answer.uses.iter().map(|(column, _)| column);
                pool = columns.iter().chain(used).cloned().collect();
                whole = columns.len();
            }
            let now = budget.spent_share();
            let until = now + turns * (now - began);
            loop {
                self.improve(&goal, &proof.dual, &pool, 64, step, budget, report);
                if self.is_met(&goal, proof.bound, step)
                    || self.is_spent(budget)
                    || budget.spent_share() >= until
                {
                    break;
                }
            }
        }
        self.met(&goal, proof.bound, step)
    }

    /// Whether every piece is cut along one line.
    fn is_line(&self) -> bool {
        let widths = self.shapes.iter().flat_map(|shape| &shape.widths);
        widths.into_iter().all(|width| width.line.is_some())
    }

    /// Dives with new columns until the bound is met or the dives have had their share.
    fn dive_anew(
        &mut self,
        dives: &[(u32, bool)],
        proof: &Proof,
        master: &Master<'a>,
        budget: &Budget<'_>,
        report: &mut dyn FnMut(&Search<'a>),
    ) {
        let enough = proof.bound + proof.step;
        for &(turns, is_hasty) in dives {
            if self.is_met(&proof.goal, proof.bound, proof.step) || self.is_spent(budget) {
                return;
            }
            let better = proof.goal.cost(&self.worth) - proof.step;
            let manner = Manner {
                enough,
                most: if turns > 0 { enough } else { better },
                turns,
                is_hasty,
            };
            let answer = diving::dive(master, manner, budget, self.share);
            if let Some(mut answer) = answer {
                greedy::complete(self.part, &self.shapes, &mut answer, budget);
                if self.offer(answer) {
                    report(self);
                }
            }
        }
    }

    pub(super) fn is_met(&self, goal: &Goal, bound: f64, step: f64) -> bool {
        goal.cost(&self.worth) - bound < step
    }

    fn met(&self, goal: &Goal, bound: f64, step: f64) -> f64 {
        if self.is_met(goal, bound, step) {
            goal.cost(&self.worth)
        } else {
            bound
        }
    }

    fn note(&mut self, goal: &Goal, bound: f64) {
        if goal.wood > 0.0 && goal.limit.is_some() {
            self.bound.wood = self.wood_bound(goal, bound);
        }
    }

    /// The least wood of an answer whose cost is at least `bound`.
    fn wood_bound(&self, goal: &Goal, bound: f64) -> f64 {
        if bound >= goal.cost(&self.worth) {
            return self.worth.wood;
        }
        let touched = goal.touched * f64::from(self.part.wanted());
        let step = self.wood_step();
        let wood = (bound - touched) / goal.wood;
        let wood = if self.part.grid.is_exact {
            (wood / step).ceil() * step
        } else {
            wood
        };
        wood.min(self.worth.wood)
    }

    /// All amounts of money are multiples of this.
    fn price_step(&self) -> i64 {
        let prices = self.part.pieces.iter().map(|piece| piece.price);
        prices.fold(0, gcd).max(1)
    }

    /// All amounts of wood are multiples of this many units.
    fn wood_step(&self) -> f64 {
        if !self.part.grid.is_exact {
            return 1.0;
        }
        let woods = self.part.pieces.iter().map(|piece| piece.wood as i64);
        let keeps = self.part.groups.iter().map(|group| group.keep_value as i64);
        woods.chain(keeps).fold(0, gcd).max(1) as f64
    }

    /// Columns of small reduced cost, cheapest first.
    fn pool(&self, proof: &Proof, master: &Master<'a>, budget: &Budget<'_>) -> Vec<Column> {
        let (goal, dual) = (&proof.goal, &proof.dual);
        let gap = (goal.cost(&self.worth) - dual.bound).max(0.0);
        let mean = gap / f64::from(self.worth.touched.max(1));
        let mut columns: Vec<Column> = Vec::new();
        let mut slack = gap.min(mean.max(dual.bound / f64::from(self.worth.touched.max(1)) * 2e-3));
        for _ in 0..6 {
            if self.is_spent(budget) {
                break;
            }
            let found = enumerate::columns(
                self.part,
                &self.shapes,
                goal,
                dual,
                slack,
                400_000 / self.shapes.len() as u64 + 2_000,
                budget.threads(),
                &|| self.is_spent(budget),
            );
            let is_enough = found.columns.len() > POOL / 3 || !found.is_complete;
            columns.extend(found.columns);
            if is_enough || slack >= gap {
                break;
            }
            slack = (slack * 2.5).min(gap);
        }
        columns.extend(master.columns.iter().cloned());
        columns.extend(self.answer.uses.iter().map(|(column, _)| column.clone()));
        self.sorted(proof, columns)
    }

    /// Columns that give no strip too often, cheapest first.
    fn sorted(&self, proof: &Proof, columns: Vec<Column>) -> Vec<Column> {
        let demand: Vec<u32> = self.part.strips.iter().map(|strip| strip.count).collect();
        let mut pool: Vec<(f64, Column)> = columns
            .into_iter()
            .filter_map(|column| {
                let column = column.limited(self.part, &demand)?;
                Some((proof.reduced_cost(self.part, &column), column))
            })
            .collect();
        pool.sort_by(|a, b| {
            (a.0.total_cmp(&b.0))
                .then_with(|| (a.1.piece, &a.1.takes).cmp(&(b.1.piece, &b.1.takes)))
        });
        pool.dedup_by(|a, b| a.1.piece == b.1.piece && a.1.takes == b.1.takes);
        pool.truncate(POOL);
        pool.into_iter().map(|(_, column)| column).collect()
    }

    /// Without a proof of an earlier goal: betters the answer as long as there is time.
    fn improve_until_spent(
        &mut self,
        goal: Goal,
        master: &Master<'a>,
        budget: &Budget<'_>,
        report: &mut dyn FnMut(&Search<'a>),
    ) {
        let Some(dual) = master.dual.clone() else {
            return;
        };
        let proof = Proof::new(goal, dual, goal.wood);
        let pool = self.pool(&proof, master, budget);
        while !self.is_spent(budget) {
            let before = self.statistics.neighbourhoods;
            self.improve(&goal, &proof.dual, &pool, 64, proof.step, budget, report);
            if self.statistics.neighbourhoods == before {
                return;
            }
        }
    }
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}
