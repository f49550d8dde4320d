//! The sum of weighted lateness as a variable: at least what the earliest ends cost, and no end so
//! late that the sum would pass its upper bound.

use super::cumulative::Conflict;
use super::trail::{Crossed, Fact, Trail};

/// What the end of one task costs.
#[derive(Clone, Debug)]
pub struct Cost {
    pub variable: usize,
    pub minutes: i64,
    /// Minute and weight.
    pub due: Vec<(i64, i64)>,
}

impl Cost {
    /// The cost of a start.
    pub fn of(&self, start: i64) -> i64 {
        let end = start + self.minutes;
        self.due
            .iter()
            .map(|&(by, weight)| weight * (end - by).max(0))
            .sum()
    }

    /// The last start in `from..=to` that costs at most `most`, where `from` does.
    fn latest_within(&self, most: i64, from: i64, to: i64) -> i64 {
        let (mut low, mut high) = (from, to);
        while low < high {
            let middle = high - (high - low) / 2;
            if self.of(middle) <= most {
                low = middle;
            } else {
                high = middle - 1;
            }
        }
        low
    }

    /// The least start up to `to` that costs at least `least`, which is above zero, where `to` does.
    fn earliest_costing(&self, least: i64, to: i64) -> i64 {
        let free = self
            .due
            .iter()
            .map(|&(by, _)| by - self.minutes)
            .min()
            .unwrap_or(to);
        self.latest_within(least - 1, free.min(to), to) + 1
    }
}

#[derive(Clone, Debug)]
pub struct Tardiness {
    pub total: usize,
    pub costs: Vec<Cost>,
}

impl Tardiness {
    pub fn propagate(&self, trail: &mut Trail) -> Result<(), Conflict> {
        let sum: i64 = self
            .costs
            .iter()
            .map(|cost| cost.of(trail.lower(cost.variable)))
            .sum();
        if sum > trail.lower(self.total) {
            let mut reason = Vec::new();
            self.explain(trail, None, 0, &mut reason);
            self.raise(trail, Fact::at_least(self.total, sum), reason)?;
        }
        let most = trail.upper(self.total);
        for (index, cost) in self.costs.iter().enumerate() {
            let (first, last) = (trail.lower(cost.variable), trail.upper(cost.variable));
            let allowed = most - (sum - cost.of(first));
            if cost.of(last) > allowed {
                let latest = cost.latest_within(allowed, first, last);
                let mut reason = vec![Fact::at_most(self.total, most)];
                // The start after the latest one must cost too much with what explains the others.
                let slack = cost.of(latest + 1) - allowed - 1;
                self.explain(trail, Some(index), slack, &mut reason);
                self.raise(trail, Fact::at_most(cost.variable, latest), reason)?;
            }
        }
        Ok(())
    }

    fn raise(&self, trail: &mut Trail, fact: Fact, mut reason: Vec<Fact>) -> Result<(), Conflict> {
        let stored = trail.store(&reason);
        trail.raise(fact, stored).map(|_| ()).map_err(|Crossed| {
            reason.push(fact.not());
            reason
        })
    }

    /// Lower bounds that together cost what they cost now, less at most `slack`.
    fn explain(
        &self,
        trail: &Trail,
        without: Option<usize>,
        mut slack: i64,
        reason: &mut Vec<Fact>,
    ) {
        for (index, cost) in self.costs.iter().enumerate() {
            if Some(index) == without {
                continue;
            }
            let first = trail.lower(cost.variable);
            let value = cost.of(first);
            if value <= slack {
                slack -= value;
                continue;
            }
            let least = cost.earliest_costing(value - slack, first);
            let fact = Fact::at_least(cost.variable, least);
            slack -= value - cost.of(least);
            if !trail.is_root(fact) {
                reason.push(fact);
            }
        }
    }
}
