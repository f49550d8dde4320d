//! Why a booked step is not earlier: what it waits for, when the workshop is shut, and who uses what it needs.
//!
//! All other bookings are taken as they are. Each start that could be tried, from the first at which the step's own
//! project is ready, is blocked by something; the list says by what, each thing once.

use super::plan::{Given, Job, Lends, Plan, PlannedBooking, Planning, Use};
use super::step::{Presence, Step};
use crate::calc::schedule::Window;
use crate::units::{Minutes, WallMinute};

/// One thing that keeps a step from starting earlier.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reason {
    /// Planning begins only then.
    Begins { at: WallMinute },
    /// It is done, running or pinned.
    Given,
    /// A step of its own project ends then, and `gap` must pass.
    Waits {
        key: String,
        ends: WallMinute,
        gap: Minutes,
    },
    /// A later step of its own project would then come too late after it.
    TooLong { key: String, at_most: Minutes },
    /// The workshop is shut to it, or open too short, until then. `machines`: it needs a steward on duty.
    Shut { until: WallMinute, machines: bool },
    /// Its maker is at other work until then; the step, if it is of this plan.
    AtWork {
        until: WallMinute,
        step: Option<(String, String)>,
    },
    /// Too few are free until then.
    InUse {
        what: Lends,
        free: u32,
        asked: u32,
        until: WallMinute,
        by: Vec<User>,
    },
}

/// Who uses something.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum User {
    /// A step of a job of the plan.
    Step { job: String, key: String },
    /// A booking that is not planned here: the id of what it uses.
    Other { id: String },
}

/// Starts tried at most; a plan of a year has fewer.
const MOST_TRIED: usize = 2000;

/// What keeps a step from starting earlier than the plan has it, in the order in which it stands in the way. Empty
/// where there is no such step, or where nothing does.
pub fn why_not_earlier(planning: &Planning, plan: &Plan, job: &str, key: &str) -> Vec<Reason> {
    let Some(of) = planning.jobs.iter().find(|of| of.id == job) else {
        return Vec::new();
    };
    let Some(step) = of.steps.iter().find(|step| step.key == key) else {
        return Vec::new();
    };
    let Some(booked) = booking(plan, job, key) else {
        return Vec::new();
    };
    if of.given.iter().any(|Given { key: given, .. }| given == key) {
        return vec![Reason::Given];
    }
    let (ready, mut reasons) = ready(planning, plan, of, step);
    if booked.from <= ready {
        return reasons;
    }
    reasons.extend(later_steps(plan, of, booked, ready));
    let windows = windows(planning, of, step);
    let others = other_uses(planning, plan, booked);
    let at_work = other_work(planning, plan, of, booked);
    let ends = others.iter().map(|(used, _)| used.to);
    // Nothing changes between the ends of uses and the begins of windows.
    let mut tried: Vec<WallMinute> = windows
        .iter()
        .flatten()
        .map(|window| window.from)
        .chain(ends)
        .chain(at_work.iter().map(|(window, _)| window.to))
        .chain([ready])
        .filter(|start| (ready..booked.from).contains(start))
        .collect();
    tried.sort();
    tried.dedup();
    for start in tried.into_iter().take(MOST_TRIED) {
        if let Some(until) = shut_until(windows.as_deref(), start, booked) {
            let machines = step.presence == Presence::Machine;
            add(&mut reasons, Reason::Shut { until, machines });
            continue;
        }
        let ends = start + (booked.to - booked.from);
        let work = at_work
            .iter()
            .filter(|(window, _)| step.is_attended() && window.from < ends && start < window.to);
        for (window, step) in work {
            let until = window.to.min(booked.from);
            let step = step.clone();
            add(&mut reasons, Reason::AtWork { until, step });
        }
        for reason in in_use(planning, booked, &others, start) {
            add(&mut reasons, reason);
        }
    }
    reasons
}

fn booking<'a>(plan: &'a Plan, job: &str, key: &str) -> Option<&'a PlannedBooking> {
    plan.bookings
        .iter()
        .find(|booking| booking.job == job && booking.key == key)
}

