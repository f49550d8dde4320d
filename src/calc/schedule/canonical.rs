//! One order for every request that says the same: a proven answer must not depend on the order in
//! which tasks, links or resources are listed.

use super::outcome::Outcome;
use super::problem::Problem;
use super::request::{Need, Request};

/// Solves the request with everything in the order of its ids; the starts come back in the order of
/// the request.
pub(super) fn solved(problem: &Problem, solve: impl FnOnce(&Problem) -> Outcome) -> Outcome {
    let tasks = &problem.request().tasks;
    let mut order: Vec<usize> = (0..tasks.len()).collect();
    order.sort_by(|&a, &b| tasks[a].id.cmp(&tasks[b].id));
    let sorted = Problem::new(in_order(problem.request(), &order))
        .expect("the same request was checked in another order");
    let mut outcome = solve(&sorted);
    if let Outcome::Scheduled(solution) = &mut outcome {
        let sorted_starts = solution.starts.clone();
        for (&task, start) in order.iter().zip(sorted_starts) {
            solution.starts[task] = start;
        }
    }
    outcome
}

fn in_order(request: &Request, tasks: &[usize]) -> Request {
    let by_resource = |needs: &mut Vec<Need>| {
        needs.sort_by(|a, b| (&a.resource, a.amount).cmp(&(&b.resource, b.amount)));
    };
    let mut sorted = Request {
        tasks: Vec::with_capacity(tasks.len()),
        ..request.clone()
    };
    for &task in tasks {
        let mut task = request.tasks[task].clone();
        task.after
            .sort_by(|a, b| (&a.task, a.min_gap, a.max_gap).cmp(&(&b.task, b.min_gap, b.max_gap)));
        by_resource(&mut task.needs);
        sorted.tasks.push(task);
    }
    for hold in &mut sorted.holds {
        by_resource(&mut hold.needs);
    }
    let amounts = |needs: &[Need]| -> Vec<(String, u32)> {
        let pairs = needs
            .iter()
            .map(|need| (need.resource.clone(), need.amount));
        pairs.collect()
    };
    sorted
        .holds
        .sort_by_cached_key(|hold| (hold.from.clone(), hold.to.clone(), amounts(&hold.needs)));
    sorted.calendars.sort_by(|a, b| a.id.cmp(&b.id));
    sorted.resources.sort_by(|a, b| a.id.cmp(&b.id));
    sorted
        .due
        .sort_by(|a, b| (&a.task, a.by, a.weight).cmp(&(&b.task, b.by, b.weight)));
    sorted.prefer.sort();
    sorted
}
