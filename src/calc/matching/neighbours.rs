//! Better answers near the best one: a few pieces are freed and cut anew.

use super::column::{Answer, Column, Worth};
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
/// Columns of one neighbourhood, at first and for each further piece that is freed.
const NEIGHBOUR_COLUMNS: usize = 500;
const MORE_COLUMNS: usize = 170;
const NEIGHBOUR_NODES: u64 = 60;
/// Neighbourhoods in vain, for each piece that is cut, after which each is searched more thoroughly.
const THOROUGH_AFTER: usize = 1;
/// Neighbourhoods in vain, for each piece that is cut, after which the search goes on from elsewhere.
const ASIDE_AFTER: usize = 10;
/// Neighbourhoods that are cut otherwise to get elsewhere.
const STEPS_ASIDE: usize = 2;
/// How much dearer a neighbourhood may be when it is cut otherwise.
const DEARER: f64 = 0.03;

/// The answer whose neighbourhoods are searched: the best one, or one a little worse.
pub(super) struct Stand {
    pub answer: Answer,
    pub worth: Worth,
    /// Neighbourhoods in vain since it became better.
    in_vain: usize,
}

impl Stand {
    pub fn at(answer: &Answer, worth: Worth) -> Stand {
        Stand {
            answer: answer.clone(),
            worth,
            in_vain: 0,
        }
    }
}

