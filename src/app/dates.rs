//! Questions about dates: how early can it be ready, how late may it be started, and what would
//! make a difference.

use std::time::Duration;

use jiff::Timestamp;
use jiff::civil::Date;

use super::App;
use super::days::{day_of, instant_of};
use super::plan::{self, PlanError, ReadyDate};
use super::planning::{Ground, Suppose, instant, minute_of};
use crate::calc::work::{Plan, Planning};
use crate::store::{By, ProjectId};

/// How early a project can be ready, and whether its due date can be met.
#[derive(Clone, Debug, PartialEq)]
pub struct Earliest {
    /// The end of the last step in the earliest plan that was found.
    pub ready_at: Timestamp,
    pub ready_day: Date,
    /// Whether no plan can be ready earlier.
    pub proven: bool,
    pub due_day: Option<Date>,
    /// Whether the due date can be met, if there is one: `false` is certain only where `proven`.
    pub in_time: Option<bool>,
}

/// The latest opening with which the work must begin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LatestStart {
    /// Work that begins on this day can still be ready in time; later it cannot, or no way was
    /// found.
    Day(Date),
    /// Not even at once.
    TooLate,
}

async fn ground(
    app: &App,
    by: By,
    ids: &[ProjectId],
    suppose: &Suppose,
) -> Result<Ground, PlanError> {
    let mut read = app.store.read().acquire().await?;
    Ok(Ground::load(&mut read, by.at, ids, suppose).await?)
}

/// The plan of one project that is ready earliest, everybody else's bookings as they are. The
/// project's own bookings that have not begun may move.
async fn earliest_plan(app: &App, ground: &Ground, time: Duration) -> Result<Plan, PlanError> {
    let mut ground = ground.clone();
    for job in &mut ground.planning.jobs {
        // Without a date the end of the last task is what is made early.
        job.due = None;
        job.prefer.clear();
    }
    Ok(plan::best(app, &ground, time, |_| {}).await?.0)
}

/// How early a project can be ready.
pub async fn earliest(
    app: &App,
    by: By,
    id: ProjectId,
    time: Duration,
) -> Result<Earliest, PlanError> {
    let ground = ground(app, by, &[id], &Suppose::default()).await?;
    let plan = earliest_plan(app, &ground, time).await?;
    let ready_at = instant(plan.finish);
    let due = ground.planning.jobs.first().and_then(|job| job.due);
    // What ends at midnight is ready on the day that ends.
    let last_second = ready_at.saturating_sub(jiff::SignedDuration::from_secs(1));
    Ok(Earliest {
        ready_at,
        ready_day: day_of(last_second.unwrap_or(ready_at), &ground.hours.zone),
        proven: plan.proven,
        due_day: ground
            .projects
            .first()
            .and_then(|project| project.about.due_day),
        in_time: due.map(|(by, _)| plan.finish <= by),
    })
}

/// Until when the work on a project may wait so that it is still ready on `due_day`.
///
/// Later starts never help, so the last day is found by halving; each try has its share of `time`.
pub async fn latest_start(
    app: &App,
    by: By,
    id: ProjectId,
    due_day: Date,
    time: Duration,
) -> Result<LatestStart, PlanError> {
    let ground = ground(app, by, &[id], &Suppose::default()).await?;
    let zone = &ground.hours.zone;
    let today = day_of(by.at, zone);
    let due = minute_of(instant_of(due_day, 1440, zone));
    let mut days: Vec<Date> = ground
        .hours
        .openings(today, due_day)
        .iter()
        .filter(|span| span.to > by.at)
        .map(|span| span.day)
        .collect();
    days.dedup();
    let n_tries = days.len().max(1).ilog2() + 2;
    let share = time / n_tries;
    let mut low = 0;
    let mut high = days.len();
    // Days before `low` do, days from `high` on do not.
    while low < high {
        let middle = low + (high - low) / 2;
        let begin = minute_of(instant_of(days[middle], 0, zone)).max(ground.planning.from);
        let mut planning = Planning {
            from: begin,
            ..ground.planning.clone()
        };
        for job in &mut planning.jobs {
            job.due = None;
            job.prefer.clear();
        }
        let does = match plan::solve(app, planning, share, |_| {}).await {
            Ok((plan, _)) => plan.finish <= due,
            Err(PlanError::NoSchedule(_) | PlanError::NotFoundInTime) => false,
            Err(error) => return Err(error),
        };
        if does {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    Ok(match low.checked_sub(1).and_then(|last| days.get(last)) {
        Some(day) => LatestStart::Day(*day),
        None => LatestStart::TooLate,
    })
}

/// Dates as they would be now, and with what is supposed.
#[derive(Clone, Debug, PartialEq)]
pub struct WhatIf {
    pub now: Vec<ReadyDate>,
    pub then: Vec<ReadyDate>,
    /// Whether both plans are proven best, so that the difference is real.
    pub proven: bool,
}

/// What supposed openings, clamps or coats left out would do to the dates of some projects.
pub async fn what_if(
    app: &App,
    by: By,
    ids: &[ProjectId],
    suppose: &Suppose,
    time: Duration,
) -> Result<WhatIf, PlanError> {
    let ids = &plan::each_once(ids)?;
    let now = ground(app, by, ids, &Suppose::default()).await?;
    let then = ground(app, by, ids, suppose).await?;
    let (plan_now, _, _) = plan::best(app, &now, time / 2, |_| {}).await?;
    let (plan_then, _, _) = plan::best(app, &then, time / 2, |_| {}).await?;
    Ok(WhatIf {
        now: plan::ready_dates(&now, &plan_now),
        then: plan::ready_dates(&then, &plan_then),
        proven: plan_now.proven && plan_then.proven,
    })
}
