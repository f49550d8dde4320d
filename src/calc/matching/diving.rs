//! Rounding with new columns: settle part of the relaxation's solution, price the rest anew, and
//! go back to an earlier choice where that leads nowhere.

use super::column::{Answer, Column};
use super::master::Master;
use crate::calc::budget::Budget;

/// Choices from which a dive may turn off, from its beginning.
const DEPTH: u32 = 12;
/// Weight from which a hasty dive takes a column as whole.
const HEAVY: f64 = 0.7;
const WHOLE: f64 = 1e-6;

/// A dive on its way.
#[derive(Clone)]
struct State<'a> {
    master: Master<'a>,
    settled: Vec<(Column, u32)>,
    /// Columns that are not to be settled.
    tabu: Vec<usize>,
    depth: u32,
    /// How often it may still turn off.
    turns: u32,
}

/// How a dive goes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Manner {
    /// The cost that is as good as the bound.
    pub enough: f64,
    /// The most that an answer may cost to be of use.
    pub most: f64,
    /// How often a dive may turn off from what looks best.
    pub turns: u32,
    /// Settles all that is nearly whole, and prices no more than it must.
    pub is_hasty: bool,
}

/// An answer from the columns of a solved master and from what pricing adds to them.
pub(super) fn dive(
    master: &Master<'_>,
    manner: Manner,
    budget: &Budget<'_>,
    share: f64,
) -> Option<Answer> {
    let is_spent = || budget.is_spent() || budget.spent_share() >= share;
    let mut open = vec![State {
        master: master.clone(),
        settled: Vec::new(),
        tabu: Vec::new(),
        depth: 0,
        turns: manner.turns,
    }];
    let (heavy, enough) = if manner.is_hasty {
        (HEAVY, manner.enough)
    } else {
        (1.0, f64::NEG_INFINITY)
    };
    while let Some(mut state) = open.pop() {
        loop {
            if is_spent() {
                return None;
            }
            budget.take(1);
            let value = state
                .master
                .generate_rest(enough, budget.threads(), &is_spent);
            if value.is_none_or(|value| value > manner.most) {
                break;
            }
            let before = state.settled.len();
            let Some(heaviest) = state.settle_whole(heavy) else {
                return Some(Answer::default().with(state.settled));
            };
            let was_settled = state.settled.len() > before;
            let is_settled = heaviest.is_some_and(|place| state.choose(place, &mut open));
            if !was_settled && !is_settled {
                break;
            }
        }
    }
    None
}

impl<'a> State<'a> {
    /// Settles what is whole; then the place of the heaviest column that is not, or `None` where all are.
    fn settle_whole(&mut self, heavy: f64) -> Option<Option<usize>> {
        let weights = self.master.weights();
        let mut is_whole = true;
        let mut heaviest: Option<(f64, usize)> = None;
        for (place, &weight) in weights.iter().enumerate() {
            let over = weight - self.master.settled(place);
            if over <= WHOLE {
                continue;
            }
            let whole = (over + WHOLE).floor();
            let rest = over - whole;
            is_whole &= rest <= WHOLE;
            let taken = if rest > heavy { whole + 1.0 } else { whole };
            if taken >= 1.0 {
                self.settle(place, taken as u32);
            }
            let is_open = rest > WHOLE && rest <= heavy && !self.tabu.contains(&place);
            if is_open && heaviest.is_none_or(|(most, _)| rest > most + 1e-9) {
                heaviest = Some((rest, place));
            }
        }
        if is_whole {
            return None;
        }
        Some(heaviest.map(|(_, place)| place))
    }

    /// Settles one more of the heaviest column, and keeps the other way open.
    fn choose(&mut self, place: usize, open: &mut Vec<State<'a>>) -> bool {
        if self.turns > 0 && self.depth < DEPTH {
            let mut other = self.clone();
            other.tabu.push(place);
            other.turns -= 1;
            other.depth += 1;
            open.push(other);
        }
        self.depth += 1;
        self.settle(place, 1)
    }

    fn settle(&mut self, place: usize, count: u32) -> bool {
        let most = self.master.settle(place, count);
        if most > 0 {
            let column = self.master.columns[place].clone();
            self.settled.push((column, most));
        }
        most > 0
    }
}
