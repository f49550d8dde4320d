//! Why there is no schedule: contradictions that show without a search, and small impossible sets.

use std::collections::BTreeSet;

use super::blocks::components;
use super::heads::{Heads, NoHeads, base_profiles};
use super::outcome::Conflict;
use super::problem::Problem;
use crate::calc::budget::Budget;

/// The most reasons that are listed.
const MAX_REASONS: usize = 100;
/// The most trials that are spent on making an impossible set smaller.
const MAX_TRIALS: usize = 3_000;

/// Contradictions of single tasks, links and resources, all of them.
pub(super) fn contradictions(problem: &Problem) -> Option<Conflict> {
    let request = &problem.request;
    let id = |job: usize| &request.tasks[job].id;
    let mut tasks = BTreeSet::new();
    let mut resources = BTreeSet::new();
    let mut reasons = Vec::new();

    for circle in circles(problem) {
        let names: Vec<String> = circle.iter().map(|&job| format!("{:?}", id(job))).collect();
        reasons.push(match names.as_slice() {
            [one] => format!("Task {one} comes after itself."),
            _ => format!(
                "Tasks {} come after each other in a circle.",
                listed(&names)
            ),
        });
        tasks.extend(circle);
    }
    for (job, entry) in problem.jobs.iter().enumerate() {
        for link in &entry.after {
            if let Some(most) = link.max_gap
                && most < link.min_gap
            {
                reasons.push(format!(
                    "Task {:?} must start at least {} and at most {most} minutes after {:?}; the `max_gap` is below the `min_gap`.",
                    id(job), link.min_gap, id(link.job)
                ));
                tasks.extend([job, link.job]);
            }
        }
        for &(resource, amount) in &entry.needs {
            if amount > problem.capacity[resource] && entry.minutes > 0 {
                reasons.push(format!(
                    "Task {:?} needs {amount} of {:?}, of which there are {}.",
                    id(job),
                    request.resources[resource].id,
                    problem.capacity[resource]
                ));
                tasks.insert(job);
                resources.insert(resource);
            }
        }
        if problem.starts_of(job).is_empty() {
            let minutes = entry.minutes;
            reasons.push(match &request.tasks[job].calendar {
                Some(calendar) if minutes <= problem.horizon => format!(
                    "Task {:?} takes {minutes} minutes, which fit into no window of {calendar:?} between `from` and `to`.",
                    id(job)
                ),
                _ => format!(
                    "Task {:?} takes {minutes} minutes; from `from` to `to` there are {}, so the horizon is too short.",
                    id(job), problem.horizon
                ),
            });
            tasks.insert(job);
        }
    }
    for hold in &problem.holds {
        for &(resource, amount) in &hold.needs {
            let long = problem.jobs[hold.from].minutes > 0 || problem.jobs[hold.to].minutes > 0;
            if amount > problem.capacity[resource] && long {
                reasons.push(format!(
                    "The hold from {:?} to {:?} needs {amount} of {:?}, of which there are {}.",
                    id(hold.from),
                    id(hold.to),
                    request.resources[resource].id,
                    problem.capacity[resource]
                ));
                tasks.extend([hold.from, hold.to]);
                resources.insert(resource);
            }
        }
    }
    given_above_capacity(problem, &mut resources, &mut reasons);
    if reasons.is_empty() {
        return None;
    }
    let more = reasons.len().saturating_sub(MAX_REASONS);
    reasons.truncate(MAX_REASONS);
    if more > 0 {
        reasons.push(format!("There are {more} more reasons like these."));
    }
    Some(Conflict {
        tasks: tasks.into_iter().map(|job| id(job).clone()).collect(),
        resources: resources
            .into_iter()
            .map(|r| request.resources[r].id.clone())
            .collect(),
        reasons,
    })
}

/// Use by others and by given starts that is above a capacity by itself.
fn given_above_capacity(
    problem: &Problem,
    resources: &mut BTreeSet<usize>,
    reasons: &mut Vec<String>,
) {
    let mut profiles = base_profiles(problem);
    let given = |job: usize| {
        let entry = &problem.jobs[job];
        entry.fixed.then(|| problem.starts_of(job)[0].0)
    };
    for (job, entry) in problem.jobs.iter().enumerate() {
        for &(resource, amount) in &entry.needs {
            if let Some(at) = given(job) {
                profiles[resource].add(at, at + entry.minutes, amount);
            }
        }
    }
    for hold in &problem.holds {
        for &(resource, amount) in &hold.needs {
            if let (Some(from), Some(to)) = (given(hold.from), given(hold.to)) {
                profiles[resource].add(from, to + problem.jobs[hold.to].minutes, amount);
            }
        }
    }
    for (resource, profile) in profiles.iter().enumerate() {
        let ever = i64::MAX / 8;
        if let Some(at) = profile.first_above(-ever, ever, problem.capacity[resource]) {
            reasons.push(format!(
                "Of {:?} there are {}, but `busy` and the tasks with `at` use more from {}.",
                problem.request.resources[resource].id,
                problem.capacity[resource],
                problem.wall(at)
            ));
            resources.insert(resource);
        }
    }
}

fn circles(problem: &Problem) -> Vec<Vec<usize>> {
    let ties: Vec<Vec<usize>> = problem
        .jobs
        .iter()
        .map(|job| job.before.iter().map(|link| link.job).collect())
        .collect();
    let component = components(&ties);
    let count = component.iter().max().map_or(0, |last| last + 1);
    let mut members = vec![Vec::new(); count];
    for (job, &number) in component.iter().enumerate() {
        members[number].push(job);
    }
    members.retain(|jobs| jobs.len() > 1 || ties[jobs[0]].contains(&jobs[0]));
    members.sort_unstable();
    members
}

