use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::time::Duration;

use sqlx::migrate::{MigrateError, Migrator};
use sqlx::sqlite::{
    SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous,
};

static MIGRATIONS: Migrator = sqlx::migrate!();

/// Marks a file as ours (`pragma application_id`): the letters `SCRW`.
pub(super) const APPLICATION_ID: i32 = 0x5343_5257;

/// How long a caller waits for the one writer before it is told that the workshop is busy.
const WRITER_WAIT: Duration = Duration::from_secs(5);

const READERS: u32 = 4;

/// A write transaction. It rolls back when dropped without `commit`.
pub type Transaction = sqlx::Transaction<'static, sqlx::Sqlite>;

/// The workshop's one file: a single writer and several readers.
///
/// The writer is the only connection that may change anything, so writers queue in the program and never meet
/// `SQLITE_BUSY`. An acknowledged write survives a power cut (WAL with `synchronous=full`).
#[derive(Debug)]
pub struct Store {
    path: PathBuf,
    writer: SqlitePool,
    readers: SqlitePool,
    /// Held as long as the store is open; the operating system lets go of it when the process ends.
    _lock: File,
}

/// Why a file cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    #[error("the folder {} does not exist; make it, or choose another place with --data", .0.display())]
    NoFolder(PathBuf),
    #[error("{} does not exist; start `serve` once to make it, or choose another file with --data", .0.display())]
    NoFile(PathBuf),
    #[error("{} is in use by another running Scrapwright; stop that one first, or choose another file with --data", .0.display())]
    InUse(PathBuf),
    #[error("{} cannot be written: {reason}; give this user the right to write the file and its folder", path.display())]
    NotWritable { path: PathBuf, reason: String },
    #[error("{} is not a Scrapwright file; choose another one with --data", .0.display())]
    NotOurs(PathBuf),
    #[error("{} is damaged; restore a backup with `scrapwright restore`", path.display())]
    Damaged { path: PathBuf, source: sqlx::Error },
    #[error("{} is damaged; restore a backup with `scrapwright restore` ({found})", path.display())]
    Holed { path: PathBuf, found: String },
    #[error("{} was written by a newer Scrapwright (its form {form} is unknown here); run that version or a later one", path.display())]
    Newer { path: PathBuf, form: i64 },
    #[error("{} cannot be brought to this version's form", path.display())]
    Migration { path: PathBuf, source: MigrateError },
    #[error("{} cannot be opened", path.display())]
    Other { path: PathBuf, source: sqlx::Error },
}

impl Store {
    /// Opens the file, making it if it is not there, and brings it to this version's form.
    ///
    /// # Errors
    /// Another running program has it, it is damaged, newer than this program, not ours, or cannot be written.
    pub async fn open(path: &Path) -> std::result::Result<Store, OpenError> {
        Store::open_with(path, READERS).await
    }

    /// With so many readers. With one only, a request that holds a reader while it asks for another is found out at once; with
    /// several it would wait until as many callers come together.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub async fn open_with(path: &Path, readers: u32) -> std::result::Result<Store, OpenError> {
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        if !folder.is_dir() {
            return Err(OpenError::NoFolder(folder.to_path_buf()));
        }
        let lock = lock(path)?;
        let options = SqliteConnectOptions::new()
            .filename(path)
            .create_if_missing(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true)
            .busy_timeout(WRITER_WAIT)
            .optimize_on_close(true, None);
        let failed = |source| refused(path, source);
        let writer = SqlitePoolOptions::new()
            .max_connections(1)
            .min_connections(1)
            .acquire_timeout(WRITER_WAIT)
            .idle_timeout(None)
            .max_lifetime(None)
            .connect_with(options.clone())
            .await
            .map_err(failed)?;
        claim_file(&writer, path).await?;
        try_to_write(&writer).await.map_err(failed)?;
        check_structure(&writer, path).await?;
        MIGRATIONS.run(&writer).await.map_err(|error| match error {
            MigrateError::VersionMissing(form) => OpenError::Newer {
                path: path.to_path_buf(),
                form,
            },
            MigrateError::Execute(source) | MigrateError::ExecuteMigration(source, _) => {
                refused(path, source)
            }
            source => OpenError::Migration {
                path: path.to_path_buf(),
                source,
            },
        })?;
        let readers = SqlitePoolOptions::new()
            .max_connections(readers)
            .acquire_timeout(WRITER_WAIT)
            .connect_with(
                options
                    .read_only(true)
                    .create_if_missing(false)
                    .optimize_on_close(false, None),
            )
            .await
            .map_err(failed)?;
        Ok(Store {
            path: path.to_path_buf(),
            writer,
            readers,
            _lock: lock,
        })
    }

    /// The file that is open.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The readers. They see everything that was committed before they begin.
    #[must_use]
    pub fn read(&self) -> &SqlitePool {
        &self.readers
    }

    /// Waits for the writer and begins a transaction that already holds the write lock.
    ///
    /// # Errors
    /// [`sqlx::Error::PoolTimedOut`] when other writers keep it longer than a few seconds.
    pub async fn begin(&self) -> super::Result<Transaction> {
        self.writer.begin_with("begin immediate").await
    }

    /// Whether a reader answers.
    ///
    /// # Errors
    /// The database failed.
    pub async fn ping(&self) -> super::Result<()> {
        sqlx::query("select 1").execute(&self.readers).await?;
        Ok(())
    }

    /// Waits for what is under way and closes the file.
    pub async fn close(&self) {
        self.readers.close().await;
        self.writer.close().await;
    }
}

