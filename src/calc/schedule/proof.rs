//! The exact search as a sequence of short runs: first for less tardiness than the best schedule
//! has, then, with the tardiness proven, for an earlier finish.

use super::exact::{Choice, Ended, Fact, Model};
use super::heads::Heads;
use super::incumbent::{Incumbent, cost_of};
use super::problem::Problem;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    Open,
    Proven,
    /// There is no schedule.
    Impossible,
}

pub(super) struct Proof<'a> {
    problem: &'a Problem,
    model: Model,
    runs: u64,
    /// The tardiness above which everything is excluded for good.
    settled: Option<i64>,
}

/// Conflicts of the shortest run.
const SHORTEST_RUN: u64 = 100;

impl<'a> Proof<'a> {
    pub fn new(problem: &'a Problem, heads: &Heads) -> Proof<'a> {
        let mut model = Model::new(problem, heads);
        model.engine.propagate_root();
        Proof {
            problem,
            model,
            runs: 0,
            settled: None,
        }
    }

    pub fn conflicts(&self) -> u64 {
        self.model.engine.conflicts
    }

    /// One run between two restarts.
    pub fn advance(&mut self, incumbent: &mut Incumbent) -> Standing {
        if self.model.engine.impossible && self.settled.is_none() {
            return Standing::Impossible;
        }
        if incumbent.is_proven() {
            return Standing::Proven;
        }
        self.model.engine.back_to(0);
        let root = &self.model.engine.trail;
        incumbent.least_tardiness = incumbent
            .least_tardiness
            .max(root.lower(self.model.tardiness));
        let found = incumbent.is_found();
        let assumption = if !found {
            None
        } else if incumbent.is_tardiness_proven() {
            self.settle(incumbent.cost.tardiness);
            incumbent.least_finish = incumbent
                .least_finish
                .max(self.model.engine.trail.lower(self.model.finish));
            if incumbent.is_proven() {
                return Standing::Proven;
            }
            Some(Fact::at_most(self.model.finish, incumbent.cost.finish - 1))
        } else {
            Some(Fact::at_most(
                self.model.tardiness,
                incumbent.cost.tardiness - 1,
            ))
        };
        if found {
            self.model.engine.phase[..incumbent.starts.len()].copy_from_slice(&incumbent.starts);
        }
        self.runs += 1;
        let choice = if !found && self.runs % 2 == 1 {
            Choice::Earliest
        } else {
            Choice::Active
        };
        let limit = SHORTEST_RUN * luby(self.runs);
        let assumptions: Vec<Fact> = assumption.into_iter().collect();
        match self.model.engine.run(&assumptions, choice, limit) {
            Ended::Limit => Standing::Open,
            Ended::Solved => {
                let starts = self.model.starts();
                incumbent.offer(cost_of(self.problem, &starts), &starts);
                Standing::Open
            }
            Ended::Impossible if !found => Standing::Impossible,
            Ended::Impossible if incumbent.is_tardiness_proven() => {
                incumbent.least_finish = incumbent.cost.finish;
                Standing::Proven
            }
            Ended::Impossible => {
                incumbent.least_tardiness = incumbent.cost.tardiness;
                Standing::Open
            }
        }
    }

    /// Excludes everything later than the proven tardiness.
    fn settle(&mut self, tardiness: i64) {
        if self.settled.is_none() {
            self.settled = Some(tardiness);
            self.model
                .engine
                .settle(Fact::at_most(self.model.tardiness, tardiness));
        }
    }
}

/// The sequence 1 1 2 1 1 2 4 1 1 2 1 1 2 4 8 ... (Luby, Sinclair and Zuckerman 1993), from 1.
fn luby(mut place: u64) -> u64 {
    loop {
        let bits = 64 - place.leading_zeros();
        if place == (1 << bits) - 1 {
            return 1 << (bits - 1);
        }
        place -= (1 << (bits - 1)) - 1;
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_lengths_of_runs_follow_luby() {
        let lengths: Vec<u64> = (1..=15).map(super::luby).collect();
        assert_eq!(lengths, [1, 1, 2, 1, 1, 2, 4, 1, 1, 2, 1, 1, 2, 4, 8]);
    }
}
