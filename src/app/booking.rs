//! Single bookings: begun, done, moved to another possible time, cancelled.

use std::collections::BTreeMap;

use jiff::Timestamp;
use sqlx::SqliteConnection;

use super::book;
use super::fixed::{fixed, given_of};
use super::plan::{self, PlanError};
use super::planning::{Ground, Suppose, instant, members_of, minute_of};
use super::project::{self as projects, ProjectError};
use super::stage;
use crate::calc::work::{Plan, Planning, Presence};
use crate::store::booking::{self, Booking, BookingState, NewBooking, Use};
use crate::store::project::Stage;
use crate::store::{BookingId, By, Refusal};
use crate::units::{Minutes, WallMinute};

/// Possible times lie so many minutes apart.
const STEP_MINUTES: i64 = 15;
/// So many possible times are listed at most.
const MOST_TIMES: usize = 120;
/// So many times are tried at most.
const MOST_TRIES: usize = 3_000;

/// A time to which a booking can be moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PossibleTime {
    pub from: Timestamp,
    pub to: Timestamp,
}

/// Why a booking was not changed.
#[derive(Debug, thiserror::Error)]
pub enum BookingError {
    #[error("there is no such booking")]
    Unknown,
    #[error("somebody changed it meanwhile")]
    Stale,
    /// It has begun, so it stays where it is.
    #[error("it has begun already")]
    Begun,
    /// It shares its clamps with panels of other projects, which would have to move too.
    #[error("it shares its clamps with other projects")]
    Shared,
    /// The time breaks a rule: the workshop is shut, clamps are in use, or another step of the
    /// project is too near or too far.
    #[error("it cannot be at that time")]
    NotPossible,
    #[error(transparent)]
    Plan(PlanError),
}

impl From<sqlx::Error> for BookingError {
    fn from(error: sqlx::Error) -> BookingError {
        BookingError::Plan(error.into())
    }
}

impl From<Refusal> for BookingError {
    fn from(refusal: Refusal) -> BookingError {
        match refusal {
            Refusal::Stale => BookingError::Stale,
            Refusal::ResourceInUse => BookingError::NotPossible,
            other => BookingError::Plan(other.into()),
        }
    }
}

impl From<PlanError> for BookingError {
    fn from(error: PlanError) -> BookingError {
        match error {
            PlanError::Stale => BookingError::Stale,
            PlanError::BookedMeanwhile => BookingError::NotPossible,
            other => BookingError::Plan(other),
        }
    }
}

/// What moving one booking rests on: its project's other bookings stay where they are.
struct Move {
    ground: Ground,
    /// Every booked step given; the one that moves has no clamps handed out yet.
    planning: Planning,
    booking: Booking,
    /// Of the step; bookings of steps that the design no longer has are taken as attended.
    presence: Presence,
}

impl Move {
    async fn load(
        db: &mut SqliteConnection,
        by: By,
        booking: Booking,
    ) -> Result<Move, BookingError> {
        let project = booking.project;
        let ground = Ground::load(db, by.at, &[project], &Suppose::default())
            .await
            .map_err(|error| BookingError::Plan(error.into()))?;
        let mut planning = ground.planning.clone();
        planning.loads.clear();
        let mut presence = Presence::Member;
        for job in &mut planning.jobs {
            job.steps
                .retain(|step| ground.booking(project, &step.key).is_some());
            for step in &mut job.steps {
                let Some(known) = ground.booking(project, &step.key) else {
                    continue;
                };
                let uses = ground
                    .uses
                    .get(&known.id)
                    .map(Vec::as_slice)
                    .unwrap_or_default();
                let given = given_of(&mut job.given, &step.key);
                given.from = minute_of(known.from);
                given.to = minute_of(known.to);
                given.uses = if known.id == booking.id {
                    Vec::new()
                } else {
                    ground.handed(uses)
                };
                if known.id == booking.id {
                    presence = step.presence;
                } else if known.clamp_load.is_some() && uses.is_empty() {
                    step.hold = None;
                    step.stations.clear();
                }
            }
        }
        Ok(Move {
            ground,
            planning,
            booking,
            presence,
        })
    }

    /// The plan with the booking at another start, if it keeps all rules.
    fn at(&self, from: WallMinute) -> Option<Plan> {
        let minutes = minute_of(self.booking.to) - minute_of(self.booking.from);
        let (starts, ends) = (instant(from), instant(from + minutes));
        let is_open = match self.presence {
            Presence::Alone => true,
            Presence::Member => self.ground.windows.hold(starts, ends),
            Presence::Machine => self.ground.windows.hold_machines(starts, ends),
        };
        if from < self.planning.from || !is_open || self.is_at_work(from, from + minutes) {
            return None;
        }
        let mut planning = self.planning.clone();
        for job in &mut planning.jobs {
            let given = given_of(&mut job.given, &self.booking.step);
            given.from = from;
            given.to = from + minutes;
        }
        let plan = fixed(&planning).ok()?;
        // A step that the design no longer asks for has no place in a plan.
        let is_planned = plan
            .bookings
            .iter()
            .any(|planned| planned.key == self.booking.step);
        is_planned.then_some(plan)
    }

