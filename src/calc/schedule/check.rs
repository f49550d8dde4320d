//! Checks a schedule against its request, rule by rule, from the request alone.
//!
//! Nothing here is shared with the search: a mistake there cannot hide itself.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use super::request::{Need, Request, Tardiness, Task};
use crate::units::{Minutes, WallMinute};

/// A rule of the request that a schedule breaks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Violation {
    /// The number of starts is not the number of tasks.
    Count {
        starts: usize,
        tasks: usize,
    },
    NotAsGiven {
        task: String,
        at: WallMinute,
    },
    OutsideHorizon {
        task: String,
    },
    OutsideWindows {
        task: String,
    },
    TooSoon {
        task: String,
        after: String,
    },
    TooLate {
        task: String,
        after: String,
    },
    HoldReversed {
        from: String,
        to: String,
    },
    OverCapacity {
        resource: String,
        from: WallMinute,
        in_use: i64,
    },
    /// The task could start earlier while all others stay.
    Loose {
        task: String,
        could: WallMinute,
    },
}

impl fmt::Display for Violation {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Violation::Count { starts, tasks } => {
                write!(formatter, "there are {starts} starts for {tasks} tasks")
            }
            Violation::NotAsGiven { task, at } => {
                write!(formatter, "task {task:?} does not start as given, at {at}")
            }
            Violation::OutsideHorizon { task } => {
                write!(formatter, "task {task:?} is not between `from` and `to`")
            }
            Violation::OutsideWindows { task } => {
                write!(
                    formatter,
                    "task {task:?} lies in no one window of its calendar"
                )
            }
            Violation::TooSoon { task, after } => {
                write!(formatter, "task {task:?} starts too soon after {after:?}")
            }
            Violation::TooLate { task, after } => {
                write!(formatter, "task {task:?} starts too late after {after:?}")
            }
            Violation::HoldReversed { from, to } => {
                write!(
                    formatter,
                    "the hold from {from:?} to {to:?} ends before it starts"
                )
            }
            Violation::OverCapacity {
                resource,
                from,
                in_use,
            } => {
                write!(formatter, "{in_use} of {resource:?} are in use from {from}")
            }
            Violation::Loose { task, could } => {
                write!(formatter, "task {task:?} could start earlier, at {could}")
            }
        }
    }
}

/// What a schedule is worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Figures {
    pub tardiness: Tardiness,
    pub finish: WallMinute,
}

/// Recomputes the figures of a schedule whose number of starts is right.
pub fn figures(request: &Request, starts: &[WallMinute]) -> Figures {
    let ends: BTreeMap<&str, WallMinute> = request
        .tasks
        .iter()
        .zip(starts)
        .map(|(task, &start)| (task.id.as_str(), start + task.minutes))
        .collect();
    let late = request.due.iter().map(|due| {
        let minutes = (ends[due.task.as_str()] - due.by).0.max(0);
        i128::from(minutes) * i128::from(due.weight.billionths())
    });
    Figures {
        tardiness: Tardiness(late.sum()),
        finish: ends.values().copied().max().unwrap_or(request.from),
    }
}

/// Every rule that the schedule breaks.
pub fn check(request: &Request, starts: &[WallMinute]) -> Result<Figures, Vec<Violation>> {
    if starts.len() != request.tasks.len() {
        let (starts, tasks) = (starts.len(), request.tasks.len());
        return Err(vec![Violation::Count { starts, tasks }]);
    }
    let mut violations = Vec::new();
    let start_of = by_id(request, starts);
    for (task, &start) in request.tasks.iter().zip(starts) {
        place_of_task(request, task, start, &mut violations);
        gaps_of_task(task, start, &start_of, &mut violations);
    }
    violations.extend(capacities(request, starts, None));
    if violations.is_empty() {
        Ok(figures(request, starts))
    } else {
        Err(violations)
    }
}

/// The tasks without `at` that could start earlier while all others stay, in a schedule that keeps
/// all rules.
pub fn loose(request: &Request, starts: &[WallMinute]) -> Vec<Violation> {
    let mut violations = Vec::new();
    let start_of = by_id(request, starts);
    let mut later: BTreeMap<&str, Vec<(&Task, Minutes)>> = BTreeMap::new();
    for task in &request.tasks {
        for link in &task.after {
            if let Some(most) = link.max_gap {
                later
                    .entry(link.task.as_str())
                    .or_default()
                    .push((task, most));
            }
        }
    }
    let mut moments: BTreeSet<WallMinute> = request.busy.iter().map(|busy| busy.to).collect();
    moments.extend(
        request
            .tasks
            .iter()
            .zip(starts)
            .map(|(task, &start)| start + task.minutes),
    );
    for (i, task) in request
        .tasks
        .iter()
        .enumerate()
        .filter(|(_, task)| task.at.is_none())
    {
        let mut least = request.from;
        for link in &task.after {
            let (before, start) = start_of[link.task.as_str()];
            least = least.max(start + before.minutes + link.min_gap);
        }
        for (other, most) in later.get(task.id.as_str()).into_iter().flatten() {
            let (_, start) = start_of[other.id.as_str()];
            least = least.max(WallMinute(start.0 - most.0 - task.minutes.0));
        }
        let opens = request
            .calendars
            .iter()
            .filter(|entry| Some(&entry.id) == task.calendar.as_ref());
        let mut candidates: BTreeSet<WallMinute> = opens
            .flat_map(|calendar| calendar.windows.iter().map(|window| window.from))
            .collect();
        candidates.extend(moments.range(least..starts[i]));
        candidates.insert(least);
        let mut trial = starts.to_vec();
        for &could in candidates
            .iter()
            .filter(|&&could| could >= least && could < starts[i])
        {
            let mut broken = Vec::new();
            place_of_task(request, task, could, &mut broken);
            trial[i] = could;
            if broken.is_empty() && capacities(request, &trial, Some(&task.id)).is_empty() {
                violations.push(Violation::Loose {
                    task: task.id.clone(),
                    could,
                });
                break;
            }
        }
    }
    violations
}