/// When all that the step waits for is done, and the waits that decide it.
fn ready(planning: &Planning, plan: &Plan, of: &Job, step: &Step) -> (WallMinute, Vec<Reason>) {
    let waits: Vec<(WallMinute, Reason)> = step
        .after
        .iter()
        .filter_map(|after| {
            let earlier = booking(plan, &of.id, &after.key)?;
            let reason = Reason::Waits {
                key: after.key.clone(),
                ends: earlier.to,
                gap: after.min_gap,
            };
            Some((earlier.to + after.min_gap, reason))
        })
        .chain([(planning.from, Reason::Begins { at: planning.from })])
        .collect();
    let ready = waits
        .iter()
        .map(|(at, _)| *at)
        .max()
        .unwrap_or(planning.from);
    let deciding = waits
        .into_iter()
        .filter(|(at, _)| *at == ready)
        .map(|(_, reason)| reason);
    (ready, deciding.collect())
}

/// Later steps that may follow within so long only.
fn later_steps(plan: &Plan, of: &Job, booked: &PlannedBooking, ready: WallMinute) -> Vec<Reason> {
    let minutes = booked.to - booked.from;
    of.steps
        .iter()
        .flat_map(|later| later.after.iter().map(move |after| (later, after)))
        .filter(|(_, after)| after.key == booked.key)
        .filter_map(|(later, after)| {
            let at_most = after.max_gap?;
            let begins = booking(plan, &of.id, &later.key)?.from;
            let is_bound = ready + minutes + at_most < begins;
            is_bound.then(|| Reason::TooLong {
                key: later.key.clone(),
                at_most,
            })
        })
        .collect()
}

/// When the step may run; `None` where it may at any hour.
fn windows(planning: &Planning, of: &Job, step: &Step) -> Option<Vec<Window>> {
    let machines = match step.presence {
        Presence::Alone => return None,
        Presence::Member => false,
        Presence::Machine => true,
    };
    let openings = of.openings.as_ref().unwrap_or(&planning.openings);
    let mut windows: Vec<Window> = openings
        .iter()
        .filter(|opening| opening.machines || !machines)
        .map(|opening| opening.window)
        .collect();
    windows.sort_by_key(|window| (window.from, window.to));
    Some(windows)
}

/// If the step cannot lie in a window from `start` on: when the next window in which it fits begins, or it is
/// booked.
fn shut_until(
    windows: Option<&[Window]>,
    start: WallMinute,
    booked: &PlannedBooking,
) -> Option<WallMinute> {
    let windows = windows?;
    let minutes = booked.to - booked.from;
    let fits = |from: WallMinute, window: &Window| from + minutes <= window.to;
    if windows
        .iter()
        .any(|window| window.from <= start && fits(start, window))
    {
        return None;
    }
    let next = windows
        .iter()
        .find(|window| window.from > start && fits(window.from, window));
    Some(next.map_or(booked.from, |window| window.from.min(booked.from)))
}

/// What else the maker attends, with the step of the plan that it is.
fn other_work(
    planning: &Planning,
    plan: &Plan,
    of: &Job,
    booked: &PlannedBooking,
) -> Vec<(Window, Option<(String, String)>)> {
    let Some(maker) = &of.maker else {
        return Vec::new();
    };
    let is_own = |job: &str| {
        let mut jobs = planning.jobs.iter();
        jobs.any(|other| other.id == job && other.maker.as_ref() == Some(maker))
    };
    let planned = plan
        .bookings
        .iter()
        .filter(|other| other.is_attended && is_own(&other.job))
        // The step itself, and those that run with it as one.
        .filter(|other| (other.from, other.to) != (booked.from, booked.to))
        .map(|other| {
            let window = Window {
                from: other.from,
                to: other.to,
            };
            (window, Some((other.job.clone(), other.key.clone())))
        });
    let elsewhere = planning
        .at_work
        .iter()
        .filter(|other| other.maker == *maker)
        .map(|other| {
            let window = Window {
                from: other.from,
                to: other.to,
            };
            (window, None)
        });
    planned.chain(elsewhere).collect()
}

/// All uses but the step's own, with their users.
fn other_uses(planning: &Planning, plan: &Plan, booked: &PlannedBooking) -> Vec<(Use, User)> {
    let planned = plan
        .bookings
        .iter()
        .filter(|other| *other != booked)
        .flat_map(|other| {
            let user = User::Step {
                job: other.job.clone(),
                key: other.key.clone(),
            };
            other
                .uses
                .iter()
                .map(move |used| (used.clone(), user.clone()))
        });
    let given = planning.used.iter().map(|used| {
        (
            used.clone(),
            User::Other {
                id: used.id.clone(),
            },
        )
    });
    planned.chain(given).collect()
}