    /// Whether the member has something else to do then.
    fn is_at_work(&self, from: WallMinute, to: WallMinute) -> bool {
        let elsewhere = self.planning.at_work.iter();
        let elsewhere = elsewhere.map(|other| (other.from, other.to));
        let own = self.ground.bookings.iter().filter(|other| {
            other.attended && other.state != BookingState::Done && other.id != self.booking.id
        });
        let own = own.map(|other| (minute_of(other.from), minute_of(other.to)));
        self.presence != Presence::Alone
            && elsewhere
                .chain(own)
                .any(|(starts, ends)| starts < to && from < ends)
    }

    /// Starts worth trying: every quarter of an hour of the openings, or of the day for what
    /// nobody attends, from the step before on.
    fn tries(&self) -> Vec<WallMinute> {
        let minutes = minute_of(self.booking.to) - minute_of(self.booking.from);
        let ends_at = self.planning.to;
        let (earliest, latest) = self.between(minutes);
        let mut tries = Vec::new();
        let mut add = |from: WallMinute, to: WallMinute| {
            let quarter = |minute: i64| minute.div_euclid(STEP_MINUTES) * STEP_MINUTES;
            let first = from.max(earliest);
            let mut start = first;
            while start + minutes <= to && start <= latest && tries.len() < MOST_TRIES {
                tries.push(start);
                start = WallMinute(quarter(start.0) + STEP_MINUTES);
            }
        };
        match self.presence {
            Presence::Alone => add(self.planning.from, ends_at),
            Presence::Member | Presence::Machine => {
                let windows = match self.presence {
                    Presence::Machine => &self.ground.windows.machines,
                    _ => &self.ground.windows.open,
                };
                for (opens, shuts) in windows {
                    add(minute_of(*opens), minute_of(*shuts));
                }
            }
        }
        tries
    }

    /// The earliest and the latest start that the project's other bookings leave.
    fn between(&self, minutes: Minutes) -> (WallMinute, WallMinute) {
        let mut earliest = self.planning.from;
        let mut latest = self.planning.to;
        for job in &self.planning.jobs {
            let times: BTreeMap<&str, (WallMinute, WallMinute)> = job
                .given
                .iter()
                .map(|given| (given.key.as_str(), (given.from, given.to)))
                .collect();
            for step in &job.steps {
                for after in &step.after {
                    if step.key == self.booking.step
                        && let Some((_, ends)) = times.get(after.key.as_str())
                    {
                        earliest = earliest.max(*ends + after.min_gap);
                        if let Some(most) = after.max_gap {
                            latest = latest.min(*ends + most);
                        }
                    }
                    if after.key == self.booking.step
                        && let Some((starts, _)) = times.get(step.key.as_str())
                    {
                        let gap = Minutes(minutes.0 + after.min_gap.0);
                        latest = latest.min(WallMinute(starts.0 - gap.0));
                    }
                }
            }
        }
        (earliest, latest)
    }
}

async fn movable(db: &mut SqliteConnection, id: BookingId) -> Result<Booking, BookingError> {
    let booking = booking::find(db, id).await?.ok_or(BookingError::Unknown)?;
    if booking.state != BookingState::Planned {
        return Err(BookingError::Begun);
    }
    if booking.clamp_load.is_some() {
        return Err(BookingError::Shared);
    }
    Ok(booking)
}

/// The times to which a booking can be moved while all others stay, soonest first.
pub async fn possible_times(
    db: &mut SqliteConnection,
    by: By,
    id: BookingId,
) -> Result<Vec<PossibleTime>, BookingError> {
    let booking = movable(db, id).await?;
    let moving = Move::load(db, by, booking).await?;
    // Some thousand small checks: a few milliseconds that other requests should not wait for.
    let times = tokio::task::spawn_blocking(move || {
        let minutes = minute_of(moving.booking.to) - minute_of(moving.booking.from);
        let possible = moving
            .tries()
            .into_iter()
            .filter(|from| moving.at(*from).is_some());
        possible
            .take(MOST_TIMES)
            .map(|from| PossibleTime {
                from: instant(from),
                to: instant(from + minutes),
            })
            .collect()
    });
    Ok(times.await.unwrap_or_default())
}

/// Moves a booking to another possible time.
pub async fn move_to(
    db: &mut SqliteConnection,
    by: By,
    id: BookingId,
    version: i64,
    from: Timestamp,
) -> Result<(), BookingError> {
    let booking = movable(db, id).await?;
    if booking.version != version {
        return Err(BookingError::Stale);
    }
    let moving = Move::load(db, by, booking).await?;
    let plan = moving
        .at(minute_of(from))
        .ok_or(BookingError::NotPossible)?;
    let steps = plan::steps_of(&moving.ground, &plan, &[]);
    // A step that the design no longer has keeps its booking as it is.
    let bookings: Vec<NewBooking> = steps.iter().filter_map(book::new_booking).collect();
    let existing: Vec<Booking> = moving
        .ground
        .bookings
        .iter()
        .filter(|known| bookings.iter().any(|booking| booking.step == known.step))
        .cloned()
        .collect();
    Ok(book::book(db, by, &existing, &bookings).await?)
}

