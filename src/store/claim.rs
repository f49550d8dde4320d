//! Claims: pieces held for a project until a day.

use jiff::Timestamp;
use jiff::civil::Date;
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::refusal::{Written, changed_one};
use super::row::{day, instant, optional_instant};
use super::text::words;
use super::{ClaimId, MemberId, OffcutId, ProjectId, Result};

words! {
    ClaimState {
        Held = "held",
        Cut = "cut",
        LetGo = "let go",
        Lapsed = "lapsed",
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Claim {
    pub id: ClaimId,
    pub project: ProjectId,
    pub project_name: String,
    /// Whose project it is.
    pub member: MemberId,
    pub member_name: String,
    pub offcut: OffcutId,
    pub tag: String,
    /// Still held, or held when the claim ended.
    pub pieces: u32,
    pub pieces_cut: u32,
    pub state: ClaimState,
    /// The last day on which it holds.
    pub last_day: Date,
    pub claimed_by: MemberId,
    pub claimed_at: Timestamp,
    pub ended_at: Option<Timestamp>,
    pub version: i64,
}

impl FromRow<'_, SqliteRow> for Claim {
    fn from_row(row: &SqliteRow) -> Result<Claim> {
        Ok(Claim {
            id: row.try_get("id")?,
            project: row.try_get("project_id")?,
            project_name: row.try_get("project_name")?,
            member: row.try_get("member_id")?,
            member_name: row.try_get("member_name")?,
            offcut: row.try_get("offcut_id")?,
            tag: row.try_get("tag")?,
            pieces: row.try_get("pieces")?,
            pieces_cut: row.try_get("pieces_cut")?,
            state: row.try_get("state")?,
            last_day: day(row, "last_day")?,
            claimed_by: row.try_get("claimed_by")?,
            claimed_at: instant(row, "claimed_at")?,
            ended_at: optional_instant(row, "ended_at")?,
            version: row.try_get("version")?,
        })
    }
}

pub async fn find(db: impl SqliteExecutor<'_>, id: ClaimId) -> Result<Option<Claim>> {
    sqlx::query_as(
        "select claim.*, project.name as project_name, project.member_id, member.name as member_name, offcut.tag
         from claim join project on project.id = claim.project_id
         join member on member.id = project.member_id join offcut on offcut.id = claim.offcut_id
         where claim.id = ?1",
    )
    .bind(id)
    .fetch_optional(db)
    .await
}

/// A project's claims, oldest first.
pub async fn list_of_project(
    db: impl SqliteExecutor<'_>,
    project: ProjectId,
) -> Result<Vec<Claim>> {
    sqlx::query_as(
        "select claim.*, project.name as project_name, project.member_id, member.name as member_name, offcut.tag
         from claim join project on project.id = claim.project_id
         join member on member.id = project.member_id join offcut on offcut.id = claim.offcut_id
         where claim.project_id = ?1 order by claim.id",
    )
    .bind(project)
    .fetch_all(db)
    .await
}

/// Who holds pieces of an offcut.
pub async fn list_held_of_offcut(
    db: impl SqliteExecutor<'_>,
    offcut: OffcutId,
) -> Result<Vec<Claim>> {
    sqlx::query_as(
        "select claim.*, project.name as project_name, project.member_id, member.name as member_name, offcut.tag
         from claim join project on project.id = claim.project_id
         join member on member.id = project.member_id join offcut on offcut.id = claim.offcut_id
         where claim.offcut_id = ?1 and claim.state = 'held' order by claim.id",
    )
    .bind(offcut)
    .fetch_all(db)
    .await
}

/// Held claims whose last day is `day` or earlier, soonest first; of one member where that is given.
pub async fn list_held_until(
    db: impl SqliteExecutor<'_>,
    day: Date,
    member: Option<MemberId>,
) -> Result<Vec<Claim>> {
    sqlx::query_as(
        "select claim.*, project.name as project_name, project.member_id, member.name as member_name, offcut.tag
         from claim indexed by claim_held_day join project on project.id = claim.project_id
         join member on member.id = project.member_id join offcut on offcut.id = claim.offcut_id
         where claim.state = 'held' and claim.last_day <= ?1 and (?2 is null or project.member_id = ?2)
         order by claim.last_day, claim.id",
    )
    .bind(day.to_string())
    .bind(member)
    .fetch_all(db)
    .await
}

/// The wood that a member's projects hold and have cut so far, in cubic millimetres.
pub async fn held_mm3_of_member(db: impl SqliteExecutor<'_>, member: MemberId) -> Result<i64> {
    sqlx::query_scalar(
        "select coalesce(sum((iif(claim.state = 'held', claim.pieces, 0) + claim.pieces_cut) * offcut.volume_mm3), 0)
         from claim join project on project.id = claim.project_id join offcut on offcut.id = claim.offcut_id
         where project.member_id = ?1",
    )
    .bind(member)
    .fetch_one(db)
    .await
}

/// Whether a claim is held whose last day was before `today`.
pub async fn is_any_over(db: impl SqliteExecutor<'_>, today: Date) -> Result<bool> {
    sqlx::query_scalar("select exists (select 1 from claim where state = 'held' and last_day < ?1)")
        .bind(today.to_string())
        .fetch_one(db)
        .await
}

/// Holds `pieces` of an offcut for a project.
///
/// # Errors
/// `PieceAlreadyClaimed` if not so many are free.
pub(crate) async fn insert(
    db: &mut SqliteConnection,
    by: By,
    member: MemberId,
    project: ProjectId,
    offcut: OffcutId,
    pieces: u32,
    last_day: Date,
) -> Written<ClaimId> {
    let id = sqlx::query_scalar(
        "insert into claim (project_id, offcut_id, pieces, last_day, claimed_by, claimed_at)
         values (?1, ?2, ?3, ?4, ?5, ?6) returning id",
    )
    .bind(project)
    .bind(offcut)
    .bind(pieces)
    .bind(last_day.to_string())
    .bind(member)
    .bind(by.at.as_second())
    .fetch_one(&mut *db)
    .await?;
    change::append(
        db,
        by,
        "claimed",
        "offcut",
        offcut,
        &match pieces {
            1 => format!("project {project}, 1 piece"),
            _ => format!("project {project}, {pieces} pieces"),
        },
    )
    .await?;
    Ok(id)
}

/// Books `pieces` of a claim as cut; the claim ends with the last of them.
///
/// # Errors
/// `Stale` if it no longer holds so many.
pub(crate) async fn take_cut(
    db: &mut SqliteConnection,
    by: By,
    id: ClaimId,
    pieces: u32,
) -> Written {
    let result = sqlx::query(
        "update claim
         set pieces = pieces - ?2, pieces_cut = pieces_cut + ?2, version = version + 1,
             state = iif(pieces = ?2, 'cut', 'held'), ended_at = iif(pieces = ?2, ?3, null)
         where id = ?1 and state = 'held' and pieces >= ?2",
    )
    .bind(id)
    .bind(pieces)
    .bind(by.at.as_second())
    .execute(db)
    .await?;
    changed_one(&result)
}

/// Ends a claim whose pieces were not cut.
///
/// # Errors
/// `Stale` if it is not held any more.
pub(crate) async fn end(
    db: &mut SqliteConnection,
    by: By,
    id: ClaimId,
    state: ClaimState,
) -> Written {
    let result = sqlx::query(
        "update claim set state = ?2, ended_at = ?3, version = version + 1 where id = ?1 and state = 'held'",
    )
    .bind(id)
    .bind(state)
    .bind(by.at.as_second())
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, state.word(), "claim", id, "").await?;
    Ok(())
}

/// Moves the last day of a claim that is held.
///
/// # Errors
/// `Stale`.
pub(crate) async fn set_last_day(
    db: &mut SqliteConnection,
    by: By,
    id: ClaimId,
    version: i64,
    last_day: Date,
) -> Written {
    let result = sqlx::query(
        "update claim set last_day = ?3, version = version + 1 where id = ?1 and version = ?2 and state = 'held'",
    )
    .bind(id)
    .bind(version)
    .bind(last_day.to_string())
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "extended", "claim", id, &last_day.to_string()).await?;
    Ok(())
}
