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

impl By {
    /// A member at this instant.
    #[must_use]
    pub fn member(member: MemberId, at: Timestamp) -> By {
        By {
            member: Some(member),
            at,
        }
    }
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

/// Which changes to show. What is `None` does not matter.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Search {
    pub member: Option<MemberId>,
    /// The kind of thing.
    pub noun: Option<String>,
    /// Which one of its kind; without `noun` it means nothing.
    pub noun_id: Option<String>,
    /// Only changes older than this one: the cursor of the page before.
    pub before: Option<ChangeId>,
    pub limit: u32,
}

/// A change with the name of who made it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signed {
    pub change: Change,
    pub member_name: Option<String>,
}

impl FromRow<'_, SqliteRow> for Signed {
    fn from_row(row: &SqliteRow) -> Result<Signed> {
        Ok(Signed {
            change: Change::from_row(row)?,
            member_name: row.try_get("member_name")?,
        })
    }
}

/// The condition that picks the index comes first, written as an equality; the others only filter.
macro_rules! signed {
    ($from:literal, $first:literal) => {
        concat!(
            "select change.*, member.name as member_name
             from ",
            $from,
            " left join member on member.id = change.member_id
             where ",
            $first,
            "    and change.id < coalesce(?1, 9223372036854775807)
                 and (?2 is null or +change.member_id = ?2)
                 and (?3 is null or +change.noun = ?3)
                 and (?4 is null or +change.noun_id = ?4)
             order by change.id desc limit ?5"
        )
    };
}

/// The newest matching changes, newest first.
pub async fn list_newest(db: impl SqliteExecutor<'_>, search: &Search) -> Result<Vec<Signed>> {
    let noun_id = search.noun_id.as_ref().filter(|_| search.noun.is_some());
    if noun_id.is_some() {
        sqlx::query_as(signed!(
            "change",
            "change.noun = ?3 and change.noun_id = ?4"
        ))
    } else if search.member.is_some() {
        sqlx::query_as(signed!("change", "change.member_id = ?2"))
    } else if search.noun.is_some() {
        sqlx::query_as(signed!("change indexed by change_kind", "change.noun = ?3"))
    } else {
        sqlx::query_as(signed!("change", "true"))
    }
    .bind(search.before)
    .bind(search.member)
    .bind(&search.noun)
    .bind(noun_id)
    .bind(search.limit)
    .fetch_all(db)
    .await
}

/// The kinds of thing that ever changed, in alphabetical order.
pub async fn list_nouns(db: impl SqliteExecutor<'_>) -> Result<Vec<String>> {
    // Jumps from one kind to the next in the index, for there are few kinds and many changes.
    sqlx::query_scalar(
        "with recursive kind (noun) as (
             select min(noun) from change
             union all
             select (select min(change.noun) from change where change.noun > kind.noun) from kind where kind.noun is not null)
         select noun from kind where noun is not null",
    )
    .fetch_all(db)
    .await
}

/// The newest change's id, or 0 where nothing changed yet.
pub async fn newest(db: impl SqliteExecutor<'_>) -> Result<ChangeId> {
    sqlx::query_scalar("select coalesce(max(id), 0) from change")
        .fetch_one(db)
        .await
}
