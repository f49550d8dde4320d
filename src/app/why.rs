//! Why a step is not earlier: what it waits for, when the workshop is shut, and who uses what it needs.

use jiff::Timestamp;
use sqlx::SqliteConnection;

use super::book;
use super::days::day_of;
use super::plan::{self, PlanError, PlannedStep};
use super::planning::{Ground, Suppose, instant, job_id, minute_of, project_of};
use crate::calc::schedule::{Bound, Tardiness};
use crate::calc::work::{Lends, Plan, PlannedBooking, Reason, Use, User, why_not_earlier};
use crate::store::booking::{self, Booking};
use crate::store::{BookingId, By, ProjectId, ProposalId, ResourceId};
use crate::units::{Length, Minutes};

/// One thing that keeps a step from starting earlier.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WhyNot {
    /// Nothing can begin before now.
    Now,
    /// It is done, running or pinned.
    Settled,
    /// A step of its own project ends then, and `gap` must pass.
    Waits {
        step: String,
        ends: Timestamp,
        gap: Minutes,
    },
    /// A later step of its own project would then come too late after it.
    TooLong { step: String, at_most: Minutes },
    /// The workshop is shut, or open too short, until then; the reason of the closure, if it is one.
    Shut {
        until: Timestamp,
        machines: bool,
        closure: Option<String>,
    },
    /// Its member is at other work until then.
    AtWork {
        member_name: String,
        until: Timestamp,
        by: Vec<UsedBy>,
    },
    /// Too few are free until then.
    InUse {
        what: Lent,
        free: u32,
        asked: u32,
        until: Timestamp,
        by: Vec<UsedBy>,
    },
}

/// What is in use.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Lent {
    ClampsThatReach(Length),
    /// By its name.
    Station(&'static str),
}

/// Who uses it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct UsedBy {
    pub project: ProjectId,
    pub project_name: String,
    pub member_name: String,
    pub step: String,
}

/// Why a booking is not earlier, in the order in which things stand in the way.
pub async fn of_booking(
    db: &mut SqliteConnection,
    by: By,
    id: BookingId,
) -> Result<Vec<WhyNot>, PlanError> {
    let booking = booking::find(&mut *db, id)
        .await?
        .ok_or(PlanError::Unknown)?;
    let ground = Ground::load(db, by.at, &[booking.project], &Suppose::default()).await?;
    let mut planned = Vec::with_capacity(ground.bookings.len());
    for known in &ground.bookings {
        let uses = ground
            .uses
            .get(&known.id)
            .map(Vec::as_slice)
            .unwrap_or_default();
        planned.push(PlannedBooking {
            job: job_id(known.project),
            key: known.step.clone(),
            name: known.name.clone(),
            from: minute_of(known.from),
            to: minute_of(known.to),
            is_attended: known.attended,
            uses: uses
                .iter()
                .filter_map(|used| use_of(&ground, used))
                .collect(),
        });
    }
    explain(db, &ground, planned, booking.project, &booking.step).await
}

/// Why a step of a kept plan is not earlier.
pub async fn of_proposal(
    db: &mut SqliteConnection,
    by: By,
    id: ProposalId,
    project: ProjectId,
    step: &str,
) -> Result<Vec<WhyNot>, PlanError> {
    let (answer, _, _) = plan::find(&mut *db, id).await?;
    let mut ids: Vec<ProjectId> = answer.steps.iter().map(|step| step.project).collect();
    ids.sort_unstable();
    ids.dedup();
    let ground = Ground::load(db, by.at, &ids, &Suppose::default()).await?;
    let planned = answer
        .steps
        .iter()
        .filter_map(|step| planned_of(&ground, step))
        .collect();
    explain(db, &ground, planned, project, step).await
}

fn name_of(ground: &Ground, id: ResourceId) -> Option<String> {
    let found = ground.resources.iter().find(|resource| resource.id == id)?;
    Some(found.about.name.clone())
}

fn use_of(ground: &Ground, used: &booking::Use) -> Option<Use> {
    Some(Use {
        id: name_of(ground, used.resource)?,
        from: minute_of(used.from),
        to: minute_of(used.to),
        amount: used.amount,
    })
}

fn planned_of(ground: &Ground, step: &PlannedStep) -> Option<PlannedBooking> {
    let booking = book::new_booking(step)?;
    Some(PlannedBooking {
        job: job_id(step.project),
        key: step.step.clone(),
        name: step.name.clone(),
        from: minute_of(booking.from),
        to: minute_of(booking.to),
        is_attended: step.attended,
        uses: booking
            .uses
            .iter()
            .filter_map(|used| use_of(ground, used))
            .collect(),
    })
}