/// Takes the lock file beside the database. SQLite's own locks come and go with each transaction, so they cannot
/// tell that another server keeps the file open.
pub(super) fn lock(path: &Path) -> std::result::Result<File, OpenError> {
    let mut lock_path = path.as_os_str().to_owned();
    lock_path.push(".lock");
    let not_writable = |error: std::io::Error| OpenError::NotWritable {
        path: path.to_path_buf(),
        reason: error.to_string(),
    };
    let file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&lock_path)
        .map_err(not_writable)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(OpenError::InUse(path.to_path_buf())),
        Err(TryLockError::Error(error)) => Err(not_writable(error)),
    }
}

/// Writes [`APPLICATION_ID`], as a pragma takes no bound value.
const MARK: &str = "pragma application_id = 1396920919";

/// Marks an empty file as ours, and refuses somebody else's database.
async fn claim_file(writer: &SqlitePool, path: &Path) -> std::result::Result<(), OpenError> {
    let failed = |source| refused(path, source);
    let application_id: i32 = sqlx::query_scalar("pragma application_id")
        .fetch_one(writer)
        .await
        .map_err(failed)?;
    if application_id == APPLICATION_ID {
        return Ok(());
    }
    let n_tables: i64 = sqlx::query_scalar("select count(*) from sqlite_schema")
        .fetch_one(writer)
        .await
        .map_err(failed)?;
    if application_id != 0 || n_tables != 0 {
        return Err(OpenError::NotOurs(path.to_path_buf()));
    }
    sqlx::query(MARK).execute(writer).await.map_err(failed)?;
    Ok(())
}

/// SQLite opens a file that may only be read, even for a transaction that writes, and fails at its first change.
async fn try_to_write(writer: &SqlitePool) -> super::Result<()> {
    let mut change = writer.begin_with("begin immediate").await?;
    sqlx::query(MARK).execute(&mut *change).await?;
    change.rollback().await
}

/// Looks at every page once, so that a damaged file is not served until somebody meets the hole: a few seconds for a million rows.
async fn check_structure(writer: &SqlitePool, path: &Path) -> std::result::Result<(), OpenError> {
    let found: String = sqlx::query_scalar("pragma quick_check(1)")
        .fetch_one(writer)
        .await
        .map_err(|source| refused(path, source))?;
    if found == "ok" {
        Ok(())
    } else {
        Err(OpenError::Holed {
            path: path.to_path_buf(),
            found,
        })
    }
}

/// Turns SQLite's result codes (<https://www.sqlite.org/rescode.html>) into what the person at the keyboard can do.
pub(super) fn refused(path: &Path, source: sqlx::Error) -> OpenError {
    let path = path.to_path_buf();
    let code = source
        .as_database_error()
        .and_then(sqlx::error::DatabaseError::code)
        .and_then(|code| code.parse::<i32>().ok())
        // The low byte is the primary code.
        .map(|code| code & 0xff);
    match code {
        Some(8 | 14 | 3) => OpenError::NotWritable {
            path,
            reason: source.to_string(),
        },
        Some(11) => OpenError::Damaged { path, source },
        Some(26) => OpenError::NotOurs(path),
        _ => OpenError::Other { path, source },
    }
}
