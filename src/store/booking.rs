//! Bookings: the steps of projects with their starts and resources.

use jiff::Timestamp;
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::refusal::{Written, changed_one};
use super::row::instant;
use super::text::words;
use super::{BookingId, MemberId, ProjectId, ResourceId, Result};

words! {
    BookingState {
        Planned = "planned",
        Running = "running",
        Done = "done",
    }
}

/// Use of a resource, which may last longer than the booking: clamps stay on until the panel is freed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Use {
    pub resource: ResourceId,
    pub amount: u32,
    pub from: Timestamp,
    pub to: Timestamp,
}

/// A step about to be booked. Times are whole minutes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewBooking {
    pub project: ProjectId,
    /// The step's key within its project.
    pub step: String,
    /// The key of the kind of step.
    pub kind: String,
    pub name: String,
    /// The same for all panels that are in one set of clamps.
    pub clamp_load: Option<String>,
    pub from: Timestamp,
    pub to: Timestamp,
    /// Someone must be there, so it lies in an opening.
    pub attended: bool,
    pub uses: Vec<Use>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Booking {
    pub id: BookingId,
    pub project: ProjectId,
    pub project_name: String,
    /// Whose project it is.
    pub member: MemberId,
    pub member_name: String,
    pub step: String,
    /// The key of the kind of step.
    pub kind: String,
    pub name: String,
    /// The same for all panels that are in one set of clamps.
    pub clamp_load: Option<String>,
    pub from: Timestamp,
    pub to: Timestamp,
    pub attended: bool,
    pub state: BookingState,
    /// A steward's booking that no plan moves.
    pub pinned: bool,
    /// Changes with every move, for calendars (RFC 5545, SEQUENCE).
    pub sequence: i64,
    pub changed_at: Timestamp,
    pub version: i64,
}

/// A use with the booking it belongs to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BookedUse {
    pub booking: BookingId,
    pub project: ProjectId,
    pub used: Use,
}

/// A booking that was cancelled, so that calendars can say so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CancelledBooking {
    pub booking: BookingId,
    pub project: ProjectId,
    pub member: MemberId,
    pub name: String,
    pub from: Timestamp,
    pub to: Timestamp,
    pub sequence: i64,
    pub cancelled_at: Timestamp,
}

impl FromRow<'_, SqliteRow> for Booking {
    fn from_row(row: &SqliteRow) -> Result<Booking> {
        Ok(Booking {
            id: row.try_get("id")?,
            project: row.try_get("project_id")?,
            project_name: row.try_get("project_name")?,
            member: row.try_get("member_id")?,
            member_name: row.try_get("member_name")?,
            step: row.try_get("step")?,
            kind: row.try_get("kind")?,
            name: row.try_get("name")?,
            clamp_load: row.try_get("clamp_load")?,
            from: instant(row, "from_at")?,
            to: instant(row, "to_at")?,
            attended: row.try_get("attended")?,
            state: row.try_get("state")?,
            pinned: row.try_get("pinned")?,
            sequence: row.try_get("sequence")?,
            changed_at: instant(row, "changed_at")?,
            version: row.try_get("version")?,
        })
    }
}

impl FromRow<'_, SqliteRow> for BookedUse {
    fn from_row(row: &SqliteRow) -> Result<BookedUse> {
        Ok(BookedUse {
            booking: row.try_get("booking_id")?,
            project: row.try_get("project_id")?,
            used: Use {
                resource: row.try_get("resource_id")?,
                amount: row.try_get("amount")?,
                from: instant(row, "from_at")?,
                to: instant(row, "to_at")?,
            },
        })
    }
}

impl FromRow<'_, SqliteRow> for CancelledBooking {
    fn from_row(row: &SqliteRow) -> Result<CancelledBooking> {
        Ok(CancelledBooking {
            booking: row.try_get("booking_id")?,
            project: row.try_get("project_id")?,
            member: row.try_get("member_id")?,
            name: row.try_get("name")?,
            from: instant(row, "from_at")?,
            to: instant(row, "to_at")?,
            sequence: row.try_get("sequence")?,
            cancelled_at: instant(row, "cancelled_at")?,
        })
    }
}

pub async fn find(db: impl SqliteExecutor<'_>, id: BookingId) -> Result<Option<Booking>> {
    sqlx::query_as(
        "select booking.*, project.name as project_name, project.member_id, member.name as member_name
         from booking join project on project.id = booking.project_id join member on member.id = project.member_id
         where booking.id = ?1",
    )
    .bind(id)
    .fetch_optional(db)
    .await
}

