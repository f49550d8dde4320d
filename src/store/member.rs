//! Members and stewards.

use jiff::Timestamp;
use sqlx::{FromRow, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::{MemberId, Result};
use crate::units::{InchFraction, LengthFormat};

/// What a member may do beyond their own things.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    Member,
    /// Keeps bins, clamps, hours and members.
    Steward,
}

impl Role {
    /// The role's word, the same in the database, in JSON and on pages.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Role::Member => "member",
            Role::Steward => "steward",
        }
    }

    /// The role with this word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Role> {
        [Role::Member, Role::Steward]
            .into_iter()
            .find(|role| role.word() == word)
    }
}

/// A member of the workshop.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    pub id: MemberId,
    pub name: String,
    /// What the member types to sign in; compared without regard to ASCII case.
    pub sign_in_name: String,
    pub role: Role,
    /// How lengths are shown, and read where no unit is written.
    pub lengths: LengthFormat,
    /// Weekdays on which the member can come, Monday first.
    pub own_days: [bool; 7],
    /// Someone who has left keeps their rows but cannot sign in.
    pub is_active: bool,
    pub version: i64,
    pub created_at: Timestamp,
}

/// A member who is about to be stored.
#[derive(Clone, Debug)]
pub struct NewMember<'a> {
    pub name: &'a str,
    pub sign_in_name: &'a str,
    pub password_hash: &'a str,
    pub role: Role,
}

/// What members say of themselves.
#[derive(Clone, Debug)]
pub struct MemberEdit<'a> {
    pub name: &'a str,
    pub lengths: LengthFormat,
    pub own_days: [bool; 7],
}

#[derive(FromRow)]
struct MemberRow {
    id: MemberId,
    name: String,
    sign_in_name: String,
    role: String,
    length_unit: String,
    inch_denominator: i64,
    own_days: String,
    is_active: bool,
    version: i64,
    created_at: i64,
}

impl TryFrom<MemberRow> for Member {
    type Error = sqlx::Error;

    fn try_from(row: MemberRow) -> Result<Member> {
        let role = Role::from_word(&row.role)
            .ok_or_else(|| super::unreadable("member.role", &row.role))?;
        let fraction = InchFraction::from_denominator(row.inch_denominator)
            .ok_or_else(|| super::unreadable("member.inch_denominator", &row.inch_denominator))?;
        let mut own_days = [false; 7];
        for (day, letter) in own_days.iter_mut().zip(row.own_days.chars()) {
            *day = letter == '1';
        }
        Ok(Member {
            id: row.id,
            name: row.name,
            sign_in_name: row.sign_in_name,
            role,
            lengths: match row.length_unit.as_str() {
                "mm" => LengthFormat::Millimetres,
                _ => LengthFormat::Inches(fraction),
            },
            own_days,
            is_active: row.is_active,
            version: row.version,
            created_at: super::instant(row.created_at)?,
        })
    }
}

/// The member with this id.
pub async fn find(db: impl SqliteExecutor<'_>, id: MemberId) -> Result<Option<Member>> {
    let row: Option<MemberRow> = sqlx::query_as("select * from member where id = ?")
        .bind(id)
        .fetch_optional(db)
        .await?;
    row.map(Member::try_from).transpose()
}

/// The member who signs in with this name.
pub async fn find_by_sign_in_name(
    db: impl SqliteExecutor<'_>,
    sign_in_name: &str,
) -> Result<Option<Member>> {
    let row: Option<MemberRow> = sqlx::query_as("select * from member where sign_in_name = ?")
        .bind(sign_in_name)
        .fetch_optional(db)
        .await?;
    row.map(Member::try_from).transpose()
}

/// Everybody, those who left last, by name.
pub async fn list(db: impl SqliteExecutor<'_>) -> Result<Vec<Member>> {
    let rows: Vec<MemberRow> =
        sqlx::query_as("select * from member order by is_active desc, name collate nocase, id")
            .fetch_all(db)
            .await?;
    rows.into_iter().map(Member::try_from).collect()
}

/// How many stewards can sign in.
pub async fn count_stewards(db: impl SqliteExecutor<'_>) -> Result<i64> {
    sqlx::query_scalar("select count(*) from member where role = 'steward' and is_active = 1")
        .fetch_one(db)
        .await
}

/// Adds a member. Fails with a unique violation if the sign-in name is taken.
pub async fn insert(
    db: &mut SqliteConnection,
    member: &NewMember<'_>,
    now: Timestamp,
) -> Result<MemberId> {
    sqlx::query_scalar(
        "insert into member (name, sign_in_name, password_hash, role, created_at)
         values (?, ?, ?, ?, ?) returning id",
    )
    .bind(member.name)
    .bind(member.sign_in_name)
    .bind(member.password_hash)
    .bind(member.role.word())
    .bind(now.as_second())
    .fetch_one(db)
    .await
}

/// Stores what members say of themselves; false if somebody changed the row since `version`.
pub async fn update(
    db: &mut SqliteConnection,
    id: MemberId,
    version: i64,
    edit: &MemberEdit<'_>,
    now: Timestamp,
) -> Result<bool> {
    let (length_unit, denominator) = match edit.lengths {
        LengthFormat::Millimetres => ("mm", 16),
        LengthFormat::Inches(fraction) => ("in", fraction.denominator()),
    };
    let own_days: String = edit
        .own_days
        .map(|day| if day { '1' } else { '0' })
        .iter()
        .collect();
    let done = sqlx::query(
        "update member
         set name = ?, length_unit = ?, inch_denominator = ?, own_days = ?, version = version + 1
         where id = ? and version = ?",
    )
    .bind(edit.name)
    .bind(length_unit)
    .bind(denominator)
    .bind(own_days)
    .bind(id)
    .bind(version)
    .execute(&mut *db)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(false);
    }
    change::append(db, By::member(id, now), "changed", "member", id, edit.name).await?;
    Ok(true)
}

/// Gives a member another role; false if somebody changed the row since `version`.
pub async fn set_role(
    db: &mut SqliteConnection,
    id: MemberId,
    version: i64,
    role: Role,
) -> Result<bool> {
    let done = sqlx::query(
        "update member set role = ?, version = version + 1 where id = ? and version = ?",
    )
    .bind(role.word())
    .bind(id)
    .bind(version)
    .execute(db)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Lets a member in or keeps them out; false if somebody changed the row since `version`.
pub async fn set_active(
    db: &mut SqliteConnection,
    id: MemberId,
    version: i64,
    is_active: bool,
) -> Result<bool> {
    let done = sqlx::query(
        "update member set is_active = ?, version = version + 1 where id = ? and version = ?",
    )
    .bind(is_active)
    .bind(id)
    .bind(version)
    .execute(db)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// The stored hash of the password of the member who signs in with this name, if they may.
pub async fn password_hash(
    db: impl SqliteExecutor<'_>,
    sign_in_name: &str,
) -> Result<Option<(MemberId, String)>> {
    sqlx::query_as(
        "select id, password_hash from member
         where sign_in_name = ? and is_active = 1 and password_hash is not null",
    )
    .bind(sign_in_name)
    .fetch_optional(db)
    .await
}

/// Replaces the password.
pub async fn set_password(
    db: &mut SqliteConnection,
    id: MemberId,
    password_hash: &str,
) -> Result<()> {
    sqlx::query("update member set password_hash = ? where id = ?")
        .bind(password_hash)
        .bind(id)
        .execute(db)
        .await?;
    Ok(())
}
