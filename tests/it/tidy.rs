//! What a machine can hold of the house's order: who may know whom, file sizes, words, and nothing inline.

use std::fs;
use std::path::{Path, PathBuf};

/// The longest source file, in lines.
const LONGEST_FILE: usize = 700;

/// Which crates and modules of ours a module must never name: the table of DEVELOPERS.md as data.
const MUST_NEVER_KNOW: &[(&str, &[&str])] = &[
    (
        "src/units",
        &[
            "crate::calc",
            "crate::reference",
            "crate::wire",
            "crate::export",
            "crate::store",
            "crate::app",
            "crate::web",
            "serde",
            "sqlx",
            "axum",
            "tokio",
            "jiff",
            "std::fs",
            "std::env",
            "std::time::Instant",
        ],
    ),
    (
        "src/calc",
        &[
            "crate::reference",
            "crate::wire",
            "crate::export",
            "crate::store",
            "crate::app",
            "crate::web",
            "crate::config",
            "serde",
            "sqlx",
            "axum",
            "tokio",
            "jiff",
            "tracing",
            "std::fs",
            "std::env",
            "std::time::Instant",
            "SystemTime",
            "HashMap",
            "HashSet",
            "println!",
            "async fn",
        ],
    ),
    (
        "src/reference",
        &[
            "crate::calc",
            "crate::wire",
            "crate::export",
            "crate::store",
            "crate::app",
            "crate::web",
            "sqlx",
            "axum",
            "tokio",
            "std::env",
        ],
    ),
    (
        "src/export",
        &[
            "crate::store",
            "crate::app",
            "crate::web",
            "crate::wire",
            "sqlx",
            "axum",
            "tokio",
            "Timestamp::now",
            "std::env",
            "std::fs",
        ],
    ),
    (
        "src/wire",
        &[
            "crate::store",
            "crate::app",
            "crate::web",
            "crate::export",
            "sqlx",
            "axum",
            "askama",
            "tokio",
            "std::env",
            "std::fs",
        ],
    ),
    (
        "src/store",
        &[
            "crate::app",
            "crate::web",
            "crate::wire",
            "crate::export",
            "axum",
            "askama",
            "Timestamp::now",
            "std::env",
        ],
    ),
    (
        "src/app",
        &[
            "crate::web",
            "crate::commands",
            "axum::",
            "askama",
            "StatusCode",
            "sqlx::query",
        ],
    ),
    ("src/web", &["sqlx::query", "crate::commands", "std::env"]),
    ("src/commands", &["sqlx::query", "std::env::var"]),
];

/// Words that the project does not use: marks of unfinished work, and of other places than this one.
const NO_WORDS: &[&str] = &[
    "todo!",
    "TODO",
    "FIXME",
    "XXX",
    "unimplemented!",
    "dbg!",
    "/work/",
    "../shared",
    "crates.io",
];

const TEXT: &[&str] = &[
    "rs", "html", "css", "js", "sql", "md", "toml", "csv", "yml", "txt",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every file of ours below a folder, with its path from the top.
fn files(folder: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut folders = vec![root().join(folder)];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = fs::read_dir(&folder) else {
            continue;
        };
        for entry in entries {
            let path: PathBuf = entry.unwrap().path();
            if path.is_dir() {
                if !path.ends_with("target") {
                    folders.push(path);
                }
                continue;
            }
            let kind = path
                .extension()
                .and_then(|kind| kind.to_str())
                .unwrap_or_default();
            if TEXT.contains(&kind) {
                let name = path
                    .strip_prefix(root())
                    .unwrap()
                    .to_str()
                    .unwrap()
                    .to_owned();
                found.push((name, fs::read_to_string(&path).unwrap()));
            }
        }
    }
    found.sort();
    found
}

/// The lines that are code, numbered from 1: without comments, and without the tests at a file's end.
fn code(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines()
        .enumerate()
        .take_while(|(_, line)| line.trim() != "#[cfg(test)]")
        .map(|(idx, line)| (idx + 1, line.split("//").next().unwrap_or_default()))
}

/// Whether a line names `word` as a word of its own.
fn names(line: &str, word: &str) -> bool {
    let is_part = |letter: char| letter.is_alphanumeric() || letter == '_';
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let after = line[at + word.len()..].chars().next();
        let ends_in_word = word.chars().next_back().is_some_and(is_part);
        !(before.is_some_and(is_part) || ends_in_word && after.is_some_and(is_part))
    })
}

