//! Species that the workshop added or corrected, and what it asks for each.

use sqlx::{SqliteConnection, SqliteExecutor};

use super::Result;
use super::change::{self, By};
use super::refusal::{Written, changed_one};
use crate::units::Money;

/// Figures of a species in the project's own JSON form, which the caller reads.
#[derive(Clone, Debug, PartialEq, Eq, sqlx::FromRow)]
pub struct WorkshopSpecies {
    pub name: String,
    pub figures: String,
    pub version: i64,
}

/// All of them by name.
pub async fn list(db: impl SqliteExecutor<'_>) -> Result<Vec<WorkshopSpecies>> {
    sqlx::query_as("select name, figures, version from workshop_species order by name")
        .fetch_all(db)
        .await
}

pub async fn find(db: impl SqliteExecutor<'_>, name: &str) -> Result<Option<WorkshopSpecies>> {
    sqlx::query_as("select name, figures, version from workshop_species where name = ?1")
        .bind(name)
        .fetch_optional(db)
        .await
}

/// # Errors
/// `Taken` if the workshop has figures for it already.
pub async fn create(db: &mut SqliteConnection, by: By, name: &str, figures: &str) -> Written {
    sqlx::query("insert into workshop_species (name, figures, changed_at) values (?1, ?2, ?3)")
        .bind(name)
        .bind(figures)
        .bind(by.at.as_second())
        .execute(&mut *db)
        .await?;
    change::append(db, by, "created", "species", name, "").await?;
    Ok(())
}

/// # Errors
/// `Stale`.
pub async fn update(
    db: &mut SqliteConnection,
    by: By,
    name: &str,
    version: i64,
    figures: &str,
) -> Written {
    let result = sqlx::query(
        "update workshop_species set figures = ?3, changed_at = ?4, version = version + 1
         where name = ?1 and version = ?2",
    )
    .bind(name)
    .bind(version)
    .bind(figures)
    .bind(by.at.as_second())
    .execute(&mut *db)
    .await?;
    changed_one(&result)?;
    change::append(db, by, "changed", "species", name, "").await?;
    Ok(())
}

/// # Errors
/// `Stale`.
pub async fn remove(db: &mut SqliteConnection, by: By, name: &str, version: i64) -> Written {
    let result = sqlx::query("delete from workshop_species where name = ?1 and version = ?2")
        .bind(name)
        .bind(version)
        .execute(&mut *db)
        .await?;
    changed_one(&result)?;
    change::append(db, by, "removed", "species", name, "").await?;
    Ok(())
}

/// What is asked for a board foot from the bins, by species.
pub async fn list_prices(db: impl SqliteExecutor<'_>) -> Result<Vec<(String, Money)>> {
    let prices: Vec<(String, i64)> =
        sqlx::query_as("select species, price_cents from species_price order by species")
            .fetch_all(db)
            .await?;
    Ok(prices
        .into_iter()
        .map(|(species, cents)| (species, Money::from_cents(cents)))
        .collect())
}

/// Sets a price, or with `None` goes back to the workshop's general one.
pub async fn set_price(
    db: &mut SqliteConnection,
    by: By,
    species: &str,
    price: Option<Money>,
) -> Written {
    match price {
        Some(price) => {
            sqlx::query(
                "insert into species_price (species, price_cents) values (?1, ?2)
                 on conflict (species) do update set price_cents = excluded.price_cents",
            )
            .bind(species)
            .bind(price.cents())
            .execute(&mut *db)
            .await?
        }
        None => {
            sqlx::query("delete from species_price where species = ?1")
                .bind(species)
                .execute(&mut *db)
                .await?
        }
    };
    let detail = price.map_or_else(String::new, |price| price.to_string());
    change::append(db, by, "changed", "species price", species, &detail).await?;
    Ok(())
}