fn by_id<'a>(
    request: &'a Request,
    starts: &[WallMinute],
) -> BTreeMap<&'a str, (&'a Task, WallMinute)> {
    let entries = request.tasks.iter().zip(starts);
    entries
        .map(|(task, &start)| (task.id.as_str(), (task, start)))
        .collect()
}

fn place_of_task(
    request: &Request,
    task: &Task,
    start: WallMinute,
    violations: &mut Vec<Violation>,
) {
    let end = start + task.minutes;
    let id = || task.id.clone();
    if let Some(at) = task.at {
        if start != at {
            violations.push(Violation::NotAsGiven { task: id(), at });
        }
        return;
    }
    if start < request.from || end > request.to {
        violations.push(Violation::OutsideHorizon { task: id() });
    }
    if let Some(name) = &task.calendar {
        let mut windows = request
            .calendars
            .iter()
            .filter(|entry| entry.id == *name)
            .flat_map(|entry| &entry.windows);
        if !windows.any(|window| window.from <= start && end <= window.to) {
            violations.push(Violation::OutsideWindows { task: id() });
        }
    }
}

fn gaps_of_task(
    task: &Task,
    start: WallMinute,
    start_of: &BTreeMap<&str, (&Task, WallMinute)>,
    violations: &mut Vec<Violation>,
) {
    for link in &task.after {
        let (before, before_start) = start_of[link.task.as_str()];
        let gap = start - (before_start + before.minutes);
        let (task, after) = (task.id.clone(), link.task.clone());
        if gap < link.min_gap {
            violations.push(Violation::TooSoon { task, after });
        } else if link.max_gap.is_some_and(|most| gap > most) {
            violations.push(Violation::TooLate { task, after });
        }
    }
}

/// Sweeps over each resource's changes of use; with `only`, over the resources that this task or
/// its holds use.
fn capacities(request: &Request, starts: &[WallMinute], only: Option<&str>) -> Vec<Violation> {
    let start_of = by_id(request, starts);
    let touched: Option<BTreeSet<&str>> = only.map(|id| {
        let own = start_of[id].0.needs.iter();
        let holds = request
            .holds
            .iter()
            .filter(|hold| hold.from == id || hold.to == id);
        own.chain(holds.flat_map(|hold| &hold.needs))
            .map(|need| need.resource.as_str())
            .collect()
    });
    let mut changes: BTreeMap<&str, BTreeMap<WallMinute, i64>> = BTreeMap::new();
    let mut uses = |need: &'_ Need, from: WallMinute, to: WallMinute| {
        let resource = request
            .resources
            .iter()
            .find(|entry| entry.id == need.resource);
        let Some(resource) = resource else { return };
        if touched
            .as_ref()
            .is_some_and(|touched| !touched.contains(resource.id.as_str()))
        {
            return;
        }
        let of_resource = changes.entry(resource.id.as_str()).or_default();
        *of_resource.entry(from).or_default() += i64::from(need.amount);
        *of_resource.entry(to).or_default() -= i64::from(need.amount);
    };
    for busy in &request.busy {
        let need = Need {
            resource: busy.resource.clone(),
            amount: busy.amount,
        };
        uses(&need, busy.from, busy.to);
    }
    for (task, &start) in request.tasks.iter().zip(starts) {
        for need in &task.needs {
            uses(need, start, start + task.minutes);
        }
    }
    let mut violations = Vec::new();
    for hold in &request.holds {
        let (_, from) = start_of[hold.from.as_str()];
        let (last, last_start) = start_of[hold.to.as_str()];
        let to = last_start + last.minutes;
        if to < from {
            let (from, to) = (hold.from.clone(), hold.to.clone());
            violations.push(Violation::HoldReversed { from, to });
            continue;
        }
        for need in &hold.needs {
            uses(need, from, to);
        }
    }
    for resource in &request.resources {
        let mut in_use = 0;
        let mut over = false;
        for (&at, change) in changes.get(resource.id.as_str()).into_iter().flatten() {
            in_use += change;
            let was_over = std::mem::replace(&mut over, in_use > i64::from(resource.capacity));
            if over && !was_over {
                let resource = resource.id.clone();
                violations.push(Violation::OverCapacity {
                    resource,
                    from: at,
                    in_use,
                });
            }
        }
    }
    violations
}
