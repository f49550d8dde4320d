//! The phases of a solve.

use super::blocks::Blocks;
use super::check::{check, figures};
use super::conflict;
use super::generate::Cost;
use super::heads::{Heads, NoHeads};
use super::incumbent::Incumbent;
use super::outcome::{Bound, Outcome, Progress, Solution, Statistics};
use super::problem::Problem;
use super::proof::{Proof, Standing};
use super::request::Tardiness;
use super::search::Search;
use super::tighten::tighten;
use crate::calc::budget::Budget;

/// Finds the best schedule that the budget allows, and the bound that no schedule beats.
pub fn solve(
    problem: &Problem,
    budget: &Budget<'_>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Outcome {
    if let Some(conflict) = conflict::contradictions(problem) {
        return Outcome::NoSchedule(conflict);
    }
    let heads = match Heads::new(problem, budget) {
        Ok(heads) => heads,
        Err(NoHeads::Empty(job)) => {
            return Outcome::NoSchedule(conflict::of_links(problem, job, budget));
        }
        Err(NoHeads::Spent) => return Outcome::NotFoundInTime,
    };
    let request = &problem.request;
    if problem.jobs.is_empty() {
        return Outcome::Scheduled(Solution {
            starts: Vec::new(),
            tardiness: Tardiness(0),
            finish: request.from,
            moved: 0,
            bound: Bound {
                tardiness: Tardiness(0),
                finish: request.from,
            },
            proven: true,
            statistics: Statistics::default(),
        });
    }
    let blocks = Blocks::new(problem);
    let mut incumbent = Incumbent {
        cost: Cost::WORST,
        starts: Vec::new(),
        least_tardiness: 0,
        least_finish: 0,
    };
    let mut search = Search::new(problem, &heads, &blocks, 1);
    let mut proof = Proof::new(problem, &heads);
    let unit = i128::from(problem.weight_unit);
    let report = |incumbent: &Incumbent| {
        progress(Progress {
            tardiness: Tardiness(i128::from(incumbent.cost.tardiness) * unit),
            finish: problem.wall(incumbent.cost.finish),
            bound: Tardiness(i128::from(incumbent.least_tardiness) * unit),
        })
    };
    for _ in 0..2000 {
        search.advance();
    }
    incumbent.offer(search.best_cost(), search.best_starts());
    report(&incumbent);
    while !budget.is_spent() {
        let before = incumbent.clone();
        match proof.advance(&mut incumbent) {
            Standing::Proven => break,
            Standing::Impossible => return Outcome::NotFoundInTime,
            Standing::Open => {}
        }
        if incumbent.cost < before.cost || incumbent.least_tardiness > before.least_tardiness {
            report(&incumbent);
        }
        budget.take(1);
    }
    if incumbent.cost.unplaced > 0 {
        return Outcome::NotFoundInTime;
    }
    let starts = tighten(problem, &heads, &incumbent.starts);
    let starts: Vec<_> = starts.into_iter().map(|at| problem.wall(at)).collect();
    debug_assert_eq!(check(request, &starts).err(), None);
    let figures = figures(request, &starts);
    let bound = Bound {
        tardiness: Tardiness(i128::from(incumbent.least_tardiness) * unit),
        finish: problem.wall(incumbent.least_finish),
    };
    Outcome::Scheduled(Solution {
        tardiness: figures.tardiness,
        finish: figures.finish,
        moved: search.best_cost().moved,
        bound,
        proven: bound.tardiness == figures.tardiness && bound.finish == figures.finish,
        statistics: Statistics {
            schedules: search.schedules(),
            conflicts: proof.conflicts(),
        },
        starts,
    })
}
