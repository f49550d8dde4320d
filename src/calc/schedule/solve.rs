//! The phases of a solve.

use super::blocks::Blocks;
use super::check::{check, figures};
use super::conflict;
use super::heads::{Heads, NoHeads};
use super::outcome::{Bound, Outcome, Progress, Solution, Statistics};
use super::problem::Problem;
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
    let mut search = Search::new(problem, &heads, &blocks, 1);
    while !budget.is_spent() {
        for _ in 0..16 {
            search.advance();
        }
        budget.take(16);
    }
    if search.best_cost().unplaced > 0 {
        return Outcome::NotFoundInTime;
    }
    let starts = tighten(problem, &heads, search.best_starts());
    let starts: Vec<_> = starts.into_iter().map(|at| problem.wall(at)).collect();
    debug_assert_eq!(check(request, &starts).err(), None);
    let figures = figures(request, &starts);
    let unit = i128::from(problem.weight_unit);
    let late = problem
        .jobs
        .iter()
        .zip(&heads.earliest)
        .flat_map(|(job, earliest)| {
            job.due
                .iter()
                .map(move |&(by, weight)| weight * (earliest + job.minutes - by).max(0))
        });
    let ends = problem
        .jobs
        .iter()
        .zip(&heads.earliest)
        .map(|(job, earliest)| earliest + job.minutes);
    let bound = Bound {
        tardiness: Tardiness(i128::from(late.sum::<i64>()) * unit),
        finish: problem.wall(ends.max().unwrap_or(0)),
    };
    progress(Progress {
        tardiness: figures.tardiness,
        finish: figures.finish,
        bound: bound.tardiness,
    });
    Outcome::Scheduled(Solution {
        tardiness: figures.tardiness,
        finish: figures.finish,
        moved: search.best_cost().moved,
        bound,
        proven: bound.tardiness == figures.tardiness && bound.finish == figures.finish,
        statistics: Statistics {
            schedules: search.schedules(),
            conflicts: 0,
        },
        starts,
    })
}
