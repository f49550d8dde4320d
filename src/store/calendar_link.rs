//! The secret links under which members' calendars can be read without signing in.

use jiff::Timestamp;
use sqlx::{SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::{MemberId, Result, TokenHash};

/// The member whose link has this token, if they may still sign in.
pub async fn find(db: impl SqliteExecutor<'_>, token: TokenHash) -> Result<Option<MemberId>> {
    sqlx::query_scalar("select id from member where calendar_token_hash = ?1 and is_active = 1")
        .bind(token)
        .fetch_optional(db)
        .await
}

/// Whether the member has a link.
pub async fn is_there(db: impl SqliteExecutor<'_>, member: MemberId) -> Result<bool> {
    sqlx::query_scalar("select calendar_token_hash is not null from member where id = ?1")
        .bind(member)
        .fetch_one(db)
        .await
}

/// Gives the member a link in the place of the one before, or none.
pub async fn set(
    db: &mut SqliteConnection,
    member: MemberId,
    token: Option<TokenHash>,
    now: Timestamp,
) -> Result<()> {
    sqlx::query("update member set calendar_token_hash = ?2 where id = ?1")
        .bind(member)
        .bind(token)
        .execute(&mut *db)
        .await?;
    let verb = if token.is_some() { "created" } else { "ended" };
    change::append(
        db,
        By::member(member, now),
        verb,
        "calendar link",
        member,
        "",
    )
    .await?;
    Ok(())
}