/// Says that a step has begun: with it the panels that go into the same clamps, and whatever comes
/// before it has been done.
pub async fn begin(
    db: &mut SqliteConnection,
    by: By,
    id: BookingId,
    version: i64,
) -> Result<(), BookingError> {
    let booking = booking::find(&mut *db, id)
        .await?
        .ok_or(BookingError::Unknown)?;
    if booking.state != BookingState::Planned {
        return Err(BookingError::Begun);
    }
    booking::set_state(db, by, id, version, BookingState::Running).await?;
    let mut begun = vec![booking];
    for (project, step) in members_of(begun[0].clamp_load.as_deref()) {
        for other in booking::list_of_project(&mut *db, project).await? {
            if other.step == step && other.state == BookingState::Planned {
                booking::set_state(db, by, other.id, other.version, BookingState::Running).await?;
                begun.push(other);
            }
        }
    }
    for booking in &begun {
        settle_before(db, by, booking).await?;
        stage::refresh(db, by, booking.project).await?;
    }
    Ok(())
}

/// Books the planned steps that come before one as done: without them it could not have begun.
async fn settle_before(
    db: &mut SqliteConnection,
    by: By,
    begun: &Booking,
) -> Result<(), BookingError> {
    let project = projects::get(&mut *db, begun.project).await;
    // A design that cannot be worked out any more does not tell what comes before what.
    let Ok(project) = project else { return Ok(()) };
    let Ok(needs) = projects::needs(&mut *db, &project).await else {
        return Ok(());
    };
    let mut before: Vec<&str> = Vec::new();
    let mut open = vec![begun.step.as_str()];
    while let Some(key) = open.pop() {
        for step in needs.steps.iter().filter(|step| step.key == key) {
            for after in &step.after {
                if !before.contains(&after.key.as_str()) {
                    before.push(&after.key);
                    open.push(&after.key);
                }
            }
        }
    }
    for known in booking::list_of_project(&mut *db, begun.project).await? {
        let is_open = known.state != BookingState::Done;
        if is_open && before.contains(&known.step.as_str()) {
            booking::set_state(db, by, known.id, known.version, BookingState::Done).await?;
        }
    }
    Ok(())
}

/// Says that a step is done. What it used, and what was held until it, is free from now on if it
/// was booked for longer.
pub async fn finish(
    db: &mut SqliteConnection,
    by: By,
    id: BookingId,
    version: i64,
) -> Result<(), BookingError> {
    let done = booking::find(&mut *db, id)
        .await?
        .ok_or(BookingError::Unknown)?;
    booking::set_state(db, by, id, version, BookingState::Done).await?;
    settle_before(db, by, &done).await?;
    let now = instant(minute_of(by.at) + Minutes(1));
    for known in booking::list_of_project(&mut *db, done.project).await? {
        let uses = booking::list_uses(&mut *db, known.id).await?;
        // Its own uses, and holds of earlier steps that end with it. What it leaves in clamps stays there.
        let ends_here = |used: &Use| {
            let is_own = known.id == id && used.to <= done.to;
            used.to > now && (is_own || (known.from < done.from && used.to == done.to))
        };
        if !uses.iter().any(ends_here) {
            continue;
        }
        let shortened: Vec<Use> = uses
            .iter()
            .map(|used| Use {
                to: if ends_here(used) {
                    now.max(used.from)
                } else {
                    used.to
                },
                ..used.clone()
            })
            .filter(|used| used.to > used.from)
            .collect();
        let to = if known.id == id {
            now.clamp(known.from, known.to)
        } else {
            known.to
        };
        let after = NewBooking {
            project: known.project,
            step: known.step.clone(),
            kind: known.kind.clone(),
            name: known.name.clone(),
            clamp_load: known.clamp_load.clone(),
            from: known.from,
            to,
            attended: known.attended,
            uses: shortened,
        };
        booking::update_times(db, by, known.id, known.version, &after).await?;
    }
    stage::refresh(db, by, done.project).await?;
    let project = projects::get(&mut *db, done.project).await;
    if project.is_ok_and(|known| known.stage == Stage::HandedOver && known.ended_at.is_none()) {
        projects::end(db, by, done.project)
            .await
            .map_err(|error| match error {
                ProjectError::Store(refusal) => refusal.into(),
                _ => BookingError::Stale,
            })?;
    }
    Ok(())
}

/// Cancels all bookings of a project that have not begun.
pub async fn cancel_all(
    db: &mut SqliteConnection,
    by: By,
    project: crate::store::ProjectId,
) -> Result<usize, BookingError> {
    let mut cancelled = 0;
    for known in booking::list_of_project(&mut *db, project).await? {
        if known.state == BookingState::Planned {
            booking::cancel(db, by, known.id, known.version).await?;
            cancelled += 1;
        }
    }
    stage::refresh(db, by, project).await?;
    Ok(cancelled)
}
