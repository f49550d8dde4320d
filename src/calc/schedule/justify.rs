//! Justification: every job as late as the finish and its dates allow; placed anew in that order,
//! the jobs often finish sooner (Valls, Ballestin and Quintanilla 2005).

use super::heads::previous_start;
use super::problem::Problem;
use super::tighten::Placed;

/// Starts of the same jobs moved as late as possible, the last ones first, without a later finish
/// or more tardiness. Only for problems without holds and largest gaps.
pub(super) fn justified(problem: &Problem, latest: &[i64], starts: &[i64]) -> Vec<i64> {
    let jobs = &problem.jobs;
    let mut placed = Placed::new(problem, starts);
    let mut order: Vec<usize> = (0..starts.len()).filter(|&job| !jobs[job].fixed).collect();
    order.sort_by_key(|&job| std::cmp::Reverse((starts[job] + jobs[job].minutes, job)));
    let finish = (0..starts.len())
        .map(|job| starts[job] + jobs[job].minutes)
        .max()
        .unwrap_or(0);
    for job in order {
        let entry = &jobs[job];
        let present = placed.starts[job];
        let mut most = latest[job].min(finish - entry.minutes);
        for link in &entry.before {
            most = most.min(placed.starts[link.job] - link.min_gap - entry.minutes);
        }
        for &(by, _) in &entry.due {
            // Late already: no later still.
            most = most.min((by - entry.minutes).max(present));
        }
        if most <= present {
            continue;
        }
        placed.use_all(job, -1);
        placed.starts[job] = last_fit(&placed, job, present, most);
        placed.use_all(job, 1);
    }
    placed.starts
}

/// The last start up to `most` at which the job's needs fit; `present` is one at which they do.
fn last_fit(placed: &Placed<'_>, job: usize, present: i64, most: i64) -> i64 {
    let problem = placed.problem;
    let entry = &problem.jobs[job];
    let mut next = previous_start(problem.starts_of(job), most);
    while let Some(at) = next.filter(|&at| at > present) {
        let conflict = entry.needs.iter().find_map(|&(resource, amount)| {
            let free = problem.capacity[resource] - amount;
            placed.profiles[resource].first_above(at, at + entry.minutes, free)
        });
        match conflict {
            None => return at,
            Some(begin) => next = previous_start(problem.starts_of(job), begin - entry.minutes),
        }
    }
    present
}
