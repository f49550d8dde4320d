//! Tries at a proof: what a better answer could use is listed, and searched.

use super::column::{Answer, Column};
use super::enumerate;
use super::goal::Goal;
use super::master::Dual;
use super::model::Part;
use super::pool::Pool;
use super::search::Search;
use crate::calc::budget::Budget;

/// Columns up to which the exact search is tried.
const EXACT_COLUMNS: usize = 60_000;
/// Nodes of the first listing, over all groups of pieces, and how many more a further one may take.
const FIRST_LISTED: u64 = 1_000_000;
const GROWTH: u64 = 4;
/// Nodes of the first search among all columns, and of one among a part of them.
const FIRST_BRANCHED: u64 = 100;
const PARTLY_BRANCHED: u64 = 30;
/// The least share of the gap up to which columns are listed where more are too many.
const LEAST_SHARE: f64 = 0.125;
/// How far the gap must close before a listing that had too many columns is tried again.
const CLOSER: f64 = 0.8;

/// How a try ended.
pub(super) enum Try {
    /// The answer is the best one.
    Found,
    /// The bound may have risen, and more may come of the next try.
    Partly,
    InVain,
    /// It would come to nothing, and was left.
    Left,
}

/// What the tries for one goal have come to. They grow, so that one in vain costs little beside the next.
pub(super) struct Proof {
    pub goal: Goal,
    pub dual: Dual,
    /// A better answer costs at least so much less.
    pub step: f64,
    /// No answer costs less.
    pub bound: f64,
    /// Every column that a better answer could use, cheapest first after the first search among them.
    pub listed: Option<Vec<Column>>,
    most_listed: u64,
    most_branched: u64,
    /// Share of the gap up to which columns are listed next.
    share: f64,
    /// The greatest share that was listed.
    done: f64,
    /// The gap at which even the least share had too many columns.
    hopeless: f64,
}

impl Proof {
    pub fn new(goal: Goal, dual: Dual, step: f64) -> Proof {
        Proof {
            goal,
            step,
            bound: dual.bound,
            dual,
            listed: None,
            most_listed: FIRST_LISTED,
            most_branched: FIRST_BRANCHED,
            share: 1.0,
            done: 0.0,
            hopeless: f64::INFINITY,
        }
    }

    /// What a column costs beyond the prices of its strips.
    pub fn reduced_cost(&self, part: &Part, column: &Column) -> f64 {
        let rewards: f64 = column
            .takes
            .iter()
            .map(|&(class, count)| self.dual.rewards[usize::from(class)] * f64::from(count))
            .sum();
        let price = part.pieces[column.piece].price as f64;
        self.goal.column_cost(part, column) + self.dual.spend * price - rewards
            + self.dual.gains[column.piece]
    }

    /// After a listing in vain.
    fn list_less_or_longer(&mut self, has_too_many: bool, gap: f64) {
        if self.share / 2.0 > self.done && self.share > LEAST_SHARE {
            self.share /= 2.0;
        } else if has_too_many {
            self.hopeless = gap;
        } else {
            self.most_listed = self.most_listed.saturating_mul(GROWTH);
        }
    }
}

