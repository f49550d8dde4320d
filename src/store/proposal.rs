//! Proposals: a match of several projects, or a plan, that waits to be accepted.

use jiff::Timestamp;
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::By;
use super::refusal::{Written, changed_one};
use super::row::{instant, optional_instant};
use super::text::words;
use super::{MemberId, ProposalId, Result};

words! {
    ProposalKind {
        Match = "match",
        Plan = "plan",
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proposal {
    pub id: ProposalId,
    pub kind: ProposalKind,
    /// Who asked for it.
    pub member: MemberId,
    /// What it was made for, as JSON of the use case that made it.
    pub made_for: String,
    /// The answer, as JSON of the use case that made it.
    pub answer: String,
    pub created_at: Timestamp,
    pub accepted_at: Option<Timestamp>,
}

impl FromRow<'_, SqliteRow> for Proposal {
    fn from_row(row: &SqliteRow) -> Result<Proposal> {
        Ok(Proposal {
            id: row.try_get("id")?,
            kind: row.try_get("kind")?,
            member: row.try_get("member_id")?,
            made_for: row.try_get("made_for")?,
            answer: row.try_get("answer")?,
            created_at: instant(row, "created_at")?,
            accepted_at: optional_instant(row, "accepted_at")?,
        })
    }
}

pub async fn find(db: impl SqliteExecutor<'_>, id: ProposalId) -> Result<Option<Proposal>> {
    sqlx::query_as("select * from proposal where id = ?1")
        .bind(id)
        .fetch_optional(db)
        .await
}

/// Those of a kind that were not accepted, the newest first.
pub async fn list_open(db: impl SqliteExecutor<'_>, kind: ProposalKind) -> Result<Vec<Proposal>> {
    sqlx::query_as(
        "select * from proposal where kind = ?1 and accepted_at is null order by id desc limit 50",
    )
    .bind(kind)
    .fetch_all(db)
    .await
}

pub(crate) async fn put_answer(db: &mut SqliteConnection, id: ProposalId, answer: &str) -> Written {
    let result = sqlx::query("update proposal set answer = ?2 where id = ?1")
        .bind(id)
        .bind(answer)
        .execute(db)
        .await?;
    changed_one(&result)
}

/// Keeps a proposal, and forgets those that are a week old: whoever comes back later asks again.
pub(crate) async fn insert(
    db: &mut SqliteConnection,
    by: By,
    member: MemberId,
    kind: ProposalKind,
    made_for: &str,
    answer: &str,
) -> Written<ProposalId> {
    const WEEK_SECONDS: i64 = 7 * 86_400;
    sqlx::query("delete from proposal where created_at < ?1")
        .bind(by.at.as_second() - WEEK_SECONDS)
        .execute(&mut *db)
        .await?;
    Ok(sqlx::query_scalar(
        "insert into proposal (kind, member_id, made_for, answer, created_at) values (?1, ?2, ?3, ?4, ?5) returning id",
    )
    .bind(kind)
    .bind(member)
    .bind(made_for)
    .bind(answer)
    .bind(by.at.as_second())
    .fetch_one(db)
    .await?)
}

/// # Errors
/// `Stale` if it was accepted already.
pub(crate) async fn accept(db: &mut SqliteConnection, by: By, id: ProposalId) -> Written {
    let result =
        sqlx::query("update proposal set accepted_at = ?2 where id = ?1 and accepted_at is null")
            .bind(id)
            .bind(by.at.as_second())
            .execute(db)
            .await?;
    changed_one(&result)
}
