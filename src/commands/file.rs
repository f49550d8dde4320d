//! `backup`, `restore` and `check`.

use std::path::Path;
use std::process::ExitCode;

use super::serve::runtime;
use crate::config::DataArgs;
use crate::store::copy::{self, Inspection};

/// Copies a file, also while it is served, and checks the copy.
pub(super) fn back_up(data: &DataArgs, to: &Path) -> anyhow::Result<ExitCode> {
    let found = runtime()?.block_on(copy::back_up(&data.data, to))?;
    println!(
        "{} is a sound copy of {}: {}",
        to.display(),
        data.data.display(),
        figures(&found)
    );
    Ok(ExitCode::SUCCESS)
}

/// Puts a backup in place.
pub(super) fn restore(data: &DataArgs, from: &Path, overwrite: bool) -> anyhow::Result<ExitCode> {
    let found = runtime()?.block_on(copy::restore(from, &data.data, overwrite))?;
    println!(
        "{} is restored from {}: {}",
        data.data.display(),
        from.display(),
        figures(&found)
    );
    Ok(ExitCode::SUCCESS)
}

/// Inspects a file.
pub(super) fn check(data: &DataArgs) -> anyhow::Result<ExitCode> {
    let found = runtime()?.block_on(copy::inspect(&data.data))?;
    if found.breaches.is_empty() {
        println!("{} is sound: {}", data.data.display(), figures(&found));
        return Ok(ExitCode::SUCCESS);
    }
    for breach in &found.breaches {
        println!("{}: {}", breach.rule, breach.detail);
    }
    anyhow::bail!("{} is not sound", data.data.display())
}

fn figures(found: &Inspection) -> String {
    let totals = &found.totals;
    format!(
        "{} members, {} pieces under {} tags, {} projects, {} ledger rows, {} changes",
        totals.members,
        totals.pieces,
        totals.offcuts,
        totals.projects,
        totals.ledger_rows,
        totals.changes
    )
}
