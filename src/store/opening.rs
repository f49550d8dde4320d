//! When the workshop is open: weekly hours, single extra openings, closures.

use jiff::civil::Date;
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::refusal::{Written, changed_one};
use super::row::{day, optional_day};
use super::{ClosureId, ExtraOpeningId, Result, WeeklyOpeningId};

/// Hours that come back every week.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WeeklyOpening {
    pub id: WeeklyOpeningId,
    pub hours: WeeklyHours,
    pub version: i64,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WeeklyHours {
    /// Monday is 1 (ISO 8601).
    pub weekday: i8,
    /// Minutes since midnight; `to_minute` is at most 1440.
    pub from_minute: u16,
    pub to_minute: u16,
    /// A steward is on duty, so the machines may run.
    pub machines: bool,
    pub from_day: Date,
    /// The last day it holds; for ever where there is none.
    pub to_day: Option<Date>,
}

/// An opening on one day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExtraOpening {
    pub id: ExtraOpeningId,
    pub hours: ExtraHours,
    pub version: i64,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExtraHours {
    pub on_day: Date,
    pub from_minute: u16,
    pub to_minute: u16,
    pub machines: bool,
    pub note: String,
}

/// Days on which the weekly hours do not hold. Extra openings do: they are meant for that day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Closure {
    pub id: ClosureId,
    pub days: ClosedDays,
    pub version: i64,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClosedDays {
    pub from_day: Date,
    /// The last closed day.
    pub to_day: Date,
    pub reason: String,
}

impl FromRow<'_, SqliteRow> for WeeklyOpening {
    fn from_row(row: &SqliteRow) -> Result<WeeklyOpening> {
        Ok(WeeklyOpening {
            id: row.try_get("id")?,
            hours: WeeklyHours {
                weekday: row.try_get("weekday")?,
                from_minute: row.try_get("from_minute")?,
                to_minute: row.try_get("to_minute")?,
                machines: row.try_get("machines")?,
                from_day: day(row, "from_day")?,
                to_day: optional_day(row, "to_day")?,
            },
            version: row.try_get("version")?,
        })
    }
}

impl FromRow<'_, SqliteRow> for ExtraOpening {
    fn from_row(row: &SqliteRow) -> Result<ExtraOpening> {
        Ok(ExtraOpening {
            id: row.try_get("id")?,
            hours: ExtraHours {
                on_day: day(row, "on_day")?,
                from_minute: row.try_get("from_minute")?,
                to_minute: row.try_get("to_minute")?,
                machines: row.try_get("machines")?,
                note: row.try_get("note")?,
            },
            version: row.try_get("version")?,
        })
    }
}

impl FromRow<'_, SqliteRow> for Closure {
    fn from_row(row: &SqliteRow) -> Result<Closure> {
        Ok(Closure {
            id: row.try_get("id")?,
            days: ClosedDays {
                from_day: day(row, "from_day")?,
                to_day: day(row, "to_day")?,
                reason: row.try_get("reason")?,
            },
            version: row.try_get("version")?,
        })
    }
}

/// All weekly hours, by weekday and time.
pub async fn list_weekly(db: impl SqliteExecutor<'_>) -> Result<Vec<WeeklyOpening>> {
    sqlx::query_as("select * from weekly_opening order by weekday, from_minute, id")
        .fetch_all(db)
        .await
}

/// Extra openings from `from_day` on, by day.
pub async fn list_extra(db: impl SqliteExecutor<'_>, from_day: Date) -> Result<Vec<ExtraOpening>> {
    sqlx::query_as(
        "select * from extra_opening where on_day >= ?1 order by on_day, from_minute, id",
    )
    .bind(from_day.to_string())
    .fetch_all(db)
    .await
}

/// Closures that end on `from_day` or later, by day.
pub async fn list_closures(db: impl SqliteExecutor<'_>, from_day: Date) -> Result<Vec<Closure>> {
    sqlx::query_as("select * from closure where to_day >= ?1 order by from_day, id")
        .bind(from_day.to_string())
        .fetch_all(db)
        .await
}

pub async fn find_weekly(
    db: impl SqliteExecutor<'_>,
    id: WeeklyOpeningId,
) -> Result<Option<WeeklyOpening>> {
    sqlx::query_as("select * from weekly_opening where id = ?1")
        .bind(id)
        .fetch_optional(db)
        .await
}

pub async fn find_extra(
    db: impl SqliteExecutor<'_>,
    id: ExtraOpeningId,
) -> Result<Option<ExtraOpening>> {
    sqlx::query_as("select * from extra_opening where id = ?1")
        .bind(id)
        .fetch_optional(db)
        .await
}

pub async fn find_closure(db: impl SqliteExecutor<'_>, id: ClosureId) -> Result<Option<Closure>> {
    sqlx::query_as("select * from closure where id = ?1")
        .bind(id)
        .fetch_optional(db)
        .await
}

