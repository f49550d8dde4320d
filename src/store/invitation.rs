//! One-time links: the first steward's, invitations, password resets.

use jiff::Timestamp;
use sqlx::{FromRow, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::{InvitationId, MemberId, Result, Role, TokenHash};

/// What a one-time link is good for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Makes the first steward of an empty workshop.
    FirstSteward,
    /// Makes a new member.
    Invitation,
    /// Lets a member choose a new password.
    Reset,
}

impl Purpose {
    /// The word in the database.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Purpose::FirstSteward => "first steward",
            Purpose::Invitation => "invitation",
            Purpose::Reset => "reset",
        }
    }

    fn from_word(word: &str) -> Option<Purpose> {
        [Purpose::FirstSteward, Purpose::Invitation, Purpose::Reset]
            .into_iter()
            .find(|purpose| purpose.word() == word)
    }
}

/// A one-time link that has been given out.
#[derive(Clone, Debug)]
pub struct Invitation {
    pub id: InvitationId,
    pub purpose: Purpose,
    pub role: Role,
    /// Whom it is meant for, as the steward wrote it; may be empty.
    pub name: String,
    /// The member whose password is reset; after use, the member who was made.
    pub member_id: Option<MemberId>,
    pub created_by: Option<MemberId>,
    pub created_at: Timestamp,
    pub ends_at: Timestamp,
    pub used_at: Option<Timestamp>,
}

/// A one-time link to be stored.
#[derive(Clone, Debug)]
pub struct NewInvitation<'a> {
    pub token: TokenHash,
    pub purpose: Purpose,
    pub role: Role,
    pub name: &'a str,
    pub member_id: Option<MemberId>,
    pub created_by: Option<MemberId>,
    pub ends_at: Timestamp,
}

#[derive(FromRow)]
struct InvitationRow {
    id: InvitationId,
    purpose: String,
    role: String,
    name: String,
    member_id: Option<MemberId>,
    created_by: Option<MemberId>,
    created_at: i64,
    ends_at: i64,
    used_at: Option<i64>,
}

impl TryFrom<InvitationRow> for Invitation {
    type Error = sqlx::Error;

    fn try_from(row: InvitationRow) -> Result<Invitation> {
        Ok(Invitation {
            id: row.id,
            purpose: Purpose::from_word(&row.purpose)
                .ok_or_else(|| super::unreadable("invitation.purpose", &row.purpose))?,
            role: Role::from_word(&row.role)
                .ok_or_else(|| super::unreadable("invitation.role", &row.role))?,
            name: row.name,
            member_id: row.member_id,
            created_by: row.created_by,
            created_at: super::instant(row.created_at)?,
            ends_at: super::instant(row.ends_at)?,
            used_at: row.used_at.map(super::instant).transpose()?,
        })
    }
}

/// The link with this token, used or ended or not.
pub async fn find(db: impl SqliteExecutor<'_>, token: TokenHash) -> Result<Option<Invitation>> {
    let row: Option<InvitationRow> =
        sqlx::query_as("select * from invitation where token_hash = ?")
            .bind(token)
            .fetch_optional(db)
            .await?;
    row.map(Invitation::try_from).transpose()
}

/// Links that can still be used, the newest first.
pub async fn list_open(db: impl SqliteExecutor<'_>, now: Timestamp) -> Result<Vec<Invitation>> {
    let rows: Vec<InvitationRow> = sqlx::query_as(
        "select * from invitation where used_at is null and ends_at > ? order by id desc",
    )
    .bind(now.as_second())
    .fetch_all(db)
    .await?;
    rows.into_iter().map(Invitation::try_from).collect()
}

/// Stores a link.
pub async fn insert(
    db: &mut SqliteConnection,
    new: &NewInvitation<'_>,
    now: Timestamp,
) -> Result<InvitationId> {
    sqlx::query_scalar(
        "insert into invitation (token_hash, purpose, role, name, member_id, created_by, created_at, ends_at)
         values (?, ?, ?, ?, ?, ?, ?, ?) returning id",
    )
    .bind(new.token)
    .bind(new.purpose.word())
    .bind(new.role.word())
    .bind(new.name)
    .bind(new.member_id)
    .bind(new.created_by)
    .bind(now.as_second())
    .bind(new.ends_at.as_second())
    .fetch_one(db)
    .await
}

/// Marks a link as used by `member_id`; false if it was used or had ended before.
pub async fn take(
    db: &mut SqliteConnection,
    id: InvitationId,
    member_id: MemberId,
    now: Timestamp,
) -> Result<bool> {
    let done = sqlx::query(
        "update invitation set used_at = ?, member_id = ?
         where id = ? and used_at is null and ends_at > ?",
    )
    .bind(now.as_second())
    .bind(member_id)
    .bind(id)
    .bind(now.as_second())
    .execute(db)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Ends a link that was not used; false if there is none.
pub async fn withdraw(db: &mut SqliteConnection, by: By, id: InvitationId) -> Result<bool> {
    let done = sqlx::query("delete from invitation where id = ? and used_at is null")
        .bind(id)
        .execute(&mut *db)
        .await?;
    if done.rows_affected() == 0 {
        return Ok(false);
    }
    change::append(db, by, "removed", "invitation", id, "").await?;
    Ok(true)
}

/// Ends every unused link with this purpose, of one member where given.
pub async fn withdraw_all(
    db: &mut SqliteConnection,
    purpose: Purpose,
    member_id: Option<MemberId>,
) -> Result<()> {
    sqlx::query(
        "delete from invitation where purpose = ? and used_at is null and (? is null or member_id = ?)",
    )
    .bind(purpose.word())
    .bind(member_id)
    .bind(member_id)
    .execute(db)
    .await?;
    Ok(())
}