/// What a neighbourhood is searched for.
#[derive(Clone, Copy)]
enum Wanted {
    Better,
    /// Another way to cut it, without the columns in use and half of the others.
    Another {
        salt: usize,
    },
}

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
        pool: &[Column],
        rounds: usize,
        step: f64,
        budget: &Budget<'_>,
        report: &mut dyn FnMut(&Search<'a>),
    ) {
        let share = self.share;
        let is_spent = || budget.is_spent() || budget.spent_share() >= share;
        if self.stand.worth.missing > self.worth.missing
            || self.stand.worth.spend > self.worth.spend
        {
            self.stand = Stand::at(&self.answer, self.worth);
        }
        let mut round = 0;
        while round < rounds && !is_spent() {
            if self.is_met(goal, dual.bound, step) {
                return;
            }
            if self.stand.in_vain >= ASIDE_AFTER * self.stand.answer.uses.len().max(4) {
                self.step_aside(goal, pool, step, &is_spent);
            }
            // Two at a time whatever the threads, so that threads do not change the answer.
            let first = self.freed(&[]);
            let second = self.freed(&first);
            round += 2;
            budget.take(2);
            let freed = [first, second];
            let this = &*self;
            let found = threads::map(2, budget.threads(), |which| {
                this.neighbour(goal, pool, &freed[which], Wanted::Better, step, &is_spent)
            });
            self.statistics.neighbourhoods += 2;
            self.stand.in_vain += 2;
            let mut base = self.stand.answer.clone();
            let mut taken = vec![0_u32; self.part.pieces.len()];
            let mut removed: Vec<usize> = Vec::new();
            let mut added: Vec<Vec<(Column, u32)>> = Vec::new();
            for (which, (chosen, nodes)) in found.into_iter().enumerate() {
                self.statistics.nodes += nodes;
                let Some(chosen) = chosen else { continue };
                let mut left = self.stand.answer.pieces_left(self.part);
                for &place in &freed[which] {
                    left[self.stand.answer.uses[place].0.piece] += 1;
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
            let worth = base.worth(self.part);
            if worth < self.stand.worth && self.keeps_rules(&base) {
                self.stand = Stand::at(&base, worth);
                if self.offer(base) {
                    report(self);
                }
            }
        }
    }

    /// From the best answer to one near it that is hardly worse.
    fn step_aside(&mut self, goal: &Goal, pool: &[Column], step: f64, is_spent: &dyn Fn() -> bool) {
        self.stand = Stand::at(&self.answer, self.worth);
        for _ in 0..STEPS_ASIDE {
            let freed = self.freed(&[]);
            let wanted = Wanted::Another {
                salt: self.next_random(usize::MAX),
            };
            let (chosen, nodes) = self.neighbour(goal, pool, &freed, wanted, step, is_spent);
            self.statistics.nodes += nodes;
            self.statistics.neighbourhoods += 1;
            let Some(chosen) = chosen else { continue };
            let mut base = self.stand.answer.clone();
            for &place in &freed {
                base.uses[place].1 -= 1;
            }
            base.uses.retain(|(_, count)| *count > 0);
            let base = base.with(chosen);
            let worth = base.worth(self.part);
            if self.keeps_rules(&base)
                && (worth.missing, worth.spend) == (self.worth.missing, self.worth.spend)
            {
                self.stand = Stand::at(&base, worth);
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
        let count = self.stand.answer.uses.len();
        if count == 0 {
            return Vec::new();
        }
        let seed = self.next_random(count);
        let mut classes = vec![0.0_f64; self.part.strips.len()];
        for &(class, taken) in &self.stand.answer.uses[seed].0.takes {
            classes[usize::from(class)] += f64::from(taken);
        }
        let mut scored: Vec<(f64, usize)> = Vec::with_capacity(count);
        for place in 0..count {
            let noise = self.next_random(1000) as f64 / 1000.0;
            let shared: f64 = self.stand.answer.uses[place]
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
        let more = self.stand.in_vain / (PATIENCE * self.stand.answer.uses.len().max(4));
        (FREED + more).min(MOST_FREED)
    }

    /// A better or another way to cut the strips of the freed uses and what is missing.
    fn neighbour(
        &self,
        goal: &Goal,
        pool: &[Column],
        freed: &[usize],
        what: Wanted,
        step: f64,
        is_spent: &dyn Fn() -> bool,
    ) -> (Option<Vec<(Column, u32)>>, u64) {
        if freed.is_empty() {
            return (None, 0);
        }
        let part = self.part;
        let mut wanted = self.stand.answer.left(part);
        let mut left = self.stand.answer.pieces_left(part);
        let mut fixed = self.stand.worth;
        let mut cost = goal.missing * f64::from(wanted.iter().sum::<u32>());
        for &place in freed {
            let column = &self.stand.answer.uses[place].0;
            for &(class, count) in &column.takes {
                wanted[usize::from(class)] += count;
            }
            left[column.piece] += 1;
            fixed.spend -= part.pieces[column.piece].price;
            cost += goal.column_cost(part, column);
        }
        let mut columns: Vec<&Column> = pool
            .iter()
            .filter(|column| left[column.piece] > 0 && column.fits(&wanted))
            .take(NEIGHBOUR_COLUMNS + MORE_COLUMNS * (self.width() - FREED))
            .collect();
        let is_same = |a: &Column, b: &Column| a.piece == b.piece && a.takes == b.takes;
        let uses = freed.iter().map(|&place| &self.stand.answer.uses[place].0);
        match what {
            Wanted::Better => {
                for used in uses {
                    if !columns.iter().any(|known| is_same(known, used)) {
                        columns.push(used);
                    }
                }
            }
            Wanted::Another { salt } => {
                let mut place = salt;
                columns.retain(|column| {
                    place = place
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1);
                    place >> 63 == 0 && !uses.clone().any(|used| is_same(column, used))
                });
                cost += (DEARER * cost).max(2.0 * step);
            }
        }
        let mut sub = Pool::new(part, *goal, columns, wanted, &left, &fixed, false);
        sub.is_thorough = self.stand.in_vain >= THOROUGH_AFTER * self.stand.answer.uses.len();
        let searched = sub.search(
            cost,
            step,
            NEIGHBOUR_NODES * (self.width() / FREED) as u64,
            is_spent,
        );
        (searched.best, sub.nodes)
    }
}
