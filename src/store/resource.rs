//! What the workshop lends by the hour: clamp sets, benches, machines, rack places.

use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::refusal::{Written, changed_one};
use super::row::optional_length;
use super::text::words;
use super::{ResourceId, Result};
use crate::units::Length;

words! {
    ResourceKind {
        ClampSet = "clamp set",
        GlueBench = "glue bench",
        TableSaw = "table saw",
        CrosscutSaw = "crosscut saw",
        Planer = "planer",
        DrumSander = "drum sander",
        Sander = "sander",
        RouterTable = "router table",
        Router = "router",
        Jigsaw = "jigsaw",
        DrillPress = "drill press",
        WorkBench = "work bench",
        RackPlace = "rack place",
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Resource {
    pub id: ResourceId,
    pub about: NewResource,
    pub version: i64,
}

/// What a steward says of a resource.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewResource {
    pub kind: ResourceKind,
    pub name: String,
    /// How many there are.
    pub capacity: u32,
    /// The widest thing between a clamp's jaws: clamp sets have it, nothing else.
    pub reach: Option<Length>,
    /// The force that one clamp is rated for, in newtons.
    pub rated_force_n: Option<i64>,
    /// The widest panel that passes a planer or drum sander.
    pub pass_width: Option<Length>,
}

impl FromRow<'_, SqliteRow> for Resource {
    fn from_row(row: &SqliteRow) -> Result<Resource> {
        Ok(Resource {
            id: row.try_get("id")?,
            about: NewResource {
                kind: row.try_get("kind")?,
                name: row.try_get("name")?,
                capacity: row.try_get("capacity")?,
                reach: optional_length(row, "reach_nm")?,
                rated_force_n: row.try_get("rated_force_n")?,
                pass_width: optional_length(row, "pass_width_nm")?,
            },
            version: row.try_get("version")?,
        })
    }
}

/// All resources: by kind, clamp sets by reach, then by name.
pub async fn list(db: impl SqliteExecutor<'_>) -> Result<Vec<Resource>> {
    sqlx::query_as("select * from resource order by kind, reach_nm, name")
        .fetch_all(db)
        .await
}

pub async fn find(db: impl SqliteExecutor<'_>, id: ResourceId) -> Result<Option<Resource>> {
    sqlx::query_as("select * from resource where id = ?1")
        .bind(id)
        .fetch_optional(db)
        .await
}

/// # Errors
/// `Taken` if another resource has the name; `Check` for a clamp set without reach.
pub async fn create(
    db: &mut SqliteConnection,
    by: By,
    resource: &NewResource,
) -> Written<ResourceId> {
    let id = sqlx::query_scalar(
        "insert into resource (kind, name, capacity, reach_nm, rated_force_n, pass_width_nm)
         values (?1, ?2, ?3, ?4, ?5, ?6) returning id",
    )
    .bind(resource.kind)
    .bind(&resource.name)
    .bind(resource.capacity)
    .bind(resource.reach.map(Length::nm))
    .bind(resource.rated_force_n)
    .bind(resource.pass_width.map(Length::nm))
    .fetch_one(&mut *db)
    .await?;
    change::append(db, by, "created", "resource", id, &resource.name).await?;
    Ok(id)
}

/// # Errors
/// `Stale`, `Taken`, or `ResourceInUse` if more is booked at some time from now on than there would be.
pub async fn update(
    db: &mut SqliteConnection,
    by: By,
    id: ResourceId,
    version: i64,
    resource: &NewResource,
) -> Written {
    let result = sqlx::query(
        "update resource
         set kind = ?3, name = ?4, capacity = ?5, reach_nm = ?6, rated_force_n = ?7, pass_width_nm = ?8,
             changed_at = ?9, version = version + 1
         where id = ?1 and version = ?2",
    )
    .bind(id)
    .bind(version)
    .bind(resource.kind)
    .bind(&resource.name)
    .bind(resource.capacity)
    .bind(resource.reach.map(Length::nm))
    .bind(resource.rated_force_n)
    .bind(resource.pass_width.map(Length::nm))
    .bind(by.at.as_second())
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "resource", id, &resource.name).await?;
    Ok(())
}

/// # Errors
/// `Stale`, or `Reference` if it was ever booked: set its capacity to 0 instead.
pub async fn remove(db: &mut SqliteConnection, by: By, id: ResourceId, version: i64) -> Written {
    let result = sqlx::query("delete from resource where id = ?1 and version = ?2")
        .bind(id)
        .bind(version)
        .execute(&mut *db)
        .await?;
    changed_one(&result)?;
    change::append(db, by, "removed", "resource", id, "").await?;
    Ok(())
}
