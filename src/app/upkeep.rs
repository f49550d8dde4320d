//! What a running workshop does for itself: it forgets what has ended, and keeps backups.

use std::path::PathBuf;
use std::time::Duration;

use anyhow::Context as _;
use jiff::{SignedDuration, Timestamp};

use super::App;
use crate::store::copy;

/// How often it looks whether something is to be done.
const EVERY: Duration = Duration::from_mins(10);

/// The names of backups begin like this and end with the time, so they sort by age.
const PREFIX: &str = "workshop-";
const ENDING: &str = ".db";
const STAMP: &str = "%Y%m%dT%H%M%SZ";

/// Goes on until the program is asked to end. What fails is logged and tried again at the next round.
pub async fn keep_up(app: App) {
    loop {
        if let Err(error) = app.sweep().await {
            tracing::warn!(error = ?error, "what has ended could not be removed");
        }
        match app.back_up_if_due().await {
            Ok(Some(path)) => tracing::info!(file = %path.display(), "made a backup"),
            Ok(None) => {}
            Err(error) => tracing::error!(error = ?error, "no backup could be made"),
        }
        tokio::select! {
            () = tokio::time::sleep(EVERY) => {}
            () = app.shutdown.cancelled() => return,
        }
    }
}

impl App {
    /// Makes a backup if the newest in the folder is old enough, checks it, and removes those beyond the number to keep. A
    /// restart of the program does not shorten the interval, since the files themselves say when they were made.
    ///
    /// # Errors
    /// The folder cannot be read, or the copy cannot be made or is not sound; then none is removed.
    pub async fn back_up_if_due(&self) -> anyhow::Result<Option<PathBuf>> {
        let Some(backups) = &self.config.backups else {
            return Ok(None);
        };
        let now = self.clock.now();
        let mut made: Vec<(Timestamp, PathBuf)> = Vec::new();
        for entry in
            std::fs::read_dir(&backups.folder).context("failed to read the backup folder")?
        {
            let path = entry.context("failed to read the backup folder")?.path();
            let stamp = path
                .file_name()
                .and_then(|name| name.to_str())
                .and_then(|name| name.strip_prefix(PREFIX)?.strip_suffix(ENDING))
                .and_then(|stamp| jiff::civil::DateTime::strptime(STAMP, stamp).ok())
                .and_then(|at| jiff::tz::TimeZone::UTC.to_timestamp(at).ok());
            if let Some(at) = stamp {
                made.push((at, path));
            }
        }
        made.sort();
        let every = SignedDuration::try_from(backups.every).context("the interval is too long")?;
        if made.last().is_some_and(|(newest, _)| *newest + every > now) {
            return Ok(None);
        }
        let name = format!("{PREFIX}{}{ENDING}", now.strftime(STAMP));
        let path = backups.folder.join(name);
        copy::back_up(self.store.path(), &path)
            .await
            .context("failed to make a backup")?;
        made.push((now, path.clone()));
        let n_too_many = made.len().saturating_sub(backups.keep);
        for (_, old) in made.iter().take(n_too_many) {
            std::fs::remove_file(old).context("failed to remove an old backup")?;
        }
        Ok(Some(path))
    }
}
