//! Bins: the places where offcuts lie.

use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::refusal::{Written, changed_one};
use super::{BinId, Result};

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bin {
    pub id: BinId,
    pub name: String,
    /// Where it stands.
    pub place: String,
    pub version: i64,
    /// Tags of which pieces lie in it.
    pub tags: i64,
    /// Pieces that lie in it.
    pub pieces: i64,
    /// Their volume.
    pub volume_mm3: i64,
}

/// What a steward says of a bin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewBin {
    pub name: String,
    pub place: String,
}

impl FromRow<'_, SqliteRow> for Bin {
    fn from_row(row: &SqliteRow) -> Result<Bin> {
        Ok(Bin {
            id: row.try_get("id")?,
            name: row.try_get("name")?,
            place: row.try_get("place")?,
            version: row.try_get("version")?,
            tags: row.try_get("tags")?,
            pieces: row.try_get("pieces")?,
            volume_mm3: row.try_get("volume_mm3")?,
        })
    }
}

/// All bins by name.
pub async fn list(db: impl SqliteExecutor<'_>) -> Result<Vec<Bin>> {
    sqlx::query_as(
        "select bin.id, bin.name, bin.place, bin.version, coalesce(sum(stock.tags), 0) as tags,
             coalesce(sum(stock.pieces), 0) as pieces, coalesce(sum(stock.volume_mm3), 0) as volume_mm3
         from bin left join stock on stock.bin_id = bin.id
         group by bin.id order by bin.name",
    )
    .fetch_all(db)
    .await
}

pub async fn find(db: impl SqliteExecutor<'_>, id: BinId) -> Result<Option<Bin>> {
    sqlx::query_as(
        "select bin.id, bin.name, bin.place, bin.version, coalesce(sum(stock.tags), 0) as tags,
             coalesce(sum(stock.pieces), 0) as pieces, coalesce(sum(stock.volume_mm3), 0) as volume_mm3
         from bin left join stock on stock.bin_id = bin.id
         where bin.id = ?1 group by bin.id",
    )
    .bind(id)
    .fetch_optional(db)
    .await
}

/// Ignores upper and lower case.
pub async fn find_by_name(db: impl SqliteExecutor<'_>, name: &str) -> Result<Option<BinId>> {
    sqlx::query_scalar("select id from bin where name = ?1")
        .bind(name)
        .fetch_optional(db)
        .await
}

/// # Errors
/// `Taken` if another bin has the name.
pub async fn create(db: &mut SqliteConnection, by: By, bin: &NewBin) -> Written<BinId> {
    let id = sqlx::query_scalar("insert into bin (name, place) values (?1, ?2) returning id")
        .bind(&bin.name)
        .bind(&bin.place)
        .fetch_one(&mut *db)
        .await?;
    change::append(db, by, "created", "bin", id, &bin.name).await?;
    Ok(id)
}

/// # Errors
/// `Stale`, or `Taken` if another bin has the name.
pub async fn update(
    db: &mut SqliteConnection,
    by: By,
    id: BinId,
    version: i64,
    bin: &NewBin,
) -> Written {
    let result = sqlx::query(
        "update bin set name = ?3, place = ?4, version = version + 1 where id = ?1 and version = ?2",
    )
    .bind(id)
    .bind(version)
    .bind(&bin.name)
    .bind(&bin.place)
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "bin", id, &bin.name).await?;
    Ok(())
}

/// Removes a bin that nothing ever lay in.
///
/// # Errors
/// `Stale`, or `Reference` if offcuts name it.
pub async fn remove(db: &mut SqliteConnection, by: By, id: BinId, version: i64) -> Written {
    let result = sqlx::query("delete from bin where id = ?1 and version = ?2")
        .bind(id)
        .bind(version)
        .execute(&mut *db)
        .await?;
    changed_one(&result)?;
    change::append(db, by, "removed", "bin", id, "").await?;
    Ok(())
}
