//! Sessions of browsers: only the hash of the token is stored.

use jiff::Timestamp;
use sqlx::{SqliteConnection, SqliteExecutor};

use super::{MemberId, Result, TokenHash};

/// A browser that is signed in.
#[derive(Clone, Debug)]
pub struct Session {
    pub member_id: MemberId,
    pub created_at: Timestamp,
    pub seen_at: Timestamp,
    /// The end that no use puts off.
    pub ends_at: Timestamp,
}

/// The session of this token, whether or not it has ended.
pub async fn find(db: impl SqliteExecutor<'_>, token: TokenHash) -> Result<Option<Session>> {
    let row: Option<(MemberId, i64, i64, i64)> = sqlx::query_as(
        "select member_id, created_at, seen_at, ends_at from session where token_hash = ?",
    )
    .bind(token)
    .fetch_optional(db)
    .await?;
    row.map(|(member_id, created_at, seen_at, ends_at)| {
        Ok(Session {
            member_id,
            created_at: super::instant(created_at)?,
            seen_at: super::instant(seen_at)?,
            ends_at: super::instant(ends_at)?,
        })
    })
    .transpose()
}

/// How many sessions of this member have not ended.
pub async fn count(
    db: impl SqliteExecutor<'_>,
    member_id: MemberId,
    now: Timestamp,
) -> Result<i64> {
    sqlx::query_scalar("select count(*) from session where member_id = ? and ends_at > ?")
        .bind(member_id)
        .bind(now.as_second())
        .fetch_one(db)
        .await
}

/// Begins a session.
pub async fn insert(
    db: &mut SqliteConnection,
    token: TokenHash,
    member_id: MemberId,
    now: Timestamp,
    ends_at: Timestamp,
) -> Result<()> {
    sqlx::query(
        "insert into session (token_hash, member_id, created_at, seen_at, ends_at) values (?, ?, ?, ?, ?)",
    )
    .bind(token)
    .bind(member_id)
    .bind(now.as_second())
    .bind(now.as_second())
    .bind(ends_at.as_second())
    .execute(db)
    .await?;
    Ok(())
}

/// Notes that the session was used.
pub async fn touch(db: &mut SqliteConnection, token: TokenHash, now: Timestamp) -> Result<()> {
    sqlx::query("update session set seen_at = ? where token_hash = ?")
        .bind(now.as_second())
        .bind(token)
        .execute(db)
        .await?;
    Ok(())
}

/// Ends one session.
pub async fn delete(db: &mut SqliteConnection, token: TokenHash) -> Result<()> {
    sqlx::query("delete from session where token_hash = ?")
        .bind(token)
        .execute(db)
        .await?;
    Ok(())
}

/// Ends all sessions of a member, but for the one with the token `kept`.
pub async fn delete_all(
    db: &mut SqliteConnection,
    member_id: MemberId,
    kept: Option<TokenHash>,
) -> Result<u64> {
    let done = sqlx::query("delete from session where member_id = ? and token_hash is not ?")
        .bind(member_id)
        .bind(kept)
        .execute(db)
        .await?;
    Ok(done.rows_affected())
}

/// Removes sessions that ended by themselves: past their end, or not used since `idle_since`.
pub async fn delete_ended(
    db: &mut SqliteConnection,
    now: Timestamp,
    idle_since: Timestamp,
) -> Result<u64> {
    let done = sqlx::query("delete from session where ends_at <= ? or seen_at <= ?")
        .bind(now.as_second())
        .bind(idle_since.as_second())
        .execute(db)
        .await?;
    Ok(done.rows_affected())
}
