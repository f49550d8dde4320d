//! Why a task cannot start earlier in a schedule while all other tasks stay.

use super::heads::next_start;
use super::problem::Problem;
use super::tighten::Placed;
use crate::units::{Minutes, WallMinute};

/// The most obstacles that are told of one task: the last ones, which are next to its start.
pub const MAX_OBSTACLES: usize = 50;

/// Something that keeps a task from an earlier start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Obstacle {
    /// The start is given.
    Given,
    /// No task starts before the request's `from`.
    Beginning,
    /// It comes at least `min_gap` after a task that ends then.
    Earlier {
        task: String,
        ends: WallMinute,
        min_gap: Minutes,
    },
    /// It may end at most `max_gap` before a task that starts then.
    Later {
        task: String,
        starts: WallMinute,
        max_gap: Minutes,
    },
    /// From `from` its calendar leaves no time that is long enough before `until`.
    Closed {
        calendar: String,
        from: WallMinute,
        until: WallMinute,
    },
    /// From `from` until `until` others leave too little of a resource for the task, or for a hold
    /// that begins or ends with it.
    InUse {
        resource: String,
        from: WallMinute,
        until: WallMinute,
        by: Vec<User>,
    },
}

/// Who uses a resource.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum User {
    Task(String),
    Hold {
        from: String,
        to: String,
    },
    /// An entry of `busy`.
    Others,
}

/// What keeps the task from each earlier start, in order of time: first what bounds it by its
/// links, then what is in the way from there to its start. `starts` must keep all rules.
///
/// `None` where there is no such task or not one start for each task.
pub fn explain(problem: &Problem, starts: &[WallMinute], task: &str) -> Option<Vec<Obstacle>> {
    let request = &problem.request;
    let job = request.tasks.iter().position(|entry| entry.id == task)?;
    if starts.len() != problem.jobs.len() {
        return None;
    }
    if problem.jobs[job].fixed {
        return Some(vec![Obstacle::Given]);
    }
    let offsets: Vec<i64> = starts
        .iter()
        .map(|&start| (start - request.from).0)
        .collect();
    let mut placed = Placed::new(problem, &offsets);
    let start = offsets[job];
    let least = placed.least_by_links(job);
    let mut obstacles = bounds_by_links(&placed, job, least);
    placed.use_all(job, -1);
    let mut at = least;
    while at < start {
        let open = next_start(problem.starts_of(job), at).unwrap_or(start);
        let next = if open > at {
            obstacles.push(closed(problem, job, at, open.min(start)));
            open
        } else {
            placed.starts[job] = at;
            let Some((resource, from, to)) = blocking(&placed, job) else {
                break;
            };
            let by = users(&placed, job, resource, from, to);
            // The task is in the way of itself until the use that it meets is over, or, for a hold
            // that ends with it, for as long as it starts that early.
            let next = if from <= at { to.max(at + 1) } else { to };
            obstacles.push(Obstacle::InUse {
                resource: request.resources[resource].id.clone(),
                from: problem.wall(from),
                until: problem.wall(to),
                by,
            });
            next
        };
        at = next;
    }
    let surplus = obstacles.len().saturating_sub(MAX_OBSTACLES);
    Some(obstacles.split_off(surplus))
}

/// The links that do not let the job start before `least`.
fn bounds_by_links(placed: &Placed<'_>, job: usize, least: i64) -> Vec<Obstacle> {
    let problem = placed.problem;
    let id = |job: usize| problem.request.tasks[job].id.clone();
    let entry = &problem.jobs[job];
    let mut obstacles = Vec::new();
    if least == 0 {
        obstacles.push(Obstacle::Beginning);
    }
    for link in &entry.after {
        let ends = placed.starts[link.job] + problem.jobs[link.job].minutes;
        if ends + link.min_gap == least {
            obstacles.push(Obstacle::Earlier {
                task: id(link.job),
                ends: problem.wall(ends),
                min_gap: Minutes(link.min_gap),
            });
        }
    }
    for link in &entry.before {
        if let Some(most) = link.max_gap
            && placed.starts[link.job] - most - entry.minutes == least
        {
            obstacles.push(Obstacle::Later {
                task: id(link.job),
                starts: problem.wall(placed.starts[link.job]),
                max_gap: Minutes(most),
            });
        }
    }
    obstacles
}

fn closed(problem: &Problem, job: usize, from: i64, until: i64) -> Obstacle {
    Obstacle::Closed {
        calendar: problem.request.tasks[job]
            .calendar
            .clone()
            .unwrap_or_default(),
        from: problem.wall(from),
        until: problem.wall(until),
    }
}

/// The resource that the job, placed as it is, cannot have, and the span in which others use it.
fn blocking(placed: &Placed<'_>, job: usize) -> Option<(usize, i64, i64)> {
    let problem = placed.problem;
    let entry = &problem.jobs[job];
    let at = placed.starts[job];
    let own = (at, at + entry.minutes, &entry.needs);
    let holds = entry.holds.iter().map(|&hold| {
        let hold = &problem.holds[hold];
        let to = placed.starts[hold.to] + problem.jobs[hold.to].minutes;
        (placed.starts[hold.from], to, &hold.needs)
    });
    let spans: Vec<_> = std::iter::once(own).chain(holds).collect();
    for &(from, to, needs) in &spans {
        for &(resource, amount) in needs {
            let most = problem.capacity[resource] - amount;
            if let Some(end) = placed.profiles[resource].last_above(from, to, most) {
                let begin = placed.profiles[resource]
                    .first_above(from, to, most)
                    .unwrap_or(from);
                return Some((resource, begin.max(from), end));
            }
        }
    }
    // What fits by itself may still not fit together, where the job and its hold meet.
    let (resource, from, to) = spans
        .iter()
        .find_map(|&(from, to, needs)| needs.first().map(|&(resource, _)| (resource, from, to)))?;
    let shared = spans
        .iter()
        .filter(|span| span.2.iter().any(|need| need.0 == resource))
        .count();
    (shared > 1).then_some((resource, from, to))
}

/// Who else uses the resource between two moments.
fn users(placed: &Placed<'_>, job: usize, resource: usize, from: i64, to: i64) -> Vec<User> {
    let problem = placed.problem;
    let id = |job: usize| problem.request.tasks[job].id.clone();
    let needs_it = |needs: &[(usize, i64)]| needs.iter().any(|need| need.0 == resource);
    let meets = |begin: i64, end: i64| begin < to && end > from && begin < end;
    let mut users = Vec::new();
    for (other, entry) in problem
        .jobs
        .iter()
        .enumerate()
        .filter(|&(other, _)| other != job)
    {
        let begin = placed.starts[other];
        if needs_it(&entry.needs) && meets(begin, begin + entry.minutes) {
            users.push(User::Task(id(other)));
        }
    }
    for (index, hold) in problem.holds.iter().enumerate() {
        let end = placed.starts[hold.to] + problem.jobs[hold.to].minutes;
        let own = problem.jobs[job].holds.contains(&index);
        if !own && needs_it(&hold.needs) && meets(placed.starts[hold.from], end) {
            users.push(User::Hold {
                from: id(hold.from),
                to: id(hold.to),
            });
        }
    }
    let mut busy = problem.busy.iter().filter(|busy| busy.resource == resource);
    if busy.any(|busy| meets(busy.from, busy.to)) {
        users.push(User::Others);
    }
    users
}
