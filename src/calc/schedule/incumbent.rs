//! The best schedule so far and what no schedule can beat.

use super::generate::Cost;
use super::heads::Heads;
use super::problem::Problem;

/// The best schedule so far, shared by all searches of a solve.
#[derive(Clone, Debug)]
pub(super) struct Incumbent {
    pub cost: Cost,
    pub starts: Vec<i64>,
    /// No schedule has less.
    pub least_tardiness: i64,
    /// No schedule that is at most as late as `cost.tardiness` has less.
    pub least_finish: i64,
}

impl Incumbent {
    /// No schedule yet, and the bounds that links and calendars give.
    pub fn none(problem: &Problem, heads: &Heads) -> Incumbent {
        let least = cost_of(problem, &heads.earliest);
        Incumbent {
            cost: Cost::WORST,
            starts: Vec::new(),
            least_tardiness: least.tardiness,
            least_finish: least.finish,
        }
    }

    /// Takes the schedule if it is better; tells whether it was.
    pub fn offer(&mut self, cost: Cost, starts: &[i64]) -> bool {
        if cost >= self.cost {
            return false;
        }
        self.cost = cost;
        self.starts = starts.to_vec();
        true
    }

    pub fn is_found(&self) -> bool {
        self.cost.unplaced == 0
    }

    pub fn is_tardiness_proven(&self) -> bool {
        self.is_found() && self.cost.tardiness <= self.least_tardiness
    }

    pub fn is_proven(&self) -> bool {
        self.is_tardiness_proven() && self.cost.finish <= self.least_finish
    }
}

/// What a complete schedule costs.
pub(super) fn cost_of(problem: &Problem, starts: &[i64]) -> Cost {
    let mut cost = Cost {
        unplaced: 0,
        tardiness: 0,
        finish: i64::MIN,
        moved: 0,
    };
    for (job, &start) in problem.jobs.iter().zip(starts) {
        let end = start + job.minutes;
        cost.finish = cost.finish.max(end);
        cost.tardiness += job
            .due
            .iter()
            .map(|&(by, weight)| weight * (end - by).max(0))
            .sum::<i64>();
        cost.moved += usize::from(job.prefer.is_some_and(|at| at != start));
    }
    cost
}
