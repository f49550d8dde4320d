//! Projects: what members make, what it asks of the wood, and how far it is.

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::practice::PracticeChanges;
use super::refusal::{Written, changed_one};
use super::row::{instant, json, length, optional_day, optional_instant, to_json};
use super::text::words;
use super::{MemberId, ProjectId, Result};
use crate::calc::matching::Section;
use crate::units::Length;

words! {
    /// How far a project is.
    Stage {
        Drawn = "drawn",
        Matched = "matched",
        Claimed = "claimed",
        Milled = "milled",
        Glued = "glued",
        Shaped = "shaped",
        Finishing = "finishing",
        Curing = "curing",
        Ready = "ready",
        HandedOver = "handed over",
    }
}

/// What a member says of a project.
#[derive(Clone, Debug, PartialEq)]
pub struct NewProject {
    pub name: String,
    /// The kind of piece, a word of the design's JSON form.
    pub kind: String,
    /// The design, in its JSON form.
    pub design: String,
    /// Where it differs from the workshop's practice.
    pub practice: PracticeChanges,
    pub due_day: Option<Date>,
    pub note: String,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Project {
    pub id: ProjectId,
    pub member: MemberId,
    pub member_name: String,
    pub about: NewProject,
    pub stage: Stage,
    /// Grows with every change of what the design asks for.
    pub design_version: i64,
    pub found: Option<FoundMatch>,
    pub ended_at: Option<Timestamp>,
    pub created_at: Timestamp,
    pub version: i64,
}

/// The newest match that has not been claimed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FoundMatch {
    /// As the calculation contract prints it.
    pub answer: String,
    pub design_version: i64,
    pub at: Timestamp,
}

impl Project {
    /// The match, unless the design has changed since.
    pub fn current_match(&self) -> Option<&FoundMatch> {
        self.found
            .as_ref()
            .filter(|found| found.design_version == self.design_version)
    }
}

impl FromRow<'_, SqliteRow> for Project {
    fn from_row(row: &SqliteRow) -> Result<Project> {
        let answer: Option<String> = row.try_get("match_answer")?;
        let matched_at = optional_instant(row, "matched_at")?;
        let match_design_version: Option<i64> = row.try_get("match_design_version")?;
        let found = match (answer, match_design_version, matched_at) {
            (Some(answer), Some(design_version), Some(at)) => Some(FoundMatch {
                answer,
                design_version,
                at,
            }),
            _ => None,
        };
        Ok(Project {
            id: row.try_get("id")?,
            member: row.try_get("member_id")?,
            member_name: row.try_get("member_name")?,
            about: NewProject {
                name: row.try_get("name")?,
                kind: row.try_get("kind")?,
                design: row.try_get("design")?,
                practice: json(row, "practice")?,
                due_day: optional_day(row, "due_day")?,
                note: row.try_get("note")?,
            },
            stage: row.try_get("stage")?,
            design_version: row.try_get("design_version")?,
            found,
            ended_at: optional_instant(row, "ended_at")?,
            created_at: instant(row, "created_at")?,
            version: row.try_get("version")?,
        })
    }
}

/// Strips of one kind that a project wants: `count` equal ones.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WantedStrip {
    /// Names it within its project.
    pub key: String,
    pub count: u32,
    pub length: Length,
    /// Any of these will do.
    pub species: Vec<String>,
    /// Any of these will do.
    pub sections: Vec<Section>,
}

#[derive(Serialize, Deserialize)]
struct StoredSection {
    rip_nm: i64,
    thickness_nm: i64,
}

impl FromRow<'_, SqliteRow> for WantedStrip {
    fn from_row(row: &SqliteRow) -> Result<WantedStrip> {
        let sections: Vec<StoredSection> = json(row, "sections")?;
        Ok(WantedStrip {
            key: row.try_get("key")?,
            count: row.try_get("count")?,
            length: length(row, "length_nm")?,
            species: json(row, "species")?,
            sections: sections
                .into_iter()
                .map(|section| Section {
                    rip: Length::from_nm(section.rip_nm),
                    thickness: Length::from_nm(section.thickness_nm),
                })
                .collect(),
        })
    }
}

