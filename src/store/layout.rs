//! How a project's claimed pieces and bought boards are cut.

use serde::Deserialize;
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::refusal::{Written, changed_one};
use super::{ClaimId, LayoutId, OffcutId, ProjectId, Result};

/// Where a layout's wood comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// A piece from a bin.
    Claimed {
        claim: ClaimId,
        offcut: OffcutId,
        tag: String,
    },
    /// A board of the trade, by its name.
    Bought(String),
}

/// How `copies` equal pieces are cut for a project.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredLayout {
    pub id: LayoutId,
    /// Whose claim it is: who cuts.
    pub project: ProjectId,
    /// Its place in the order of the cuts, from 0.
    pub position: i64,
    pub source: Source,
    pub copies: u32,
    pub copies_cut: u32,
    /// The layout as the calculation contract prints it.
    pub cut: String,
}

/// What one copy of a layout gives a project.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize, sqlx::FromRow)]
pub struct LayoutStrip {
    pub project_id: ProjectId,
    pub strip_key: String,
    pub count: u32,
}

/// A layout about to be stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct NewLayout {
    pub project: ProjectId,
    pub position: i64,
    /// Either the claim or the board's name.
    pub source: NewSource,
    pub copies: u32,
    pub cut: String,
    pub strips: Vec<LayoutStrip>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum NewSource {
    Claimed(ClaimId),
    Bought(String),
}

impl FromRow<'_, SqliteRow> for StoredLayout {
    fn from_row(row: &SqliteRow) -> Result<StoredLayout> {
        let claim: Option<ClaimId> = row.try_get("claim_id")?;
        let source = match claim {
            Some(claim) => Source::Claimed {
                claim,
                offcut: row.try_get("offcut_id")?,
                tag: row.try_get("tag")?,
            },
            None => Source::Bought(row.try_get("bought")?),
        };
        Ok(StoredLayout {
            id: row.try_get("id")?,
            project: row.try_get("project_id")?,
            position: row.try_get("position")?,
            source,
            copies: row.try_get("copies")?,
            copies_cut: row.try_get("copies_cut")?,
            cut: row.try_get("cut")?,
        })
    }
}

pub async fn find(db: impl SqliteExecutor<'_>, id: LayoutId) -> Result<Option<StoredLayout>> {
    sqlx::query_as(
        "select layout.*, claim.offcut_id, offcut.tag
         from layout left join claim on claim.id = layout.claim_id left join offcut on offcut.id = claim.offcut_id
         where layout.id = ?1",
    )
    .bind(id)
    .fetch_optional(db)
    .await
}

/// The layouts that a project cuts, in the order of the cuts.
pub async fn list_of_project(
    db: impl SqliteExecutor<'_>,
    project: ProjectId,
) -> Result<Vec<StoredLayout>> {
    sqlx::query_as(
        "select layout.*, claim.offcut_id, offcut.tag
         from layout left join claim on claim.id = layout.claim_id left join offcut on offcut.id = claim.offcut_id
         where layout.project_id = ?1 order by layout.position, layout.id",
    )
    .bind(project)
    .fetch_all(db)
    .await
}

/// Layouts that others cut and that give this project strips too.
pub async fn list_shared_with_project(
    db: impl SqliteExecutor<'_>,
    project: ProjectId,
) -> Result<Vec<StoredLayout>> {
    sqlx::query_as(
        "select layout.*, claim.offcut_id, offcut.tag
         from layout left join claim on claim.id = layout.claim_id left join offcut on offcut.id = claim.offcut_id
         where layout.project_id <> ?1
             and exists (select 1 from layout_strip where layout_id = layout.id and layout_strip.project_id = ?1)
         order by layout.project_id, layout.position, layout.id",
    )
    .bind(project)
    .fetch_all(db)
    .await
}

pub(crate) async fn list_of_claim(
    db: impl SqliteExecutor<'_>,
    claim: ClaimId,
) -> Result<Vec<StoredLayout>> {
    sqlx::query_as(
        "select layout.*, claim.offcut_id, offcut.tag
         from layout join claim on claim.id = layout.claim_id join offcut on offcut.id = claim.offcut_id
         where layout.claim_id = ?1 order by layout.id",
    )
    .bind(claim)
    .fetch_all(db)
    .await
}

/// What one copy of a layout gives, for whom.
pub async fn list_strips(db: impl SqliteExecutor<'_>, id: LayoutId) -> Result<Vec<LayoutStrip>> {
    sqlx::query_as(
        "select project_id, strip_key, count from layout_strip where layout_id = ?1 order by project_id, strip_key",
    )
    .bind(id)
    .fetch_all(db)
    .await
}

/// Strips of a project that layouts give, whoever cuts them.
#[derive(Clone, Debug, PartialEq, Eq, sqlx::FromRow)]
pub struct Progress {
    pub strip_key: String,
    /// Strips that are cut.
    pub cut: u32,
    /// Strips in claimed pieces and bought boards that are still to be cut.
    pub to_cut: u32,
}

/// By strip key. Strips that no layout gives are not listed.
pub async fn progress(db: impl SqliteExecutor<'_>, project: ProjectId) -> Result<Vec<Progress>> {
    sqlx::query_as(
        "select layout_strip.strip_key, sum(layout_strip.count * layout.copies_cut) as cut,
             sum(layout_strip.count * (layout.copies - layout.copies_cut)) as to_cut
         from layout_strip join layout on layout.id = layout_strip.layout_id
         where layout_strip.project_id = ?1 group by layout_strip.strip_key order by layout_strip.strip_key",
    )
    .bind(project)
    .fetch_all(db)
    .await
}

pub(crate) async fn insert(db: &mut SqliteConnection, layout: &NewLayout) -> Written<LayoutId> {
    let (claim, bought) = match &layout.source {
        NewSource::Claimed(claim) => (Some(*claim), None),
        NewSource::Bought(name) => (None, Some(name)),
    };
    let id: LayoutId = sqlx::query_scalar(
        "insert into layout (project_id, position, claim_id, bought, copies, cut)
         values (?1, ?2, ?3, ?4, ?5, ?6) returning id",
    )
    .bind(layout.project)
    .bind(layout.position)
    .bind(claim)
    .bind(bought)
    .bind(layout.copies)
    .bind(&layout.cut)
    .fetch_one(&mut *db)
    .await?;
    for strip in &layout.strips {
        sqlx::query(
            "insert into layout_strip (layout_id, project_id, strip_key, count) values (?1, ?2, ?3, ?4)",
        )
        .bind(id)
        .bind(strip.project_id)
        .bind(&strip.strip_key)
        .bind(strip.count)
        .execute(&mut *db)
        .await?;
    }
    Ok(id)
}

/// Books one copy as cut.
///
/// # Errors
/// `Stale` if all copies are cut.
pub(crate) async fn take_copy(db: &mut SqliteConnection, id: LayoutId) -> Written {
    let result = sqlx::query(
        "update layout set copies_cut = copies_cut + 1 where id = ?1 and copies_cut < copies",
    )
    .bind(id)
    .execute(db)
    .await?;
    changed_one(&result)
}

/// Forgets the copies that were not cut: what they would have given is wanted again.
pub(crate) async fn drop_uncut(db: &mut SqliteConnection, id: LayoutId) -> Result<()> {
    sqlx::query("delete from layout where id = ?1 and copies_cut = 0")
        .bind(id)
        .execute(&mut *db)
        .await?;
    sqlx::query("update layout set copies = copies_cut where id = ?1")
        .bind(id)
        .execute(&mut *db)
        .await?;
    Ok(())
}
