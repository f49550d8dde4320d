//! `calculate`: one request in, one answer out, without stored data.

use std::io::{Read as _, Write as _};
use std::path::Path;
use std::process::ExitCode;
use std::sync::atomic::AtomicBool;

use anyhow::Context as _;

use crate::app::budget;
use crate::wire::calculators::{CALCULATORS, calculator};
use crate::wire::{self, Problem};

/// The largest request that is read, as over HTTP.
const LARGEST: u64 = 16 * 1024 * 1024;

/// Prints the answer, or the problem to standard error. The exit status says which kind of problem it is.
pub(super) fn calculate(name: &str, file: &Path) -> anyhow::Result<ExitCode> {
    let mut body = Vec::new();
    if file == Path::new("-") {
        std::io::stdin()
            .take(LARGEST + 1)
            .read_to_end(&mut body)
            .context("failed to read standard input")?;
    } else {
        let opened = std::fs::File::open(file)
            .with_context(|| format!("failed to open {}", file.display()))?;
        opened
            .take(LARGEST + 1)
            .read_to_end(&mut body)
            .with_context(|| format!("failed to read {}", file.display()))?;
    }
    if body.len() as u64 > LARGEST {
        eprintln!("The request is larger than {LARGEST} bytes.");
        return Ok(ExitCode::from(2));
    }
    // Nobody stops it but the person at the keyboard, who ends the program.
    let stop = AtomicBool::new(false);
    let answer = match name {
        "match" => {
            let within = |limits| budget(limits, wire::matching::MOST_TIME, &stop);
            wire::matching::answer(&body, within, &|_| ()).and_then(print)
        }
        "schedule" => {
            let within = |limits| budget(limits, wire::matching::MOST_TIME, &stop);
            wire::schedule::answer(&body, within, &|_| ()).and_then(print)
        }
        other => match calculator(other) {
            Some(calculator) => (calculator.answer)(&body).and_then(print),
            None => {
                let names: Vec<&str> = CALCULATORS
                    .iter()
                    .map(|calculator| calculator.name)
                    .collect();
                eprintln!(
                    "There is no calculation {other:?}; there are match, schedule, {}.",
                    names.join(", ")
                );
                return Ok(ExitCode::from(2));
            }
        },
    };
    Ok(match answer {
        Ok(text) => {
            // Whoever closes the pipe early has read enough.
            let _ = writeln!(std::io::stdout(), "{text}");
            ExitCode::SUCCESS
        }
        Err(problem) => {
            eprintln!("{problem}");
            ExitCode::from(exit_status(&problem))
        }
    })
}

fn print(answer: impl serde::Serialize) -> Result<String, Problem> {
    Ok(serde_json::to_string(&answer).expect("an answer is plain JSON"))
}

fn exit_status(problem: &Problem) -> u8 {
    match problem.kind {
        "no-schedule" => 3,
        "not-found-in-time" => 4,
        _ if problem.status < 500 => 2,
        _ => 1,
    }
}