/// The conflict of a set of jobs of which `impossible` says that they have no schedule, made as
/// small as the trials allow: no single job of it can be left out if they suffice.
pub(super) fn smallest(
    problem: &Problem,
    jobs: Vec<usize>,
    budget: &Budget<'_>,
    impossible: &dyn Fn(&Problem) -> bool,
) -> Vec<usize> {
    let mut kept = jobs;
    let mut chunk = kept.len().div_ceil(2);
    let mut trials = 0;
    while chunk > 0 && kept.len() > 1 {
        let mut from = 0;
        while from < kept.len() && trials < MAX_TRIALS && !budget.is_spent() {
            let to = (from + chunk).min(kept.len());
            let fewer: Vec<usize> = kept[..from].iter().chain(&kept[to..]).copied().collect();
            trials += 1;
            if !fewer.is_empty() && impossible(&problem.restricted(&fewer)) {
                kept = fewer;
            } else {
                from = to;
            }
        }
        chunk = if chunk == 1 { 0 } else { chunk.div_ceil(2) };
    }
    kept
}

/// Links, calendars and the horizon that contradict each other, after `Heads` has found no start
/// for `empty`.
pub(super) fn of_links(problem: &Problem, empty: usize, budget: &Budget<'_>) -> Conflict {
    let impossible = |part: &Problem| matches!(Heads::new(part, budget), Err(NoHeads::Empty(_)));
    let linked = linked_to(problem, empty);
    let jobs = smallest(problem, linked, budget, &impossible);
    let resources: BTreeSet<usize> = jobs
        .iter()
        .flat_map(|&job| problem.jobs[job].needs.iter().map(|need| need.0))
        .filter(|&resource| problem.busy.iter().any(|busy| busy.resource == resource))
        .collect();
    let names: Vec<String> = jobs
        .iter()
        .map(|&job| format!("{:?}", problem.request.tasks[job].id))
        .collect();
    let reason = match names.as_slice() {
        [one] => format!(
            "Task {one} finds no time between `from` and `to` at which its calendar is open and what it needs is free."
        ),
        _ => format!(
            "Tasks {} cannot all keep their gaps, calendars and given starts between {} and {}.",
            listed(&names),
            problem.request.from,
            problem.request.to
        ),
    };
    conflict(problem, &jobs, resources, reason)
}

/// Tasks that cannot share their resources, after a search has proven it for `jobs`.
pub(super) fn of_resources(
    problem: &Problem,
    budget: &Budget<'_>,
    impossible: &dyn Fn(&Problem) -> bool,
) -> Conflict {
    let jobs = smallest(
        problem,
        (0..problem.jobs.len()).collect(),
        budget,
        impossible,
    );
    let part = problem.restricted(&jobs);
    let needs = part
        .jobs
        .iter()
        .map(|job| &job.needs)
        .chain(part.holds.iter().map(|hold| &hold.needs));
    let resources: BTreeSet<usize> = needs.flatten().map(|need| need.0).collect();
    let names: Vec<String> = jobs
        .iter()
        .map(|&job| format!("{:?}", problem.request.tasks[job].id))
        .collect();
    let shared: Vec<String> = resources
        .iter()
        .map(|&r| format!("{:?}", problem.request.resources[r].id))
        .collect();
    let sharing = match (jobs.len(), resources.is_empty()) {
        (_, true) => String::new(),
        (1, false) => format!(" with what is left of {}", listed(&shared)),
        (_, false) => format!(" sharing {}", listed(&shared)),
    };
    let reason = match names.as_slice() {
        [one] => format!("Task {one} finds no place between `from` and `to`{sharing}."),
        _ => format!(
            "Tasks {} cannot all be done between `from` and `to`{sharing}.",
            listed(&names)
        ),
    };
    conflict(problem, &jobs, resources, reason)
}

fn conflict(
    problem: &Problem,
    jobs: &[usize],
    resources: BTreeSet<usize>,
    reason: String,
) -> Conflict {
    let request = &problem.request;
    Conflict {
        tasks: jobs
            .iter()
            .map(|&job| request.tasks[job].id.clone())
            .collect(),
        resources: resources
            .into_iter()
            .map(|r| request.resources[r].id.clone())
            .collect(),
        reasons: vec![reason],
    }
}

/// All jobs that links lead to from `job`, forwards and backwards.
fn linked_to(problem: &Problem, job: usize) -> Vec<usize> {
    let mut seen = vec![false; problem.jobs.len()];
    let mut open = vec![job];
    seen[job] = true;
    while let Some(job) = open.pop() {
        let entry = &problem.jobs[job];
        for link in entry.after.iter().chain(&entry.before) {
            if !seen[link.job] {
                seen[link.job] = true;
                open.push(link.job);
            }
        }
    }
    (0..seen.len()).filter(|&job| seen[job]).collect()
}

/// `a, b and c`, with the rest counted where there are many.
fn listed(names: &[String]) -> String {
    const MOST: usize = 12;
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [names @ .., last] if names.len() < MOST => format!("{} and {last}", names.join(", ")),
        _ => format!(
            "{} and {} more",
            names[..MOST].join(", "),
            names.len() - MOST
        ),
    }
}
