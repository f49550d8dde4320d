//! Better answers near the best one: a few pieces are freed and cut anew.

use super::column::{Answer, Column};
use super::goal::Goal;
use super::master::Dual;
use super::pool::Pool;
use super::search::Search;
use super::threads;
use crate::calc::budget::Budget;

/// Pieces that are freed at once, at first and at most: more the longer it is in vain.
const FREED: usize = 12;
const MOST_FREED: usize = 24;
/// Neighbourhoods in vain, for each piece that is cut, after which one more is freed.
const PATIENCE: usize = 6;
/// Columns of one neighbourhood.
const NEIGHBOUR_COLUMNS: usize = 2_500;
const NEIGHBOUR_NODES: u64 = 60;

impl<'a> Search<'a> {
    fn next_random(&mut self, below: usize) -> usize {
        self.random ^= self.random << 13;
        self.random ^= self.random >> 7;
        self.random ^= self.random << 17;
        (self.random >> 11) as usize % below.max(1)
    }

    /// Frees a few pieces that share strips and cuts them anew, over and over.
    #[expect(clippy::too_many_arguments, reason = "what a stage knows")]
    pub(super) fn improve(
        &mut self,
        goal: &Goal,
        dual: &Dual,
        pool: &[(f64, Column)],
        rounds: usize,
        step: f64,
        budget: &Budget<'_>,
        report: &mut dyn FnMut(&Search<'a>),
    ) {
        let mut round = 0;
        while round < rounds && !self.is_spent(budget) {
            if self.is_met(goal, dual.bound, step) {
                return;
            }
            // Two at a time whatever the threads, so that threads do not change the answer.
            let first = self.freed(&[]);
            let second = self.freed(&first);
            round += 2;
            budget.take(2);
            let freed = [first, second];
            let share = self.share;
            let is_spent = || budget.is_spent() || budget.spent_share() >= share;
            let this = &*self;
            let found = threads::map(2, budget.threads(), |which| {
                this.neighbour(goal, pool, &freed[which], step, &is_spent)
            });
            self.statistics.neighbourhoods += 2;
            self.in_vain += 2;
            let mut base = self.answer.clone();
            let mut taken = vec![0_u32; self.part.pieces.len()];
            let mut removed: Vec<usize> = Vec::new();
            let mut added: Vec<Vec<(Column, u32)>> = Vec::new();
            for (which, (chosen, nodes)) in found.into_iter().enumerate() {
                self.statistics.nodes += nodes;
                let Some(chosen) = chosen else { continue };
                let mut left = self.answer.pieces_left(self.part);
                for &place in &freed[which] {
                    left[self.answer.uses[place].0.piece] += 1;
                }
                let clashes = chosen
                    .iter()
                    .any(|(column, count)| taken[column.piece] + count > left[column.piece]);
                if clashes {
                    continue;
                }
                for (column, count) in &chosen {
                    taken[column.piece] += count;
                }
                removed.extend(&freed[which]);
                added.push(chosen);
            }
            if added.is_empty() {
                continue;
            }
            for &place in &removed {
                base.uses[place].1 -= 1;
            }
            base.uses.retain(|(_, count)| *count > 0);
            for chosen in added {
                base = base.with(chosen);
            }
            if self.keeps_rules(&base) && self.offer(base) {
                report(self);
            }
        }
    }

    pub(super) fn keeps_rules(&self, answer: &Answer) -> bool {
        let mut used = vec![0_u32; self.part.pieces.len()];
        let mut made = vec![0_u32; self.part.strips.len()];
        for (column, count) in &answer.uses {
            used[column.piece] += count;
            for &(class, taken) in &column.takes {
                made[usize::from(class)] += taken * count;
            }
        }
        used.iter()
            .zip(&self.part.pieces)
            .all(|(used, piece)| *used <= piece.count)
            && made
                .iter()
                .zip(&self.part.strips)
                .all(|(made, strip)| *made <= strip.count)
    }

    /// Places of uses to free: one at random and those that share most strips with it.
    fn freed(&mut self, but: &[usize]) -> Vec<usize> {
        let count = self.answer.uses.len();
        if count == 0 {
            return Vec::new();
        }
        let seed = self.next_random(count);
        let mut classes = vec![0.0_f64; self.part.strips.len()];
        for &(class, taken) in &self.answer.uses[seed].0.takes {
            classes[usize::from(class)] += f64::from(taken);
        }
        let mut scored: Vec<(f64, usize)> = Vec::with_capacity(count);
        for place in 0..count {
            let noise = self.next_random(1000) as f64 / 1000.0;
            let shared: f64 = self.answer.uses[place]
                .0
                .takes
                .iter()
                .map(|&(class, taken)| classes[usize::from(class)].min(f64::from(taken)))
                .sum();
            let score = if place == seed {
                1e9
            } else {
                shared + 2.5 * noise
            };
            if !but.contains(&place) {
                scored.push((score, place));
            }
        }
        scored.sort_by(|a, b| b.0.total_cmp(&a.0));
        scored
            .into_iter()
            .take(self.width())
            .map(|(_, place)| place)
            .collect()
    }

    /// How many pieces are freed at once.
    fn width(&self) -> usize {
        let more = self.in_vain / (PATIENCE * self.answer.uses.len().max(4));
        (FREED + more).min(MOST_FREED)
    }

    /// A better way to cut the strips of the freed uses and what is missing.
    fn neighbour(
        &self,
        goal: &Goal,
        pool: &[(f64, Column)],
        freed: &[usize],
        step: f64,
        is_spent: &dyn Fn() -> bool,
    ) -> (Option<Vec<(Column, u32)>>, u64) {
        if freed.is_empty() {
            return (None, 0);
        }
        let part = self.part;
        let mut wanted = self.answer.left(part);
        let mut left = self.answer.pieces_left(part);
        let mut fixed = self.worth;
        let mut cost = goal.missing * f64::from(wanted.iter().sum::<u32>());
        for &place in freed {
            let column = &self.answer.uses[place].0;
            for &(class, count) in &column.takes {
                wanted[usize::from(class)] += count;
            }
            left[column.piece] += 1;
            fixed.spend -= part.pieces[column.piece].price;
            cost += goal.column_cost(part, column);
        }
        let mut columns: Vec<&Column> = pool
            .iter()
            .map(|(_, column)| column)
            .filter(|column| left[column.piece] > 0 && column.fits(&wanted))
            .take(NEIGHBOUR_COLUMNS)
            .collect();
        for &place in freed {
            let column = &self.answer.uses[place].0;
            let is_known = columns
                .iter()
                .any(|known| known.piece == column.piece && known.takes == column.takes);
            if !is_known {
                columns.push(column);
            }
        }
        let mut sub = Pool::new(part, *goal, columns, wanted, &left, &fixed, false);
        let searched = sub.search(
            cost,
            step,
            NEIGHBOUR_NODES * (self.width() / FREED) as u64,
            is_spent,
        );
        (searched.best, sub.nodes)
    }
}