/// What the step uses and would find taken if it began at `start`: everything of the same kind that
/// reaches as far and presses as hard counts as free for it.
fn in_use(
    planning: &Planning,
    booked: &PlannedBooking,
    others: &[(Use, User)],
    start: WallMinute,
) -> Vec<Reason> {
    let what = |id: &str| {
        planning
            .lent
            .iter()
            .find(|lent| lent.id == id)
            .map(|lent| lent.what)
    };
    // What it has been handed, by kind: of clamps the shortest reach and the least force that it was given.
    let mut asks: Vec<(Lends, u32, WallMinute)> = Vec::new();
    for used in &booked.uses {
        let Some(lends) = what(&used.id) else {
            continue;
        };
        let known = asks.iter_mut().find(|(known, _, _)| {
            std::mem::discriminant(known) == std::mem::discriminant(&lends)
                && (matches!(lends, Lends::Clamps { .. }) || *known == lends)
        });
        match known {
            Some((known, amount, to)) => {
                *known = match (*known, lends) {
                    (
                        Lends::Clamps { reach, force },
                        Lends::Clamps {
                            reach: other_reach,
                            force: other_force,
                        },
                    ) => Lends::Clamps {
                        reach: reach.min(other_reach),
                        force: force.min(other_force),
                    },
                    (known, _) => known,
                };
                *amount += used.amount;
                *to = (*to).max(used.to);
            }
            None => asks.push((lends, used.amount, used.to)),
        }
    }
    asks.into_iter()
        .filter_map(|(lends, asked, to)| {
            let serves = |other: Lends| match (lends, other) {
                (
                    Lends::Clamps { reach, force },
                    Lends::Clamps {
                        reach: other_reach,
                        force: other_force,
                    },
                ) => other_reach >= reach && other_force >= force,
                (one, other) => one == other,
            };
            let of_kind = planning.lent.iter().filter(|lent| serves(lent.what));
            let count: u32 = of_kind.map(|lent| lent.count).sum();
            let taken: Vec<&(Use, User)> = others
                .iter()
                .filter(|(used, _)| what(&used.id).is_some_and(serves))
                .filter(|(used, _)| used.from < to && used.to > start)
                .collect();
            let moments = taken.iter().map(|(used, _)| used.from.max(start));
            let at = |moment: WallMinute| {
                taken
                    .iter()
                    .filter(move |(used, _)| used.from <= moment && moment < used.to)
            };
            let (most, moment) = moments
                .map(|moment| (at(moment).map(|(used, _)| used.amount).sum::<u32>(), moment))
                .max()?;
            let free = count.saturating_sub(most);
            (free < asked).then(|| {
                let mut by: Vec<User> = at(moment).map(|(_, user)| user.clone()).collect();
                by.sort();
                by.dedup();
                let until = at(moment).map(|(used, _)| used.to).min().unwrap_or(moment);
                Reason::InUse {
                    what: lends,
                    free,
                    asked,
                    until: until.min(booked.from),
                    by,
                }
            })
        })
        .collect()
}

/// Adds a reason, or lengthens the one of its kind that is there.
fn add(reasons: &mut Vec<Reason>, reason: Reason) {
    for known in reasons.iter_mut() {
        match (known, &reason) {
            (Reason::Shut { until, .. }, Reason::Shut { until: later, .. }) => {
                *until = (*until).max(*later);
                return;
            }
            (
                Reason::InUse {
                    what,
                    free,
                    until,
                    by,
                    ..
                },
                Reason::InUse {
                    what: same,
                    free: fewer,
                    until: later,
                    by: more,
                    ..
                },
            ) if *what == *same => {
                *free = (*free).min(*fewer);
                *until = (*until).max(*later);
                by.extend(more.iter().cloned());
                by.sort();
                by.dedup();
                return;
            }
            (
                Reason::AtWork { until, step },
                Reason::AtWork {
                    until: later,
                    step: same,
                },
            ) if *step == *same => {
                *until = (*until).max(*later);
                return;
            }
            _ => {}
        }
    }
    reasons.push(reason);
}