pub async fn create_weekly(
    db: &mut SqliteConnection,
    by: By,
    hours: &WeeklyHours,
) -> Written<WeeklyOpeningId> {
    let id = sqlx::query_scalar(
        "insert into weekly_opening (weekday, from_minute, to_minute, machines, from_day, to_day)
         values (?1, ?2, ?3, ?4, ?5, ?6) returning id",
    )
    .bind(hours.weekday)
    .bind(hours.from_minute)
    .bind(hours.to_minute)
    .bind(hours.machines)
    .bind(hours.from_day.to_string())
    .bind(hours.to_day.map(|day| day.to_string()))
    .fetch_one(&mut *db)
    .await?;
    change::append(db, by, "created", "weekly opening", id, "").await?;
    Ok(id)
}

/// # Errors
/// `Stale`.
pub async fn update_weekly(
    db: &mut SqliteConnection,
    by: By,
    id: WeeklyOpeningId,
    version: i64,
    hours: &WeeklyHours,
) -> Written {
    let result = sqlx::query(
        "update weekly_opening
         set weekday = ?3, from_minute = ?4, to_minute = ?5, machines = ?6, from_day = ?7, to_day = ?8,
             version = version + 1
         where id = ?1 and version = ?2",
    )
    .bind(id)
    .bind(version)
    .bind(hours.weekday)
    .bind(hours.from_minute)
    .bind(hours.to_minute)
    .bind(hours.machines)
    .bind(hours.from_day.to_string())
    .bind(hours.to_day.map(|day| day.to_string()))
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "weekly opening", id, "").await?;
    Ok(())
}

/// # Errors
/// `Stale`.
pub async fn remove_weekly(
    db: &mut SqliteConnection,
    by: By,
    id: WeeklyOpeningId,
    version: i64,
) -> Written {
    let result = sqlx::query("delete from weekly_opening where id = ?1 and version = ?2")
        .bind(id)
        .bind(version)
        .execute(&mut *db)
        .await?;
    changed_one(&result)?;
    change::append(db, by, "removed", "weekly opening", id, "").await?;
    Ok(())
}

pub async fn create_extra(
    db: &mut SqliteConnection,
    by: By,
    hours: &ExtraHours,
) -> Written<ExtraOpeningId> {
    let id = sqlx::query_scalar(
        "insert into extra_opening (on_day, from_minute, to_minute, machines, note)
         values (?1, ?2, ?3, ?4, ?5) returning id",
    )
    .bind(hours.on_day.to_string())
    .bind(hours.from_minute)
    .bind(hours.to_minute)
    .bind(hours.machines)
    .bind(&hours.note)
    .fetch_one(&mut *db)
    .await?;
    change::append(db, by, "created", "extra opening", id, &hours.note).await?;
    Ok(id)
}

/// # Errors
/// `Stale`.
pub async fn update_extra(
    db: &mut SqliteConnection,
    by: By,
    id: ExtraOpeningId,
    version: i64,
    hours: &ExtraHours,
) -> Written {
    let result = sqlx::query(
        "update extra_opening
         set on_day = ?3, from_minute = ?4, to_minute = ?5, machines = ?6, note = ?7, version = version + 1
         where id = ?1 and version = ?2",
    )
    .bind(id)
    .bind(version)
    .bind(hours.on_day.to_string())
    .bind(hours.from_minute)
    .bind(hours.to_minute)
    .bind(hours.machines)
    .bind(&hours.note)
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "extra opening", id, &hours.note).await?;
    Ok(())
}

/// # Errors
/// `Stale`.
pub async fn remove_extra(
    db: &mut SqliteConnection,
    by: By,
    id: ExtraOpeningId,
    version: i64,
) -> Written {
    let result = sqlx::query("delete from extra_opening where id = ?1 and version = ?2")
        .bind(id)
        .bind(version)
        .execute(&mut *db)
        .await?;
    changed_one(&result)?;
    change::append(db, by, "removed", "extra opening", id, "").await?;
    Ok(())
}

pub async fn create_closure(
    db: &mut SqliteConnection,
    by: By,
    days: &ClosedDays,
) -> Written<ClosureId> {
    let id = sqlx::query_scalar(
        "insert into closure (from_day, to_day, reason) values (?1, ?2, ?3) returning id",
    )
    .bind(days.from_day.to_string())
    .bind(days.to_day.to_string())
    .bind(&days.reason)
    .fetch_one(&mut *db)
    .await?;
    change::append(db, by, "created", "closure", id, &days.reason).await?;
    Ok(id)
}

/// # Errors
/// `Stale`.
pub async fn update_closure(
    db: &mut SqliteConnection,
    by: By,
    id: ClosureId,
    version: i64,
    days: &ClosedDays,
) -> Written {
    let result = sqlx::query(
        "update closure set from_day = ?3, to_day = ?4, reason = ?5, version = version + 1
         where id = ?1 and version = ?2",
    )
    .bind(id)
    .bind(version)
    .bind(days.from_day.to_string())
    .bind(days.to_day.to_string())
    .bind(&days.reason)
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "closure", id, &days.reason).await?;
    Ok(())
}

/// # Errors
/// `Stale`.
pub async fn remove_closure(
    db: &mut SqliteConnection,
    by: By,
    id: ClosureId,
    version: i64,
) -> Written {
    let result = sqlx::query("delete from closure where id = ?1 and version = ?2")
        .bind(id)
        .bind(version)
        .execute(&mut *db)
        .await?;
    changed_one(&result)?;
    change::append(db, by, "removed", "closure", id, "").await?;
    Ok(())
}
