//! Addresses that members want told of changes.

use jiff::Timestamp;
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::refusal::{Written, changed_one};
use super::row::{instant, optional_instant};
use super::{ChangeId, MemberId, NoticeAddressId, Result};

#[derive(Clone, PartialEq, Eq)]
pub struct NoticeAddress {
    pub id: NoticeAddressId,
    pub member: MemberId,
    pub url: String,
    /// The key that signs each post.
    pub secret: String,
    pub is_active: bool,
    /// The last change that this address was told of.
    pub told_to: ChangeId,
    /// Posts that failed one after another.
    pub failures: u32,
    pub tried_at: Option<Timestamp>,
    pub created_at: Timestamp,
}

/// Never prints the secret.
impl std::fmt::Debug for NoticeAddress {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("NoticeAddress")
            .field("id", &self.id)
            .field("member", &self.member)
            .finish_non_exhaustive()
    }
}

impl FromRow<'_, SqliteRow> for NoticeAddress {
    fn from_row(row: &SqliteRow) -> Result<NoticeAddress> {
        Ok(NoticeAddress {
            id: row.try_get("id")?,
            member: row.try_get("member_id")?,
            url: row.try_get("url")?,
            secret: row.try_get("secret")?,
            is_active: row.try_get("is_active")?,
            told_to: row.try_get("told_to")?,
            failures: row.try_get("failures")?,
            tried_at: optional_instant(row, "tried_at")?,
            created_at: instant(row, "created_at")?,
        })
    }
}

pub async fn list_of_member(
    db: impl SqliteExecutor<'_>,
    member: MemberId,
) -> Result<Vec<NoticeAddress>> {
    sqlx::query_as("select * from notice_address where member_id = ?1 order by id")
        .bind(member)
        .fetch_all(db)
        .await
}

pub async fn find(
    db: impl SqliteExecutor<'_>,
    id: NoticeAddressId,
) -> Result<Option<NoticeAddress>> {
    sqlx::query_as("select * from notice_address where id = ?1")
        .bind(id)
        .fetch_optional(db)
        .await
}

/// Active addresses of active members that were not told of everything yet.
pub async fn list_behind(db: impl SqliteExecutor<'_>) -> Result<Vec<NoticeAddress>> {
    sqlx::query_as(
        "select notice_address.* from notice_address join member on member.id = notice_address.member_id
         where notice_address.is_active and member.is_active
             and told_to < (select coalesce(max(id), 0) from change)
         order by notice_address.id",
    )
    .fetch_all(db)
    .await
}

/// Adds an address; it is told of changes from now on.
pub async fn create(
    db: &mut SqliteConnection,
    by: By,
    member: MemberId,
    url: &str,
    secret: &str,
) -> Written<NoticeAddressId> {
    let id = sqlx::query_scalar(
        "insert into notice_address (member_id, url, secret, told_to, created_at)
         values (?1, ?2, ?3, (select coalesce(max(id), 0) from change), ?4) returning id",
    )
    .bind(member)
    .bind(url)
    .bind(secret)
    .bind(by.at.as_second())
    .fetch_one(&mut *db)
    .await?;
    change::append(db, by, "created", "notice address", id, "").await?;
    Ok(id)
}

/// Turns an address on or off. Turned on again, it is told of changes from then on.
///
/// # Errors
/// `Stale` if there is none.
pub async fn set_active(
    db: &mut SqliteConnection,
    by: By,
    id: NoticeAddressId,
    is_active: bool,
) -> Written {
    let result = sqlx::query(
        "update notice_address
         set is_active = ?2, failures = 0, told_to = iif(?2, (select coalesce(max(id), 0) from change), told_to)
         where id = ?1",
    )
    .bind(id)
    .bind(is_active)
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "notice address", id, "").await?;
    Ok(())
}

/// # Errors
/// `Stale` if there is none.
pub async fn remove(db: &mut SqliteConnection, by: By, id: NoticeAddressId) -> Written {
    let result = sqlx::query("delete from notice_address where id = ?1")
        .bind(id)
        .execute(&mut *db)
        .await?;
    changed_one(&result)?;
    change::append(db, by, "removed", "notice address", id, "").await?;
    Ok(())
}

/// Books a post that arrived.
pub async fn note_told(
    db: &mut SqliteConnection,
    id: NoticeAddressId,
    told_to: ChangeId,
    at: Timestamp,
) -> Result<()> {
    sqlx::query(
        "update notice_address set told_to = ?2, failures = 0, tried_at = ?3 where id = ?1",
    )
    .bind(id)
    .bind(told_to)
    .bind(at.as_second())
    .execute(db)
    .await?;
    Ok(())
}

/// Books a post that did not arrive. After `most_failures` in a row the address is turned off.
pub async fn note_failed(
    db: &mut SqliteConnection,
    id: NoticeAddressId,
    at: Timestamp,
    most_failures: u32,
) -> Result<()> {
    sqlx::query(
        "update notice_address set failures = failures + 1, tried_at = ?2, is_active = failures + 1 < ?3 where id = ?1",
    )
    .bind(id)
    .bind(at.as_second())
    .bind(most_failures)
    .execute(db)
    .await?;
    Ok(())
}
