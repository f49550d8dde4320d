//! Photos of offcuts, one for each tag.

use jiff::Timestamp;
use sqlx::sqlite::SqliteRow;
use sqlx::{FromRow, Row, SqliteConnection, SqliteExecutor};

use super::change::{self, By};
use super::refusal::Written;
use super::row::instant;
use super::{OffcutId, Result};

/// An image that was read, made small and written anew, so that it carries nothing but its pixels.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewPhoto {
    pub media_type: String,
    pub bytes: Vec<u8>,
    pub width: u32,
    pub height: u32,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    pub image: NewPhoto,
    pub added_at: Timestamp,
}

impl FromRow<'_, SqliteRow> for Photo {
    fn from_row(row: &SqliteRow) -> Result<Photo> {
        Ok(Photo {
            image: NewPhoto {
                media_type: row.try_get("media_type")?,
                bytes: row.try_get("bytes")?,
                width: row.try_get("width")?,
                height: row.try_get("height")?,
            },
            added_at: instant(row, "added_at")?,
        })
    }
}

pub async fn find(db: impl SqliteExecutor<'_>, offcut: OffcutId) -> Result<Option<Photo>> {
    sqlx::query_as("select * from photo where offcut_id = ?1")
        .bind(offcut)
        .fetch_optional(db)
        .await
}

/// Puts a photo in the place of the one that was there.
///
/// # Errors
/// `Reference` if there is no such offcut.
pub async fn put(db: &mut SqliteConnection, by: By, offcut: OffcutId, photo: &NewPhoto) -> Written {
    sqlx::query(
        "insert into photo (offcut_id, media_type, bytes, width, height, added_at)
         values (?1, ?2, ?3, ?4, ?5, ?6)
         on conflict (offcut_id) do update set media_type = excluded.media_type, bytes = excluded.bytes,
             width = excluded.width, height = excluded.height, added_at = excluded.added_at",
    )
    .bind(offcut)
    .bind(&photo.media_type)
    .bind(&photo.bytes)
    .bind(photo.width)
    .bind(photo.height)
    .bind(by.at.as_second())
    .execute(&mut *db)
    .await?;
    change::append(db, by, "changed", "photo", offcut, "").await?;
    Ok(())
}

/// Removes the photo, if there is one.
pub async fn remove(db: &mut SqliteConnection, by: By, offcut: OffcutId) -> Written {
    let result = sqlx::query("delete from photo where offcut_id = ?1")
        .bind(offcut)
        .execute(&mut *db)
        .await?;
    if result.rows_affected() > 0 {
        change::append(db, by, "removed", "photo", offcut, "").await?;
    }
    Ok(())
}
