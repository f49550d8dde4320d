//! Answers to creating calls, kept so that a repeated call gets the first answer and not a second thing.

use jiff::Timestamp;
use sqlx::{SqliteConnection, SqliteExecutor};

use super::{MemberId, Result};

/// What is known of a key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// SHA-256 of method, path and body: the same key with another request is an error of the caller.
    pub request_hash: Vec<u8>,
    /// Absent while the first request is at work, or for good if it was interrupted.
    pub answer: Option<KeptAnswer>,
}

/// The answer that a repeated call gets.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptAnswer {
    pub status: u16,
    /// One `name: value` on each line.
    pub headers: String,
    pub body: Vec<u8>,
}

/// What is known of this member's key.
pub async fn find(
    db: impl SqliteExecutor<'_>,
    member_id: MemberId,
    key: &str,
) -> Result<Option<Kept>> {
    type Row = (Vec<u8>, Option<i64>, Option<String>, Option<Vec<u8>>);
    let row: Option<Row> = sqlx::query_as(
        "select request_hash, status, headers, body from idempotency where member_id = ? and key = ?",
    )
    .bind(member_id)
    .bind(key)
    .fetch_optional(db)
    .await?;
    Ok(row.map(|(request_hash, status, headers, body)| Kept {
        request_hash,
        answer: status
            .and_then(|status| u16::try_from(status).ok())
            .map(|status| KeptAnswer {
                status,
                headers: headers.unwrap_or_default(),
                body: body.unwrap_or_default(),
            }),
    }))
}

/// Takes the key for a request that begins now; false if it is taken.
pub async fn begin(
    db: &mut SqliteConnection,
    member_id: MemberId,
    key: &str,
    request_hash: &[u8],
    now: Timestamp,
) -> Result<bool> {
    let done = sqlx::query(
        "insert into idempotency (key, member_id, request_hash, created_at) values (?, ?, ?, ?)
         on conflict do nothing",
    )
    .bind(key)
    .bind(member_id)
    .bind(request_hash)
    .bind(now.as_second())
    .execute(db)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Keeps the answer.
pub async fn finish(
    db: &mut SqliteConnection,
    member_id: MemberId,
    key: &str,
    answer: &KeptAnswer,
) -> Result<()> {
    sqlx::query(
        "update idempotency set status = ?, headers = ?, body = ? where member_id = ? and key = ?",
    )
    .bind(i64::from(answer.status))
    .bind(&answer.headers)
    .bind(&answer.body)
    .bind(member_id)
    .bind(key)
    .execute(db)
    .await?;
    Ok(())
}

/// Lets go of a key whose request changed nothing, so that it can be tried again.
pub async fn forget(db: &mut SqliteConnection, member_id: MemberId, key: &str) -> Result<()> {
    sqlx::query("delete from idempotency where member_id = ? and key = ?")
        .bind(member_id)
        .bind(key)
        .execute(db)
        .await?;
    Ok(())
}

/// Removes keys older than `before`.
pub async fn delete_old(db: &mut SqliteConnection, before: Timestamp) -> Result<u64> {
    let done = sqlx::query("delete from idempotency where created_at < ?")
        .bind(before.as_second())
        .execute(db)
        .await?;
    Ok(done.rows_affected())
}
