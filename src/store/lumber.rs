//! Boards that can be bought, offered to every match.

use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::refusal::{Written, changed_one};
use super::row::length;
use super::{LumberId, Result};
use crate::units::{Length, Money};

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lumber {
    pub id: LumberId,
    pub board: NewLumber,
    pub version: i64,
}

/// What a steward says of a board in the trade.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewLumber {
    pub name: String,
    pub species: String,
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    pub price: Money,
    pub square_ends: bool,
    pub straight_edges: bool,
}

impl FromRow<'_, SqliteRow> for Lumber {
    fn from_row(row: &SqliteRow) -> Result<Lumber> {
        Ok(Lumber {
            id: row.try_get("id")?,
            board: NewLumber {
                name: row.try_get("name")?,
                species: row.try_get("species")?,
                length: length(row, "length_nm")?,
                width: length(row, "width_nm")?,
                thickness: length(row, "thickness_nm")?,
                price: Money::from_cents(row.try_get("price_cents")?),
                square_ends: row.try_get("square_ends")?,
                straight_edges: row.try_get("straight_edges")?,
            },
            version: row.try_get("version")?,
        })
    }
}

/// All boards by species and name.
pub async fn list(db: impl SqliteExecutor<'_>) -> Result<Vec<Lumber>> {
    sqlx::query_as("select * from lumber order by species, name")
        .fetch_all(db)
        .await
}

pub async fn find(db: impl SqliteExecutor<'_>, id: LumberId) -> Result<Option<Lumber>> {
    sqlx::query_as("select * from lumber where id = ?1")
        .bind(id)
        .fetch_optional(db)
        .await
}

pub async fn find_by_name(db: impl SqliteExecutor<'_>, name: &str) -> Result<Option<Lumber>> {
    sqlx::query_as("select * from lumber where name = ?1")
        .bind(name)
        .fetch_optional(db)
        .await
}

/// # Errors
/// `Taken` if another board has the name.
pub async fn create(db: &mut SqliteConnection, by: By, board: &NewLumber) -> Written<LumberId> {
    let id = sqlx::query_scalar(
        "insert into lumber (name, species, length_nm, width_nm, thickness_nm, price_cents, square_ends, straight_edges)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8) returning id",
    )
    .bind(&board.name)
    .bind(&board.species)
    .bind(board.length.nm())
    .bind(board.width.nm())
    .bind(board.thickness.nm())
    .bind(board.price.cents())
    .bind(board.square_ends)
    .bind(board.straight_edges)
    .fetch_one(&mut *db)
    .await?;
    change::append(db, by, "created", "lumber", id, &board.name).await?;
    Ok(id)
}

/// # Errors
/// `Stale`, or `Taken` if another board has the name.
pub async fn update(
    db: &mut SqliteConnection,
    by: By,
    id: LumberId,
    version: i64,
    board: &NewLumber,
) -> Written {
    let result = sqlx::query(
        "update lumber
         set name = ?3, species = ?4, length_nm = ?5, width_nm = ?6, thickness_nm = ?7, price_cents = ?8,
             square_ends = ?9, straight_edges = ?10, version = version + 1
         where id = ?1 and version = ?2",
    )
    .bind(id)
    .bind(version)
    .bind(&board.name)
    .bind(&board.species)
    .bind(board.length.nm())
    .bind(board.width.nm())
    .bind(board.thickness.nm())
    .bind(board.price.cents())
    .bind(board.square_ends)
    .bind(board.straight_edges)
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "lumber", id, &board.name).await?;
    Ok(())
}

/// # Errors
/// `Stale`.
pub async fn remove(db: &mut SqliteConnection, by: By, id: LumberId, version: i64) -> Written {
    let result = sqlx::query("delete from lumber where id = ?1 and version = ?2")
        .bind(id)
        .bind(version)
        .execute(&mut *db)
        .await?;
    changed_one(&result)?;
    change::append(db, by, "removed", "lumber", id, "").await?;
    Ok(())
}
