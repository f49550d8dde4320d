//! Tokens with which members' scripts sign in: named, with a scope, only their hash stored.

use jiff::Timestamp;
use sqlx::{FromRow, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::{ApiTokenId, MemberId, Result, TokenHash};

/// What a token may be used for; each scope includes the ones before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Scope {
    Read,
    Write,
    /// What only stewards may do; worth nothing in the hands of a member who is none.
    Steward,
}

impl Scope {
    /// The scope's word, the same in the database, in JSON and on pages.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Scope::Read => "read",
            Scope::Write => "write",
            Scope::Steward => "steward",
        }
    }

    /// The scope with this word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Scope> {
        [Scope::Read, Scope::Write, Scope::Steward]
            .into_iter()
            .find(|scope| scope.word() == word)
    }
}

/// A token that can be used.
#[derive(Clone, Debug)]
pub struct ApiToken {
    pub id: ApiTokenId,
    pub member_id: MemberId,
    pub name: String,
    pub scope: Scope,
    pub created_at: Timestamp,
    pub used_at: Option<Timestamp>,
}

#[derive(FromRow)]
struct ApiTokenRow {
    id: ApiTokenId,
    member_id: MemberId,
    name: String,
    scope: String,
    created_at: i64,
    used_at: Option<i64>,
}

impl TryFrom<ApiTokenRow> for ApiToken {
    type Error = sqlx::Error;

    fn try_from(row: ApiTokenRow) -> Result<ApiToken> {
        Ok(ApiToken {
            id: row.id,
            member_id: row.member_id,
            name: row.name,
            scope: Scope::from_word(&row.scope)
                .ok_or_else(|| super::unreadable("api_token.scope", &row.scope))?,
            created_at: super::instant(row.created_at)?,
            used_at: row.used_at.map(super::instant).transpose()?,
        })
    }
}

/// The token with this hash, if it has not been ended.
pub async fn find(db: impl SqliteExecutor<'_>, token: TokenHash) -> Result<Option<ApiToken>> {
    let row: Option<ApiTokenRow> = sqlx::query_as(
        "select id, member_id, name, scope, created_at, used_at from api_token
         where token_hash = ? and ended_at is null",
    )
    .bind(token)
    .fetch_optional(db)
    .await?;
    row.map(ApiToken::try_from).transpose()
}

/// A member's tokens, the newest first.
pub async fn list(db: impl SqliteExecutor<'_>, member_id: MemberId) -> Result<Vec<ApiToken>> {
    let rows: Vec<ApiTokenRow> = sqlx::query_as(
        "select id, member_id, name, scope, created_at, used_at from api_token
         where member_id = ? and ended_at is null order by id desc",
    )
    .bind(member_id)
    .fetch_all(db)
    .await?;
    rows.into_iter().map(ApiToken::try_from).collect()
}

/// Stores a token.
pub async fn insert(
    db: &mut SqliteConnection,
    token: TokenHash,
    member_id: MemberId,
    name: &str,
    scope: Scope,
    now: Timestamp,
) -> Result<ApiTokenId> {
    let id: ApiTokenId = sqlx::query_scalar(
        "insert into api_token (member_id, name, token_hash, scope, created_at)
         values (?, ?, ?, ?, ?) returning id",
    )
    .bind(member_id)
    .bind(name)
    .bind(token)
    .bind(scope.word())
    .bind(now.as_second())
    .fetch_one(&mut *db)
    .await?;
    let detail = format!("{name}, scope {}", scope.word());
    change::append(
        db,
        By::member(member_id, now),
        "created",
        "token",
        id,
        &detail,
    )
    .await?;
    Ok(id)
}

/// Notes that the token was used.
pub async fn touch(db: &mut SqliteConnection, id: ApiTokenId, now: Timestamp) -> Result<()> {
    sqlx::query("update api_token set used_at = ? where id = ?")
        .bind(now.as_second())
        .bind(id)
        .execute(db)
        .await?;
    Ok(())
}

/// Ends a member's token; false if they have none with this id.
pub async fn end(
    db: &mut SqliteConnection,
    id: ApiTokenId,
    member_id: MemberId,
    now: Timestamp,
) -> Result<bool> {
    let done = sqlx::query(
        "update api_token set ended_at = ? where id = ? and member_id = ? and ended_at is null",
    )
    .bind(now.as_second())
    .bind(id)
    .bind(member_id)
    .execute(&mut *db)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(false);
    }
    change::append(db, By::member(member_id, now), "ended", "token", id, "").await?;
    Ok(true)
}

/// Ends all tokens of a member.
pub async fn end_all(db: &mut SqliteConnection, member_id: MemberId, now: Timestamp) -> Result<()> {
    sqlx::query("update api_token set ended_at = ? where member_id = ? and ended_at is null")
        .bind(now.as_second())
        .bind(member_id)
        .execute(db)
        .await?;
    Ok(())
}