/// Which projects to show. What is `None` does not matter.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Search {
    pub member: Option<MemberId>,
    pub stage: Option<Stage>,
    /// Also projects that have ended.
    pub ended: bool,
    pub before: Option<ProjectId>,
    pub limit: u32,
}

/// Whether any project ever got as far as a match.
pub async fn has_any_match(db: impl SqliteExecutor<'_>) -> Result<bool> {
    sqlx::query_scalar(
        "select exists (select 1 from project where matched_at is not null or stage <> 'drawn')",
    )
    .fetch_one(db)
    .await
}

pub async fn find(db: impl SqliteExecutor<'_>, id: ProjectId) -> Result<Option<Project>> {
    sqlx::query_as(
        "select project.*, member.name as member_name
         from project join member on member.id = project.member_id where project.id = ?1",
    )
    .bind(id)
    .fetch_optional(db)
    .await
}

/// The newest matching projects, newest first.
pub async fn list(db: impl SqliteExecutor<'_>, search: &Search) -> Result<Vec<Project>> {
    sqlx::query_as(
        "select project.*, member.name as member_name
         from project join member on member.id = project.member_id
         where (?1 is null or project.id < ?1) and (?2 is null or project.member_id = ?2)
             and (?3 is null or project.stage = ?3) and (?4 or project.ended_at is null)
         order by project.id desc limit ?5",
    )
    .bind(search.before)
    .bind(search.member)
    .bind(search.stage)
    .bind(search.ended)
    .bind(search.limit)
    .fetch_all(db)
    .await
}

/// Projects under way that are due until this day, nearest first; of one member where that is given.
pub async fn list_due(
    db: impl SqliteExecutor<'_>,
    until: Date,
    member: Option<MemberId>,
) -> Result<Vec<Project>> {
    sqlx::query_as(
        "select project.*, member.name as member_name
         from project join member on member.id = project.member_id
         where project.ended_at is null and project.stage not in ('ready', 'handed over')
             and project.due_day <= ?1 and (?2 is null or project.member_id = ?2)
         order by project.due_day, project.id",
    )
    .bind(until.to_string())
    .bind(member)
    .fetch_all(db)
    .await
}

/// The strips that a project wants, by key.
pub async fn list_strips(db: impl SqliteExecutor<'_>, id: ProjectId) -> Result<Vec<WantedStrip>> {
    sqlx::query_as("select * from strip where project_id = ?1 order by key")
        .bind(id)
        .fetch_all(db)
        .await
}

pub(crate) async fn insert(
    db: &mut SqliteConnection,
    by: By,
    member: MemberId,
    project: &NewProject,
) -> Written<ProjectId> {
    let id = sqlx::query_scalar(
        "insert into project (member_id, name, kind, design, practice, due_day, note, created_at)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8) returning id",
    )
    .bind(member)
    .bind(&project.name)
    .bind(&project.kind)
    .bind(&project.design)
    .bind(to_json(&project.practice))
    .bind(project.due_day.map(|day| day.to_string()))
    .bind(&project.note)
    .bind(by.at.as_second())
    .fetch_one(&mut *db)
    .await?;
    change::append(db, by, "created", "project", id, &project.name).await?;
    Ok(id)
}

/// Writes what a member says. A match that was found for another design stays, but is no longer
/// current.
///
/// # Errors
/// `Stale`.
pub(crate) async fn update(
    db: &mut SqliteConnection,
    by: By,
    id: ProjectId,
    version: i64,
    project: &NewProject,
) -> Written {
    let result = sqlx::query(
        "update project
         set name = ?3, kind = ?4, due_day = ?7, note = ?8, version = version + 1,
             design_version = design_version + (design <> ?5 or practice <> ?6 or kind <> ?4),
             design = ?5, practice = ?6
         where id = ?1 and version = ?2 and ended_at is null",
    )
    .bind(id)
    .bind(version)
    .bind(&project.name)
    .bind(&project.kind)
    .bind(&project.design)
    .bind(to_json(&project.practice))
    .bind(project.due_day.map(|day| day.to_string()))
    .bind(&project.note)
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "project", id, &project.name).await?;
    Ok(())
}