impl Search<'_> {
    /// Lists every column that a better answer could use, once, and searches among them; the answer is then
    /// proven best.
    ///
    /// Where those are too many, the columns of small reduced cost are listed: an answer that uses another costs at least
    /// that much more than the bound of the linear relaxation, and the others cost at least what the search among the
    /// listed ones says.
    pub(super) fn prove(&mut self, proof: &mut Proof, budget: &Budget<'_>) -> Try {
        let part = self.part;
        let cutoff = proof.goal.cost(&self.worth);
        let gap = cutoff - proof.step - proof.dual.bound;
        if let Some(mut columns) = proof.listed.take() {
            // Better answers since then exclude more.
            columns.retain(|column| {
                let cost = proof.goal.column_cost(part, column);
                proof.reduced_cost(part, column) <= gap + 1e-9 * cost
            });
            return self.search_whole(proof, columns, budget);
        }
        if gap > proof.hopeless * CLOSER {
            return Try::Left;
        }
        let slack = gap * proof.share;
        let found = enumerate::columns(
            part,
            &self.shapes,
            &proof.goal,
            &proof.dual,
            slack,
            proof.most_listed / self.shapes.len() as u64,
            budget.threads(),
            &|| self.is_spent(budget),
        );
        self.statistics.columns += found.columns.len() as u64;
        let has_too_many = found.columns.len() > EXACT_COLUMNS;
        if has_too_many || !found.is_complete {
            proof.list_less_or_longer(has_too_many, gap);
            return Try::InVain;
        }
        if proof.share >= 1.0 {
            return self.search_whole(proof, found.columns, budget);
        }
        let (bound, _) = self.search_among(proof, &found.columns, PARTLY_BRANCHED, budget);
        let bound = bound.min(proof.dual.bound + slack);
        proof.bound = proof.bound.max(bound.min(cutoff - proof.step));
        proof.done = proof.share;
        proof.share = (2.0 * proof.share).min(1.0);
        proof.most_listed = proof.most_listed.saturating_mul(GROWTH);
        Try::Partly
    }

    /// Searches among all columns that a better answer could use, and lists them again without those that the
    /// search excludes.
    fn search_whole(
        &mut self,
        proof: &mut Proof,
        mut columns: Vec<Column>,
        budget: &Budget<'_>,
    ) -> Try {
        let mut nodes = proof.most_branched;
        loop {
            let before = self.statistics.nodes;
            let cutoff = proof.goal.cost(&self.worth);
            let (bound, kept) = self.search_among(proof, &columns, nodes, budget);
            let Some(kept) = kept else {
                proof.bound = proof.goal.cost(&self.worth);
                return Try::Found;
            };
            proof.bound = proof.bound.max(bound.min(cutoff - proof.step));
            nodes = nodes.saturating_sub(self.statistics.nodes - before);
            let count = columns.len();
            if !kept.is_empty() {
                columns = kept.iter().map(|&place| columns[place].clone()).collect();
            }
            if nodes == 0 || columns.len() > count / 2 || self.is_spent(budget) {
                break;
            }
        }
        proof.listed = Some(columns);
        proof.most_branched = proof.most_branched.saturating_mul(GROWTH);
        Try::Partly
    }

    /// Searches among columns. What the choices that are better than the answer cost at least, and the places of the
    /// columns that these may use, cheapest first; `None` where there are no such choices any more.
    fn search_among(
        &mut self,
        proof: &Proof,
        columns: &[Column],
        nodes: u64,
        budget: &Budget<'_>,
    ) -> (f64, Option<Vec<usize>>) {
        let part = self.part;
        let caps: Vec<u32> = part.pieces.iter().map(|piece| piece.count).collect();
        let wanted: Vec<u32> = part.strips.iter().map(|strip| strip.count).collect();
        let nothing = Answer::default().worth(part);
        let all: Vec<&Column> = columns.iter().collect();
        let mut pool = Pool::new(part, proof.goal, all, wanted, &caps, &nothing, true);
        let cutoff = proof.goal.cost(&self.worth);
        let share = self.share;
        let is_spent = || budget.is_spent() || budget.spent_share() >= share;
        let searched = pool.search(cutoff, proof.step, nodes, &is_spent);
        self.statistics.nodes += pool.nodes;
        if let Some(chosen) = searched.best {
            let answer = Answer::default().with(chosen);
            if self.keeps_rules(&answer) {
                self.offer(answer);
            }
        }
        if searched.is_complete {
            return (f64::INFINITY, None);
        }
        let mut kept = searched.kept;
        kept.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let kept = kept.into_iter().map(|(_, place)| place).collect();
        (searched.bound, Some(kept))
    }
}