/// A project's bookings by time.
pub async fn list_of_project(
    db: impl SqliteExecutor<'_>,
    project: ProjectId,
) -> Result<Vec<Booking>> {
    sqlx::query_as(
        "select booking.*, project.name as project_name, project.member_id, member.name as member_name
         from booking join project on project.id = booking.project_id join member on member.id = project.member_id
         where booking.project_id = ?1 order by booking.from_at, booking.to_at, booking.id",
    )
    .bind(project)
    .fetch_all(db)
    .await
}

/// Everybody's bookings that touch the span, by time; of one member where that is given.
pub async fn list_between(
    db: impl SqliteExecutor<'_>,
    from: Timestamp,
    to: Timestamp,
    member: Option<MemberId>,
) -> Result<Vec<Booking>> {
    sqlx::query_as(
        "select booking.*, project.name as project_name, project.member_id, member.name as member_name
         from booking join project on project.id = booking.project_id join member on member.id = project.member_id
         where booking.to_at >= ?1 and booking.from_at < ?2 and (?3 is null or project.member_id = ?3)
         order by booking.from_at, booking.to_at, booking.id",
    )
    .bind(from.as_second())
    .bind(to.as_second())
    .bind(member)
    .fetch_all(db)
    .await
}

/// Which bookings a list holds.
#[derive(Clone, Debug)]
pub struct Search {
    /// Bookings that end after `from` and begin before `to`.
    pub from: Timestamp,
    pub to: Timestamp,
    pub member: Option<MemberId>,
    pub project: Option<ProjectId>,
    /// The start and the id of the last one of the page before.
    pub after: Option<(Timestamp, BookingId)>,
    pub limit: u32,
}

/// A page of bookings by start.
pub async fn list(db: impl SqliteExecutor<'_>, search: &Search) -> Result<Vec<Booking>> {
    let (after_at, after_id) = match search.after {
        Some((at, id)) => (Some(at.as_second()), Some(id)),
        None => (None, None),
    };
    sqlx::query_as(
        "select booking.*, project.name as project_name, project.member_id, member.name as member_name
         from booking join project on project.id = booking.project_id join member on member.id = project.member_id
         where booking.to_at > ?1 and booking.from_at < ?2 and (?3 is null or project.member_id = ?3)
           and (?4 is null or booking.project_id = ?4)
           and (?5 is null or (booking.from_at, booking.id) > (?5, ?6))
         order by booking.from_at, booking.id limit ?7",
    )
    .bind(search.from.as_second())
    .bind(search.to.as_second())
    .bind(search.member)
    .bind(search.project)
    .bind(after_at)
    .bind(after_id)
    .bind(search.limit)
    .fetch_all(db)
    .await
}

/// What a booking uses.
pub async fn list_uses(db: impl SqliteExecutor<'_>, id: BookingId) -> Result<Vec<Use>> {
    let uses: Vec<BookedUse> = sqlx::query_as(
        "select booking_use.*, booking.project_id from booking_use join booking on booking.id = booking_use.booking_id
         where booking_id = ?1 order by booking_use.resource_id, booking_use.from_at",
    )
    .bind(id)
    .fetch_all(db)
    .await?;
    Ok(uses.into_iter().map(|booked| booked.used).collect())
}

/// Everything that is in use within the span, by resource and time.
pub async fn list_uses_between(
    db: impl SqliteExecutor<'_>,
    from: Timestamp,
    to: Timestamp,
) -> Result<Vec<BookedUse>> {
    sqlx::query_as(
        // Few uses end late, but there are as many bookings as there ever were.
        "select booking_use.*, booking.project_id
         from booking_use indexed by booking_use_end join booking on booking.id = booking_use.booking_id
         where booking_use.to_at > ?1 and booking_use.from_at < ?2
         order by booking_use.resource_id, booking_use.from_at, booking_use.id",
    )
    .bind(from.as_second())
    .bind(to.as_second())
    .fetch_all(db)
    .await
}

/// Bookings cancelled at this instant or later; of one member where that is given.
pub async fn list_cancelled(
    db: impl SqliteExecutor<'_>,
    since: Timestamp,
    member: Option<MemberId>,
) -> Result<Vec<CancelledBooking>> {
    sqlx::query_as(
        "select * from cancelled_booking where cancelled_at >= ?1 and (?2 is null or member_id = ?2)
         order by cancelled_at, booking_id",
    )
    .bind(since.as_second())
    .bind(member)
    .fetch_all(db)
    .await
}

async fn insert_uses(db: &mut SqliteConnection, id: BookingId, uses: &[Use]) -> Written {
    for used in uses {
        sqlx::query(
            "insert into booking_use (booking_id, resource_id, amount, from_at, to_at) values (?1, ?2, ?3, ?4, ?5)",
        )
        .bind(id)
        .bind(used.resource)
        .bind(used.amount)
        .bind(used.from.as_second())
        .bind(used.to.as_second())
        .execute(&mut *db)
        .await?;
    }
    Ok(())
}