async fn explain(
    db: &mut SqliteConnection,
    ground: &Ground,
    bookings: Vec<PlannedBooking>,
    project: ProjectId,
    step: &str,
) -> Result<Vec<WhyNot>, PlanError> {
    let finish = bookings
        .iter()
        .map(|booking| booking.to)
        .max()
        .unwrap_or(ground.planning.from);
    let plan = Plan {
        bookings,
        tardiness: Tardiness(0),
        finish,
        moved: 0,
        bound: Bound {
            tardiness: Tardiness(0),
            finish,
        },
        proven: false,
        unlisted: Vec::new(),
    };
    let reasons = why_not_earlier(&ground.planning, &plan, &job_id(project), step);
    let starts = plan
        .bookings
        .iter()
        .find(|booking| booking.job == job_id(project) && booking.key == step)
        .map_or(ground.planning.from, |booking| booking.from);
    let begins = instant(ground.planning.from);
    let others = booking::list_between(&mut *db, begins, instant(starts), None).await?;
    let uses = booking::list_uses_between(&mut *db, begins, instant(starts)).await?;
    let named = |key: &str| {
        let found = plan
            .bookings
            .iter()
            .find(|booking| booking.job == job_id(project) && booking.key == key);
        found.map_or_else(|| key.to_owned(), |booking| booking.name.clone())
    };
    let member = ground.projects.iter().find(|known| known.id == project);
    let elsewhere = |until: Timestamp| -> Vec<UsedBy> {
        let of_member = others.iter().filter(|other| {
            other.attended
                && other.from < until
                && member.is_some_and(|known| known.member == other.member)
                && ground
                    .projects
                    .iter()
                    .all(|known| known.id != other.project)
        });
        of_member.map(used_by).collect()
    };
    let who = |user: &User, until: Timestamp| -> Vec<UsedBy> {
        match user {
            User::Step { job, key } => project_of(job)
                .and_then(|project| {
                    let known = ground.projects.iter().find(|known| known.id == project)?;
                    let own =
                        |booking: &&PlannedBooking| booking.job == *job && booking.key == *key;
                    Some(UsedBy {
                        project,
                        project_name: known.about.name.clone(),
                        member_name: known.member_name.clone(),
                        step: plan.bookings.iter().find(own)?.name.clone(),
                    })
                })
                .into_iter()
                .collect(),
            User::Other { id } => uses
                .iter()
                .filter(|booked| {
                    name_of(ground, booked.used.resource).as_deref() == Some(id)
                        && booked.used.from < until
                        && ground
                            .projects
                            .iter()
                            .all(|known| known.id != booked.project)
                })
                .filter_map(|booked| others.iter().find(|other| other.id == booked.booking))
                .map(used_by)
                .collect(),
        }
    };
    Ok(reasons
        .into_iter()
        .map(|reason| match reason {
            Reason::Begins { .. } => WhyNot::Now,
            Reason::Given => WhyNot::Settled,
            Reason::Waits { key, ends, gap } => WhyNot::Waits {
                step: named(&key),
                ends: instant(ends),
                gap,
            },
            Reason::TooLong { key, at_most } => WhyNot::TooLong {
                step: named(&key),
                at_most,
            },
            Reason::Shut { until, machines } => {
                let before = instant(until) - jiff::SignedDuration::from_secs(1);
                let mut day = day_of(before, &ground.hours.zone);
                let mut closure = ground.hours.closure_on(day);
                if closure.is_none()
                    && let Ok(yesterday) = day.yesterday()
                {
                    day = yesterday;
                    closure = ground.hours.closure_on(day);
                }
                WhyNot::Shut {
                    until: instant(until),
                    machines,
                    closure: closure.map(|closure| closure.days.reason.clone()),
                }
            }
            Reason::AtWork { until, step } => {
                let until = instant(until);
                let mut by = match step {
                    Some((job, key)) => who(&User::Step { job, key }, until),
                    None => elsewhere(until),
                };
                by.sort_unstable();
                by.dedup();
                WhyNot::AtWork {
                    member_name: member.map_or_else(String::new, |known| known.member_name.clone()),
                    until,
                    by,
                }
            }
            Reason::InUse {
                what,
                free,
                asked,
                until,
                by,
            } => {
                let until = instant(until);
                let mut by: Vec<UsedBy> = by.iter().flat_map(|user| who(user, until)).collect();
                by.sort_unstable();
                by.dedup();
                let what = match what {
                    Lends::Clamps { reach, .. } => Lent::ClampsThatReach(reach),
                    Lends::Station(station) => Lent::Station(station.name()),
                };
                WhyNot::InUse {
                    what,
                    free,
                    asked,
                    until,
                    by,
                }
            }
        })
        .collect())
}

fn used_by(booking: &Booking) -> UsedBy {
    UsedBy {
        project: booking.project,
        project_name: booking.project_name.clone(),
        member_name: booking.member_name.clone(),
        step: booking.name.clone(),
    }
}
