//! Copies of the whole file: made while it is being served, looked into without changing anything, and put back.

use std::path::{Path, PathBuf};
use std::time::Duration;

use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{ConnectOptions as _, Connection as _};

use super::invariants::{self, Breach, Totals};
use super::open::{APPLICATION_ID, OpenError, lock, refused};

/// What was found in a file.
#[derive(Clone, Debug)]
pub struct Inspection {
    /// What is wrong; empty in a sound file.
    pub breaches: Vec<Breach>,
    pub totals: Totals,
}

/// How many breaches of each rule are listed.
const MOST_BREACHES: usize = 20;

/// How long a copy waits for a writer to end.
const WAIT: Duration = Duration::from_secs(30);

/// Why there is no copy.
#[derive(Debug, thiserror::Error)]
pub enum CopyError {
    #[error(transparent)]
    Open(#[from] OpenError),
    #[error("{} exists; choose another name, or say --overwrite where that is meant", .0.display())]
    Exists(PathBuf),
    #[error("the copy {} is not sound: {first}", path.display())]
    NotSound { path: PathBuf, first: String },
    #[error("failed to copy to {}", path.display())]
    Write {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error("failed to copy to {}", path.display())]
    Database { path: PathBuf, source: sqlx::Error },
}

/// Copies the file to a new one with SQLite's `vacuum into`, which reads one state of it while others go on writing, then
/// inspects the copy.
///
/// # Errors
/// There is no such file, the new one exists, or the copy is not sound; an unsound copy is left for inspection.
pub async fn back_up(from: &Path, to: &Path) -> Result<Inspection, CopyError> {
    if to.exists() {
        return Err(CopyError::Exists(to.to_path_buf()));
    }
    let failed = |source| CopyError::Database {
        path: to.to_path_buf(),
        source,
    };
    let mut db = look(from).await?;
    // Written under another name first, so that a broken-off copy never has the name of a good one.
    let unfinished = beside(to, ".unfinished");
    let _ = std::fs::remove_file(&unfinished);
    let name = unfinished.to_str().ok_or_else(|| CopyError::Write {
        path: to.to_path_buf(),
        source: std::io::Error::other("the name is not valid UTF-8"),
    })?;
    sqlx::query("vacuum into ?")
        .bind(name)
        .execute(&mut db)
        .await
        .map_err(failed)?;
    db.close().await.map_err(failed)?;
    let write = |source| CopyError::Write {
        path: to.to_path_buf(),
        source,
    };
    std::fs::File::open(&unfinished)
        .and_then(|file| file.sync_all())
        .map_err(write)?;
    std::fs::rename(&unfinished, to).map_err(write)?;
    sound(to).await
}

/// Puts a backup in place of the workshop's file, which nobody may be serving. With `overwrite` an existing file is kept beside,
/// with the ending `.before-restore`.
///
/// # Errors
/// The backup is missing or not sound, the file is in use, or it exists and `overwrite` was not said.
pub async fn restore(from: &Path, to: &Path, overwrite: bool) -> Result<Inspection, CopyError> {
    sound(from).await?;
    let _lock = lock(to)?;
    if to.exists() && !overwrite {
        return Err(CopyError::Exists(to.to_path_buf()));
    }
    let unfinished = beside(to, ".unfinished");
    let write = |source| CopyError::Write {
        path: to.to_path_buf(),
        source,
    };
    std::fs::copy(from, &unfinished).map_err(write)?;
    std::fs::File::open(&unfinished)
        .and_then(|file| file.sync_all())
        .map_err(write)?;
    // The journal belongs to the file that goes.
    for ending in ["-wal", "-shm", ""] {
        let old = beside(to, ending);
        if old.exists() {
            std::fs::rename(&old, beside(to, &format!(".before-restore{ending}")))
                .map_err(write)?;
        }
    }
    std::fs::rename(&unfinished, to).map_err(write)?;
    sound(to).await
}

/// Looks for everything that must not be in a file, without changing it.
///
/// # Errors
/// It cannot be read at all.
pub async fn inspect(path: &Path) -> Result<Inspection, OpenError> {
    let mut db = look(path).await?;
    let failed = |source| refused(path, source);
    let breaches = invariants::list_breaches(&mut db, MOST_BREACHES)
        .await
        .map_err(failed)?;
    let totals = invariants::totals(&mut db).await.map_err(failed)?;
    db.close().await.map_err(failed)?;
    Ok(Inspection { breaches, totals })
}

async fn sound(path: &Path) -> Result<Inspection, CopyError> {
    let found = inspect(path).await?;
    match found.breaches.first() {
        None => Ok(found),
        Some(first) => Err(CopyError::NotSound {
            path: path.to_path_buf(),
            first: format!("{}: {}", first.rule, first.detail),
        }),
    }
}

/// A connection that only reads.
async fn look(path: &Path) -> Result<SqliteConnection, OpenError> {
    if !path.is_file() {
        return Err(OpenError::NoFile(path.to_path_buf()));
    }
    let failed = |source| refused(path, source);
    let mut db = SqliteConnectOptions::new()
        .filename(path)
        .read_only(true)
        .busy_timeout(WAIT)
        .connect()
        .await
        .map_err(failed)?;
    let application_id: i32 = sqlx::query_scalar("pragma application_id")
        .fetch_one(&mut db)
        .await
        .map_err(failed)?;
    if application_id != APPLICATION_ID {
        return Err(OpenError::NotOurs(path.to_path_buf()));
    }
    Ok(db)
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}