/// # Errors
/// `ResourceInUse` if too little is free; `Taken` if the project has the step booked already.
pub(crate) async fn insert(
    db: &mut SqliteConnection,
    by: By,
    booking: &NewBooking,
) -> Written<BookingId> {
    // The id of a cancelled booking is never given again: calendars know bookings by it.
    let id = sqlx::query_scalar(
        "insert into booking (id, project_id, step, name, from_at, to_at, attended, changed_at, kind, clamp_load)
         values (1 + max(coalesce((select max(id) from booking), 0),
                         coalesce((select max(booking_id) from cancelled_booking), 0)),
                 ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9) returning id",
    )
    .bind(booking.project)
    .bind(&booking.step)
    .bind(&booking.name)
    .bind(booking.from.as_second())
    .bind(booking.to.as_second())
    .bind(booking.attended)
    .bind(by.at.as_second())
    .bind(&booking.kind)
    .bind(&booking.clamp_load)
    .fetch_one(&mut *db)
    .await?;
    insert_uses(db, id, &booking.uses).await?;
    change::append(db, by, "booked", "booking", id, &booking.name).await?;
    Ok(id)
}

/// Frees what bookings use, so that a set of them can be moved at once: each is put back by
/// [`update_times`] in the same transaction.
pub(crate) async fn free_uses(db: &mut SqliteConnection, id: BookingId) -> Result<()> {
    sqlx::query("delete from booking_use where booking_id = ?1")
        .bind(id)
        .execute(db)
        .await?;
    Ok(())
}

/// Moves a booking and what it uses.
///
/// # Errors
/// `Stale`; `ResourceInUse` if too little is free.
pub(crate) async fn update_times(
    db: &mut SqliteConnection,
    by: By,
    id: BookingId,
    version: i64,
    booking: &NewBooking,
) -> Written {
    free_uses(db, id).await?;
    let result = sqlx::query(
        "update booking
         set name = ?3, from_at = ?4, to_at = ?5, attended = ?6, changed_at = ?7, clamp_load = ?8,
             version = version + 1,
             sequence = sequence + (from_at <> ?4 or to_at <> ?5)
         where id = ?1 and version = ?2",
    )
    .bind(id)
    .bind(version)
    .bind(&booking.name)
    .bind(booking.from.as_second())
    .bind(booking.to.as_second())
    .bind(booking.attended)
    .bind(by.at.as_second())
    .bind(&booking.clamp_load)
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    insert_uses(db, id, &booking.uses).await?;
    change::append(db, by, "moved", "booking", id, &booking.name).await?;
    Ok(())
}

/// # Errors
/// `Stale`.
pub(crate) async fn set_state(
    db: &mut SqliteConnection,
    by: By,
    id: BookingId,
    version: i64,
    state: BookingState,
) -> Written {
    let result = sqlx::query(
        "update booking set state = ?3, changed_at = ?4, version = version + 1 where id = ?1 and version = ?2",
    )
    .bind(id)
    .bind(version)
    .bind(state)
    .bind(by.at.as_second())
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, state.word(), "booking", id, "").await?;
    Ok(())
}

/// # Errors
/// `Stale`.
pub async fn set_pinned(
    db: &mut SqliteConnection,
    by: By,
    id: BookingId,
    version: i64,
    pinned: bool,
) -> Written {
    let result = sqlx::query(
        "update booking set pinned = ?3, changed_at = ?4, version = version + 1 where id = ?1 and version = ?2",
    )
    .bind(id)
    .bind(version)
    .bind(pinned)
    .bind(by.at.as_second())
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(
        db,
        by,
        if pinned { "pinned" } else { "unpinned" },
        "booking",
        id,
        "",
    )
    .await?;
    Ok(())
}

/// Removes a booking that has not begun, and remembers it for calendars.
///
/// # Errors
/// `Stale`, also if it has begun.
pub(crate) async fn cancel(
    db: &mut SqliteConnection,
    by: By,
    id: BookingId,
    version: i64,
) -> Written {
    sqlx::query(
        "insert into cancelled_booking (booking_id, project_id, member_id, name, from_at, to_at, sequence, cancelled_at)
         select booking.id, project_id, project.member_id, booking.name, from_at, to_at, sequence + 1, ?3
         from booking join project on project.id = booking.project_id
         where booking.id = ?1 and booking.version = ?2 and booking.state = 'planned'",
    )
    .bind(id)
    .bind(version)
    .bind(by.at.as_second())
    .execute(&mut *db)
    .await?;
    let result =
        sqlx::query("delete from booking where id = ?1 and version = ?2 and state = 'planned'")
            .bind(id)
            .bind(version)
            .execute(&mut *db)
            .await?;
    changed_one(&result)?;
    change::append(db, by, "cancelled", "booking", id, "").await?;
    Ok(())
}
