//! The workshop itself: its name, its time zone and what its stewards set.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::Result;
use super::change::{self, By};
use super::refusal::{Written, changed_one};
use super::row::{instant, json, to_json, unreadable};
use super::settings::Settings;

#[derive(Clone, Debug, PartialEq)]
pub struct Workshop {
    pub name: String,
    pub time_zone: TimeZone,
    pub settings: Settings,
    pub version: i64,
    pub changed_at: Timestamp,
}

impl FromRow<'_, SqliteRow> for Workshop {
    fn from_row(row: &SqliteRow) -> Result<Workshop> {
        let zone: &str = row.try_get("time_zone")?;
        Ok(Workshop {
            name: row.try_get("name")?,
            time_zone: TimeZone::get(zone).map_err(|error| unreadable("time_zone", error))?,
            settings: json(row, "settings")?,
            version: row.try_get("version")?,
            changed_at: instant(row, "changed_at")?,
        })
    }
}

/// There always is one: the first migration writes it.
pub async fn get(db: impl SqliteExecutor<'_>) -> Result<Workshop> {
    sqlx::query_as("select * from workshop where id = 1")
        .fetch_one(db)
        .await
}

/// Writes everything that a steward may set. `time_zone` is a name of the IANA database that was
/// found there.
///
/// # Errors
/// `Stale`.
pub async fn update(
    db: &mut SqliteConnection,
    by: By,
    version: i64,
    name: &str,
    time_zone: &str,
    settings: &Settings,
) -> Written {
    let result = sqlx::query(
        "update workshop
         set name = ?2, time_zone = ?3, settings = ?4, version = version + 1, changed_at = ?5
         where id = 1 and version = ?1",
    )
    .bind(version)
    .bind(name)
    .bind(time_zone)
    .bind(to_json(settings))
    .bind(by.at.as_second())
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "workshop", 1, "").await?;
    Ok(())
}

/// Takes the next number for a tag. It is never given out again.
pub(crate) async fn take_tag_number(db: &mut SqliteConnection) -> Result<i64> {
    sqlx::query_scalar(
        "update workshop set next_tag = next_tag + 1 where id = 1 returning next_tag - 1",
    )
    .fetch_one(db)
    .await
}