#[test]
fn modules_know_only_what_they_may() {
    let mut wrong = Vec::new();
    for (module, never) in MUST_NEVER_KNOW {
        for (name, text) in files(module) {
            if !name.ends_with(".rs") {
                continue;
            }
            for (number, line) in code(&text) {
                for word in never.iter().filter(|word| names(line, word)) {
                    wrong.push(format!("{name}:{number} names {word}"));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_file_can_be_read_in_a_sitting() {
    let mut wrong = Vec::new();
    for folder in ["src", "tests", "benches", "fuzz", "templates", "static"] {
        for (name, text) in files(folder) {
            let n_lines = text.lines().count();
            if n_lines > LONGEST_FILE && !name.ends_with(".csv") {
                wrong.push(format!("{name} has {n_lines} lines"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn nothing_is_inline_in_a_page() {
    let mut wrong = Vec::new();
    for (name, text) in files("templates") {
        for (idx, line) in text.lines().enumerate() {
            let line = line.to_ascii_lowercase();
            let has_handler = line.split_ascii_whitespace().any(|part| {
                part.strip_prefix("on").is_some_and(|rest| {
                    rest.split_once("=\"")
                        .is_some_and(|(event, _)| event.chars().all(char::is_alphabetic))
                })
            });
            let has_script = line.contains("<script") && !line.contains("<script src=");
            let has_style = line.contains("<style") || names(&line, "style=\"");
            if has_handler
                || has_script
                || has_style
                || line.contains("javascript:")
                || line.contains("|safe") && line.contains("typed")
            {
                wrong.push(format!("{name}:{} {}", idx + 1, line.trim()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn words_that_do_not_belong_are_absent() {
    let mut wrong = Vec::new();
    for folder in [
        "src",
        "tests",
        "benches",
        "fuzz",
        "templates",
        "static",
        "migrations",
    ] {
        for (name, text) in files(folder) {
            if name == "tests/it/tidy.rs" {
                continue;
            }
            for (idx, line) in text.lines().enumerate() {
                for word in NO_WORDS.iter().filter(|word| line.contains(**word)) {
                    wrong.push(format!("{name}:{} has {word}", idx + 1));
                }
            }
        }
    }
    for name in ["README.md", "DEVELOPERS.md"] {
        let text = fs::read_to_string(root().join(name)).unwrap_or_default();
        for word in NO_WORDS.iter().filter(|word| text.contains(**word)) {
            wrong.push(format!("{name} has {word}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_lint_is_expected_with_its_reason_and_never_allowed() {
    let mut wrong = Vec::new();
    for folder in ["src", "tests", "benches", "fuzz"] {
        for (name, text) in files(folder) {
            if !name.ends_with(".rs") || name == "tests/it/tidy.rs" {
                continue;
            }
            for (idx, line) in text.lines().enumerate() {
                let is_allowed = line.contains("#[allow(") || line.contains("#![allow(");
                let has_no_reason = line.contains("#[expect(")
                    && !text
                        .lines()
                        .skip(idx)
                        .take(6)
                        .any(|line| line.contains("reason = "));
                if is_allowed || has_no_reason {
                    wrong.push(format!("{name}:{} {}", idx + 1, line.trim()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// In the description a shape is known by its name alone: of two with one name it would show one for both.
#[test]
fn no_two_described_shapes_have_one_name() {
    let mut seen = std::collections::BTreeMap::new();
    let mut wrong = Vec::new();
    for (file, text) in files("src") {
        let mut lines = text.lines().map(str::trim);
        while let Some(line) = lines.next() {
            if !(line.starts_with("#[derive(") && line.contains("ToSchema")) {
                continue;
            }
            let mut other_name = None;
            let named = lines.by_ref().find_map(|line| {
                if let Some((_, rest)) = line.split_once("#[schema(as = ") {
                    other_name = rest.split([',', ')']).next();
                }
                let (_, rest) = line
                    .split_once("struct ")
                    .or_else(|| line.split_once("enum "))
                    .filter(|(before, _)| before.is_empty() || before.starts_with("pub"))?;
                rest.split(|letter: char| !letter.is_alphanumeric()).next()
            });
            let name = other_name.or(named).unwrap().to_owned();
            if let Some(before) = seen.insert(name.clone(), file.clone()) {
                wrong.push(format!("{name} is in {before} and in {file}"));
            }
        }
    }
    assert!(seen.len() > 100, "{}", seen.len());
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_test_can_run() {
    let mut wrong = Vec::new();
    for folder in ["src", "tests"] {
        for (name, text) in files(folder) {
            if name == "tests/it/tidy.rs" {
                continue;
            }
            for (idx, line) in text.lines().enumerate() {
                if ["#[ignore", "#[should_panic", "thread::sleep"]
                    .iter()
                    .any(|mark| line.contains(mark))
                {
                    wrong.push(format!("{name}:{} {}", idx + 1, line.trim()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
