//! What each command does. Standard output is for answers, standard error for everything else.

use std::process::ExitCode;

use crate::cli::{Cli, Command};

mod calculate;
mod file;
mod serve;

/// Runs one command. Failures are printed as one line with their causes; the exit status is 1.
pub fn run(cli: Cli) -> ExitCode {
    if let Err(error) = start_log(&cli.log) {
        eprintln!("scrapwright: {error:#}");
        return ExitCode::from(2);
    }
    let done = match cli.command {
        Command::Serve { data, serve } => serve::serve(&data, &serve),
        Command::Demo { data, serve } => serve::demo(data.as_deref(), &serve),
        Command::Calculate { name, file } => calculate::calculate(&name, &file),
        Command::Backup { data, to } => file::back_up(&data, &to),
        Command::Restore {
            data,
            from,
            overwrite,
        } => file::restore(&data, &from, overwrite),
        Command::Check { data } => file::check(&data),
    };
    match done {
        Ok(code) => code,
        Err(error) => {
            eprintln!("scrapwright: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn start_log(args: &crate::config::LogArgs) -> anyhow::Result<()> {
    use std::io::IsTerminal as _;

    use anyhow::Context as _;
    let filter = tracing_subscriber::EnvFilter::try_new(&args.log).with_context(|| {
        format!(
            "--log is {:?}; must be a level or a list like scrapwright=debug,sqlx=warn",
            args.log
        )
    })?;
    let lines = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_ansi(std::io::stderr().is_terminal())
        .with_writer(std::io::stderr);
    if args.log_json {
        lines.json().flatten_event(true).init();
    } else {
        lines.with_target(false).init();
    }
    Ok(())
}
