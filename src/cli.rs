//! The command line: arguments only. What each command does is in [`crate::commands`].

use std::path::PathBuf;

use clap::{Parser, Subcommand};

use crate::config::{DataArgs, LogArgs, ServeArgs};

/// From shared offcuts to finished kitchen gifts by a date: a community workshop's service.
#[derive(Debug, Parser)]
#[command(name = "scrapwright", version, max_term_width = 100)]
pub struct Cli {
    #[command(subcommand)]
    pub command: Command,

    #[command(flatten)]
    pub log: LogArgs,
}

/// What the program is asked to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Serve a workshop.
    Serve {
        #[command(flatten)]
        data: DataArgs,
        #[command(flatten)]
        serve: ServeArgs,
    },
    /// Serve an invented workshop to try things out in, and say who may sign in.
    Demo {
        /// Keep the invented workshop in this new file; without it, it is gone when the program ends.
        #[arg(long, value_name = "FILE")]
        data: Option<PathBuf>,
        #[command(flatten)]
        serve: ServeArgs,
    },
    /// Answer one calculation: match, schedule, or a small one such as emc, movement, board-feet, clamping or circle.
    #[command(
        after_help = "Exit status: 0 answered, 1 failed, 2 wrong input, 3 there is proven to be no schedule, \
                            4 no schedule was found in time."
    )]
    Calculate {
        /// Which calculation.
        name: String,
        /// The request as JSON; - reads standard input.
        file: PathBuf,
    },
    /// Copy a workshop's file, also while it is being served, and check the copy.
    Backup {
        #[command(flatten)]
        data: DataArgs,
        /// The new file.
        to: PathBuf,
    },
    /// Put a backup in place of a workshop's file.
    Restore {
        #[command(flatten)]
        data: DataArgs,
        /// The backup.
        from: PathBuf,
        /// Replace the workshop's file if there is one; it is kept beside with the ending .before-restore.
        #[arg(long)]
        overwrite: bool,
    },
    /// Inspect a workshop's file: integrity, references, and the promises that the program keeps.
    Check {
        #[command(flatten)]
        data: DataArgs,
    },
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory as _;

    #[test]
    fn arguments_are_consistent() {
        super::Cli::command().debug_assert();
    }
}
