//! A problem as variables, links, spans and costs for the engine.

use super::super::heads::Heads;
use super::super::problem::Problem;
use super::cumulative::{Cumulative, Span};
use super::domain::Domain;
use super::engine::{Engine, Link};
use super::moved::Moved;
use super::tardiness::{Cost, Tardiness};
use super::trail::Trail;

/// The engine and which of its variables say what. Jobs are variables in their order.
#[derive(Clone, Debug)]
pub struct Model {
    pub engine: Engine,
    pub tardiness: usize,
    pub finish: usize,
    /// Of the preferred starts that can be kept at all.
    pub moved: usize,
    /// Preferred starts that no schedule keeps.
    pub lost_preferences: usize,
    jobs: usize,
}

impl Model {
    pub fn new(problem: &Problem, heads: &Heads) -> Model {
        let count = problem.jobs.len();
        let (tardiness, finish, moved) = (count, count + 1, count + 2);
        let mut domains: Vec<Domain> = (0..count)
            .map(|job| {
                Domain::new(
                    problem.starts_of(job),
                    heads.earliest[job],
                    heads.latest[job],
                )
            })
            .collect();
        let costs: Vec<Cost> = problem
            .jobs
            .iter()
            .enumerate()
            .filter(|(_, job)| !job.due.is_empty())
            .map(|(variable, job)| Cost {
                variable,
                minutes: job.minutes,
                due: job.due.clone(),
            })
            .collect();
        let most = costs
            .iter()
            .map(|cost| cost.of(heads.latest[cost.variable]))
            .sum();
        domains.push(Domain::new(&[(0, most)], 0, most));
        let ends = || problem.jobs.iter().enumerate();
        let first = ends()
            .map(|(job, entry)| heads.earliest[job] + entry.minutes)
            .max();
        let last = ends()
            .map(|(job, entry)| heads.latest[job] + entry.minutes)
            .max();
        let (first, last) = (first.unwrap_or(0), last.unwrap_or(0));
        domains.push(Domain::new(&[(first, last)], first, last));
        let preferred: Vec<(usize, i64)> = (0..count)
            .filter_map(|job| Some((job, problem.jobs[job].prefer?)))
            .filter(|&(job, at)| domains[job].has(at))
            .collect();
        let all = preferred.len() as i64;
        let asked = problem
            .jobs
            .iter()
            .filter(|job| job.prefer.is_some())
            .count();
        let lost_preferences = asked - preferred.len();
        domains.push(Domain::new(&[(0, all)], 0, all));
        let engine = Engine::new(
            Trail::new(domains),
            links(problem, finish),
            cumulatives(problem, heads),
            (
                Tardiness {
                    total: tardiness,
                    costs,
                },
                Moved {
                    total: moved,
                    preferred,
                },
            ),
            count,
        );
        Model {
            engine,
            tardiness,
            finish,
            moved,
            lost_preferences,
            jobs: count,
        }
    }

    /// The starts of a solved engine.
    pub fn starts(&self) -> Vec<i64> {
        (0..self.jobs)
            .map(|job| self.engine.trail.lower(job))
            .collect()
    }
}

fn links(problem: &Problem, finish: usize) -> Vec<Link> {
    let mut links = Vec::new();
    let mut add = |earlier: usize, later: usize, distance: i64| {
        links.push(Link {
            from: 2 * earlier,
            to: 2 * later,
            distance,
        });
        links.push(Link {
            from: 2 * later + 1,
            to: 2 * earlier + 1,
            distance,
        });
    };
    for (job, entry) in problem.jobs.iter().enumerate() {
        for link in &entry.after {
            let minutes = problem.jobs[link.job].minutes;
            add(link.job, job, minutes + link.min_gap);
            if let Some(most) = link.max_gap {
                add(job, link.job, -(minutes + most));
            }
        }
        // Where a later task ends after this one, the finish follows from that one.
        if entry.before.is_empty() {
            add(job, finish, entry.minutes);
        }
    }
    links
}

fn cumulatives(problem: &Problem, heads: &Heads) -> Vec<Cumulative> {
    let count = problem.capacity.len();
    let mut spans: Vec<Vec<Span>> = vec![Vec::new(); count];
    let mut given: Vec<Vec<(i64, i64)>> = vec![Vec::new(); count];
    for busy in &problem.busy {
        given[busy.resource].extend([(busy.from, busy.amount), (busy.to, -busy.amount)]);
    }
    for (job, entry) in problem
        .jobs
        .iter()
        .enumerate()
        .filter(|(_, entry)| entry.minutes > 0)
    {
        for &(resource, amount) in &entry.needs {
            if heads.earliest[job] == heads.latest[job] {
                let at = heads.earliest[job];
                given[resource].extend([(at, amount), (at + entry.minutes, -amount)]);
            } else {
                spans[resource].push(Span {
                    start: job,
                    end: job,
                    length: entry.minutes,
                    amount,
                });
            }
        }
    }
    for hold in &problem.holds {
        for &(resource, amount) in &hold.needs {
            let length = problem.jobs[hold.to].minutes;
            spans[resource].push(Span {
                start: hold.from,
                end: hold.to,
                length,
                amount,
            });
        }
    }
    let mut cumulatives = Vec::new();
    for (resource, (spans, mut given)) in spans.into_iter().zip(given).enumerate() {
        given.sort_unstable();
        let most: i64 = spans.iter().map(|span| span.amount).sum();
        let base: i64 = given.iter().map(|&(_, change)| change.max(0)).sum();
        if most + base > problem.capacity[resource] {
            cumulatives.push(Cumulative::new(problem.capacity[resource], spans, given));
        }
    }
    cumulatives
}
