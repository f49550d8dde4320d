//! Boards that can be bought, offered to every match.

use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::refusal::{Written, changed_one};
use super::row::length;
use super::{LumberId, Result};
use crate::calc::wood::{Tally, tally};
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
    /// Of what it is sold by.
    pub price: Money,
    pub sale: Sale,
    pub square_ends: bool,
    pub straight_edges: bool,
}

/// How a yard sells a board.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sale {
    /// By the piece.
    #[default]
    Whole,
    /// By the board foot, as hardwood is tallied.
    BoardFoot {
        /// The thickness as the trade calls it, in quarters of an inch; `None` where the thickness itself says it.
        quarters: Option<u8>,
        /// The yard cuts a board, and sells whole feet of it.
        in_parts: bool,
    },
}

impl NewLumber {
    /// What the yard counts for so much of the board's length.
    pub fn tally(&self, length: Length) -> Tally {
        let thickness = match self.sale {
            Sale::BoardFoot {
                quarters: Some(quarters),
                ..
            } => Length::from_inches(i64::from(quarters), 4),
            Sale::BoardFoot { quarters: None, .. } | Sale::Whole => self.thickness,
        };
        tally(length, self.width, thickness)
    }

    /// Of the whole board.
    pub fn whole_price(&self) -> Money {
        match self.sale {
            Sale::Whole => self.price,
            Sale::BoardFoot { .. } => {
                let board_feet = self.tally(self.length).board_feet();
                Money::from_units_rounded(self.price.units() * board_feet)
            }
        }
    }
}

fn sale(row: &SqliteRow) -> Result<Sale> {
    let by: String = row.try_get("price_per")?;
    Ok(if by == BOARD_FOOT {
        Sale::BoardFoot {
            quarters: row.try_get("quarters")?,
            in_parts: row.try_get("sold_in_parts")?,
        }
    } else {
        Sale::Whole
    })
}

const BOARD_FOOT: &str = "board foot";

impl Sale {
    /// The columns `price_per`, `quarters` and `sold_in_parts`.
    fn columns(self) -> (&'static str, Option<u8>, bool) {
        match self {
            Sale::Whole => ("board", None, false),
            Sale::BoardFoot { quarters, in_parts } => (BOARD_FOOT, quarters, in_parts),
        }
    }
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
                sale: sale(row)?,
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
    let (price_per, quarters, in_parts) = board.sale.columns();
    let id = sqlx::query_scalar(
        "insert into lumber (name, species, length_nm, width_nm, thickness_nm, price_cents, square_ends, straight_edges,
             price_per, quarters, sold_in_parts)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11) returning id",
    )
    .bind(&board.name)
    .bind(&board.species)
    .bind(board.length.nm())
    .bind(board.width.nm())
    .bind(board.thickness.nm())
    .bind(board.price.cents())
    .bind(board.square_ends)
    .bind(board.straight_edges)
    .bind(price_per)
    .bind(quarters)
    .bind(in_parts)
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
    let (price_per, quarters, in_parts) = board.sale.columns();
    let result = sqlx::query(
        "update lumber
         set name = ?3, species = ?4, length_nm = ?5, width_nm = ?6, thickness_nm = ?7, price_cents = ?8,
             square_ends = ?9, straight_edges = ?10, price_per = ?11, quarters = ?12, sold_in_parts = ?13,
             version = version + 1
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
    .bind(price_per)
    .bind(quarters)
    .bind(in_parts)
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
