//! From planned steps to bookings: all of them or nothing.

use std::collections::BTreeMap;

use jiff::Timestamp;
use sqlx::SqliteConnection;

use super::days::day_of;
use super::hours::Hours;
use super::plan::{PlanError, PlannedStep};
use crate::store::booking::{self, Booking, BookingState, NewBooking, Use};
use crate::store::{self, By, ProjectId, ResourceId};

/// `Stale` if hours have changed so that an attended step would lie outside them, or if a step
/// would begin in the past.
pub(super) async fn still_open(
    db: &mut SqliteConnection,
    by: By,
    steps: &[PlannedStep],
    existing: &[Booking],
) -> Result<(), PlanError> {
    let hours = Hours::load(db, by.at).await?;
    let latest = steps
        .iter()
        .map(|step| step.to_at)
        .max()
        .unwrap_or_default();
    let latest = Timestamp::from_second(latest).unwrap_or(by.at);
    let windows = hours.windows(
        day_of(by.at, &hours.zone),
        day_of(latest.max(by.at), &hours.zone),
        None,
    );
    for step in steps {
        let stays = existing.iter().any(|booking| {
            booking.project == step.project
                && booking.step == step.step
                && booking.from.as_second() == step.from_at
                && (booking.state != BookingState::Planned || booking.pinned)
        });
        if stays {
            continue;
        }
        let (Ok(from), Ok(to)) = (
            Timestamp::from_second(step.from_at),
            Timestamp::from_second(step.to_at),
        ) else {
            return Err(PlanError::Stale);
        };
        if from < by.at || (step.attended && !windows.hold(from, to)) {
            return Err(PlanError::Stale);
        }
    }
    Ok(())
}

pub(super) fn new_booking(step: &PlannedStep) -> Option<NewBooking> {
    let at = |seconds: i64| Timestamp::from_second(seconds).ok();
    let uses = step.uses.iter().map(|used| {
        Some(Use {
            resource: used.resource,
            amount: used.amount,
            from: at(used.from_at)?,
            to: at(used.to_at)?,
        })
    });
    Some(NewBooking {
        project: step.project,
        step: step.step.clone(),
        kind: step.kind.clone(),
        name: step.name.clone(),
        clamp_load: step.clamp_load.clone(),
        from: at(step.from_at)?,
        to: at(step.to_at)?,
        attended: step.attended,
        uses: uses.collect::<Option<_>>()?,
    })
}

/// Puts `bookings` in the place of the existing ones: moves what differs, adds what is new, and
/// cancels what is planned but asked for no more. Everything that moves frees what it uses before
/// anything is booked, so that two bookings may change places.
pub(super) async fn book(
    db: &mut SqliteConnection,
    by: By,
    existing: &[Booking],
    bookings: &[NewBooking],
) -> Result<(), PlanError> {
    let key = |project: ProjectId, step: &str| (project, step.to_owned());
    let wanted: BTreeMap<(ProjectId, String), &NewBooking> = bookings
        .iter()
        .map(|booking| (key(booking.project, &booking.step), booking))
        .collect();
    let mut moves = Vec::new();
    for before in existing {
        match wanted.get(&key(before.project, &before.step)) {
            Some(after) => {
                let is_moved = differs(db, before, after).await?;
                if is_moved {
                    booking::free_uses(db, before.id).await?;
                    moves.push((before, *after));
                }
            }
            None if before.state == BookingState::Planned => {
                booking::cancel(db, by, before.id, before.version).await?;
            }
            None => {}
        }
    }
    for (before, after) in moves {
        booking::update_times(db, by, before.id, before.version, after).await?;
    }
    for after in bookings {
        let is_new = existing
            .iter()
            .all(|before| before.project != after.project || before.step != after.step);
        if is_new {
            booking::insert(db, by, after).await?;
        }
    }
    Ok(())
}

async fn differs(
    db: &mut SqliteConnection,
    before: &Booking,
    after: &NewBooking,
) -> store::Result<bool> {
    let same = before.from == after.from
        && before.to == after.to
        && before.name == after.name
        && before.attended == after.attended
        && before.clamp_load == after.clamp_load;
    if !same {
        return Ok(true);
    }
    let sorted = |uses: &[Use]| {
        let mut sorted: Vec<(ResourceId, Timestamp, Timestamp, u32)> = uses
            .iter()
            .map(|used| (used.resource, used.from, used.to, used.amount))
            .collect();
        sorted.sort_unstable();
        sorted
    };
    let uses = booking::list_uses(db, before.id).await?;
    Ok(sorted(&uses) != sorted(&after.uses))
}
