//! Who changed what: the audit trail, and the feed that other programs follow.

use jiff::Timestamp;
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::row::instant;
use super::{ChangeId, MemberId, Result};

/// Who acts, and when. Without a member it is the program itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct By {
    pub member: Option<MemberId>,
    pub at: Timestamp,
}

/// One recorded change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    pub id: ChangeId,
    pub at: Timestamp,
    pub member: Option<MemberId>,
    /// What was done, such as `created`, `changed`, `removed`, `claimed`.
    pub verb: String,
    /// The kind of thing, such as `offcut`.
    pub noun: String,
    /// Its id, or whatever else names it.
    pub noun_id: String,
    pub detail: String,
}

impl FromRow<'_, SqliteRow> for Change {
    fn from_row(row: &SqliteRow) -> Result<Change> {
        Ok(Change {
            id: row.try_get("id")?,
            at: instant(row, "at")?,
            member: row.try_get("member_id")?,
            verb: row.try_get("verb")?,
            noun: row.try_get("noun")?,
            noun_id: row.try_get("noun_id")?,
            detail: row.try_get("detail")?,
        })
    }
}

/// Records a change, in the transaction that makes it.
pub async fn append(
    db: &mut SqliteConnection,
    by: By,
    verb: &str,
    noun: &str,
    noun_id: impl std::fmt::Display,
    detail: &str,
) -> Result<ChangeId> {
    sqlx::query_scalar(
        "insert into change (at, member_id, verb, noun, noun_id, detail)
         values (?1, ?2, ?3, ?4, ?5, ?6)
         returning id",
    )
    .bind(by.at.as_second())
    .bind(by.member)
    .bind(verb)
    .bind(noun)
    .bind(noun_id.to_string())
    .bind(detail)
    .fetch_one(db)
    .await
}

/// The oldest `limit` changes after `after`, oldest first.
pub async fn list_after(
    db: impl SqliteExecutor<'_>,
    after: ChangeId,
    limit: u32,
) -> Result<Vec<Change>> {
    sqlx::query_as("select * from change where id > ?1 order by id limit ?2")
        .bind(after)
        .bind(limit)
        .fetch_all(db)
        .await
}

/// The newest `limit` changes, newest first; those before `before` where that is given.
pub async fn list_newest(
    db: impl SqliteExecutor<'_>,
    before: Option<ChangeId>,
    limit: u32,
) -> Result<Vec<Change>> {
    sqlx::query_as("select * from change where ?1 is null or id < ?1 order by id desc limit ?2")
        .bind(before)
        .bind(limit)
        .fetch_all(db)
        .await
}

/// Everything that happened to one thing, newest first, at most `limit`.
pub async fn list_of(
    db: impl SqliteExecutor<'_>,
    noun: &str,
    noun_id: impl std::fmt::Display,
    limit: u32,
) -> Result<Vec<Change>> {
    sqlx::query_as(
        "select * from change where noun = ?1 and noun_id = ?2 order by id desc limit ?3",
    )
    .bind(noun)
    .bind(noun_id.to_string())
    .bind(limit)
    .fetch_all(db)
    .await
}

/// The newest change's id, or 0 where nothing changed yet.
pub async fn newest(db: impl SqliteExecutor<'_>) -> Result<ChangeId> {
    sqlx::query_scalar("select coalesce(max(id), 0) from change")
        .fetch_one(db)
        .await
}