/// Puts `strips` in the place of those that the project wanted so far.
pub(crate) async fn replace_strips(
    db: &mut SqliteConnection,
    id: ProjectId,
    strips: &[WantedStrip],
) -> Written {
    sqlx::query("delete from strip where project_id = ?1")
        .bind(id)
        .execute(&mut *db)
        .await?;
    for strip in strips {
        let sections: Vec<StoredSection> = strip
            .sections
            .iter()
            .map(|section| StoredSection {
                rip_nm: section.rip.nm(),
                thickness_nm: section.thickness.nm(),
            })
            .collect();
        sqlx::query(
            "insert into strip (project_id, key, count, length_nm, species, sections)
             values (?1, ?2, ?3, ?4, ?5, ?6)",
        )
        .bind(id)
        .bind(&strip.key)
        .bind(strip.count)
        .bind(strip.length.nm())
        .bind(to_json(&strip.species))
        .bind(to_json(&sections))
        .execute(&mut *db)
        .await?;
    }
    Ok(())
}

/// Counts a change of the wanted strips that came from the workshop's practice: a match found
/// before is no longer current.
pub(crate) async fn mark_redesigned(db: &mut SqliteConnection, id: ProjectId) -> Written {
    let result = sqlx::query("update project set design_version = design_version + 1, version = version + 1 where id = ?1")
        .bind(id)
        .execute(db)
        .await?;
    changed_one(&result)
}

/// Keeps a match that was found for the design of `design_version`.
///
/// # Errors
/// `Stale` if the design has changed since.
pub(crate) async fn put_match(
    db: &mut SqliteConnection,
    id: ProjectId,
    found: &FoundMatch,
) -> Written {
    let result = sqlx::query(
        "update project set match_answer = ?3, match_design_version = ?2, matched_at = ?4, version = version + 1
         where id = ?1 and design_version = ?2 and ended_at is null",
    )
    .bind(id)
    .bind(found.design_version)
    .bind(&found.answer)
    .bind(found.at.as_second())
    .execute(db)
    .await?;
    changed_one(&result)
}

pub(crate) async fn clear_match(db: &mut SqliteConnection, id: ProjectId) -> Result<()> {
    sqlx::query("update project set match_answer = null, match_design_version = null, matched_at = null where id = ?1")
        .bind(id)
        .execute(db)
        .await?;
    Ok(())
}

/// Writes how far it is, and says so in the audit trail where that is new.
pub(crate) async fn set_stage(
    db: &mut SqliteConnection,
    by: By,
    id: ProjectId,
    stage: Stage,
) -> Written {
    let result = sqlx::query(
        "update project set stage = ?2, version = version + 1 where id = ?1 and stage <> ?2",
    )
    .bind(id)
    .bind(stage)
    .execute(&mut *db)
    .await?;
    if result.rows_affected() > 0 {
        change::append(db, by, "reached", "project", id, stage.word()).await?;
    }
    Ok(())
}

/// Ends a project: it was handed over, or given up.
///
/// # Errors
/// `Stale`, also if it has ended already.
pub(crate) async fn end(db: &mut SqliteConnection, by: By, id: ProjectId, version: i64) -> Written {
    let result = sqlx::query(
        "update project set ended_at = ?3, version = version + 1 where id = ?1 and version = ?2 and ended_at is null",
    )
    .bind(id)
    .bind(version)
    .bind(by.at.as_second())
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "ended", "project", id, "").await?;
    Ok(())
}
