//! The wood ledger as a file, out and in.
//!
//! The ledger is only added to, and its own entries are made by what happens to pieces. So a file that is read is taken
//! for an earlier book, of this workshop before it had this file or of another one: its entries stand in the ledger as
//! history, at their own time, and change nothing that lies in a bin. What the earlier book still has in its bins is
//! carried over by a last entry for each piece, since it counts as brought in where the piece itself is added.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use super::exchange::{ImportError, flaw};
use crate::export::csv::{self, CsvFlaw, Numbered};
use crate::store::ledger::{self, EarlierEntry, LedgerRow, Search, What};
use crate::store::{self, By, MemberId, change};

/// Rows of one exported file, which is as many as can be read from one.
const MOST_EXPORTED: usize = csv::MOST_ROWS;
/// Rows that are read from the database at a time.
const AT_A_TIME: u32 = 5_000;
/// The longest name of a species.
const MOST_LETTERS_OF_SPECIES: usize = 60;
/// The longest tag.
const MOST_LETTERS_OF_TAG: usize = 20;
/// The longest name of a member or project.
const MOST_LETTERS_OF_NAME: usize = 200;

/// The rows that a search finds as a file, the newest first. With `only`, who did it and for what stays hidden for
/// everybody but this member.
pub async fn export(
    db: &mut SqliteConnection,
    mut search: Search,
    only: Option<MemberId>,
) -> store::Result<Vec<u8>> {
    search.limit = AT_A_TIME;
    let mut rows = Vec::new();
    loop {
        let some = ledger::list(&mut *db, &search).await?;
        search.before = some.last().map(|row| row.id);
        rows.extend(some.iter().map(|row| csv_row(row, only)));
        if some.len() < AT_A_TIME as usize || rows.len() >= MOST_EXPORTED {
            break;
        }
    }
    rows.truncate(MOST_EXPORTED);
    Ok(csv::write_ledger(&rows))
}

fn csv_row(row: &LedgerRow, only: Option<MemberId>) -> csv::LedgerRow {
    let is_shown = only.is_none_or(|only| row.member == Some(only));
    let shown = |name: &Option<String>| name.clone().filter(|_| is_shown).unwrap_or_default();
    csv::LedgerRow {
        at: row.at,
        member: shown(&row.member_name),
        what: row.what.word().to_owned(),
        tag: row.tag.clone(),
        project: shown(&row.project_name),
        species: row.species.clone(),
        pieces: row.pieces,
        volume_mm3: row.volume_mm3,
        strips_mm3: row.strips_mm3,
        waste_mm3: row.waste_mm3,
        why: row.why.clone(),
    }
}

/// Adds the entries of an earlier book, in a transaction that the caller commits or lets go, and gives their number.
///
/// # Errors
/// Every flaw of the file with its line and column; then the transaction must be let go.
pub(super) async fn import(
    db: &mut SqliteConnection,
    by: By,
    rows: Vec<Numbered<csv::LedgerRow>>,
) -> Result<usize, ImportError> {
    let mut flaws = Vec::new();
    let mut entries = Vec::with_capacity(rows.len());
    for Numbered { line, row } in rows {
        let before = flaws.len();
        flaws_of(line, &row, by, &mut flaws);
        let Some(what) = What::from_word(&row.what).filter(|_| flaws.len() == before) else {
            continue;
        };
        let entry = EarlierEntry {
            at: row.at,
            member: row.member,
            what,
            tag: row.tag,
            project: row.project,
            species: row.species,
            pieces: row.pieces,
            volume_mm3: row.volume_mm3,
            strips_mm3: row.strips_mm3,
            waste_mm3: row.waste_mm3,
            why: row.why,
        };
        if ledger::is_there(&mut *db, &entry).await? {
            let detail = format!(
                "is {}, when the ledger has the same entry for {} already; must not be there twice",
                entry.at, entry.tag
            );
            flaws.push(flaw(line, "at (utc)", detail));
        }
        entries.push(entry);
    }
    if !flaws.is_empty() {
        return Err(ImportError::Flaws(flaws));
    }
    // A file that was saved here begins with the newest; the oldest goes in first.
    if entries.first().map(|entry| entry.at) > entries.last().map(|entry| entry.at) {
        entries.reverse();
    }
    entries.sort_by_key(|entry| entry.at);
    let n_rows = entries.len();
    if n_rows > 0 {
        let carried = carried_over(by, &entries);
        ledger::append_earlier(db, &entries).await?;
        ledger::append_earlier(db, &carried).await?;
        let detail = format!("{n_rows} entries of an earlier book");
        change::append(db, by, "imported", "ledger", "earlier book", &detail).await?;
    }
    Ok(n_rows)
}

fn flaws_of(line: u64, row: &csv::LedgerRow, by: By, flaws: &mut Vec<CsvFlaw>) {
    let mut wrong = |column: &str, detail: String| flaws.push(flaw(line, column, detail));
    if row.at > by.at {
        let detail = format!("is {}; must not be after now, {}", row.at, by.at);
        wrong("at (utc)", detail);
    }
    for (column, text, most) in [
        ("tag", &row.tag, MOST_LETTERS_OF_TAG),
        ("species", &row.species, MOST_LETTERS_OF_SPECIES),
        ("member", &row.member, MOST_LETTERS_OF_NAME),
        ("project", &row.project, MOST_LETTERS_OF_NAME),
    ] {
        if text.chars().count() > most {
            wrong(
                column,
                format!("is longer than {most} letters; must be shorter"),
            );
        }
    }
    let what = row.what.as_str();
    for (column, number) in [("pieces", row.pieces), ("volume (mm³)", row.volume_mm3)] {
        let must_be = match what {
            "added" | "remainder" if number < 0 => "0 or more, since it came",
            "cut" | "gone" if number > 0 => "0 or less, since it went",
            _ => continue,
        };
        wrong(column, format!("is {number} for {what}; must be {must_be}"));
    }
    for (column, number) in [
        ("in strips (mm³)", row.strips_mm3),
        ("waste (mm³)", row.waste_mm3),
    ] {
        if number > 0 && what != "cut" {
            let detail = format!("is {number} for {what}; must be 0 for all but what was cut");
            wrong(column, detail);
        }
    }
    let made = row.strips_mm3 + row.waste_mm3;
    if what == "cut" && row.volume_mm3 <= 0 && made > -row.volume_mm3 {
        let detail = format!(
            "is {}, of which {made} became strips and waste; must be at least as much",
            row.volume_mm3
        );
        wrong("volume (mm³)", detail);
    }
}

/// What closes the book: one entry for each piece of which it says that something is left.
fn carried_over(by: By, entries: &[EarlierEntry]) -> Vec<EarlierEntry> {
    let mut left: BTreeMap<(String, &str), (i64, i64)> = BTreeMap::new();
    for entry in entries {
        let key = (entry.tag.to_ascii_lowercase(), entry.species.as_str());
        let sums = left.entry(key).or_default();
        sums.0 += entry.pieces;
        sums.1 += entry.volume_mm3;
    }
    let spelled: BTreeMap<String, &str> = entries
        .iter()
        .map(|entry| (entry.tag.to_ascii_lowercase(), entry.tag.as_str()))
        .collect();
    left.into_iter()
        .filter(|(_, sums)| *sums != (0, 0))
        .map(|((tag, species), (pieces, volume_mm3))| EarlierEntry {
            at: by.at,
            member: String::new(),
            what: What::Corrected,
            tag: spelled
                .get(&tag)
                .map_or(tag.clone(), |tag| (*tag).to_owned()),
            project: String::new(),
            species: species.to_owned(),
            pieces: -pieces,
            volume_mm3: -volume_mm3,
            strips_mm3: 0,
            waste_mm3: 0,
            why: "carried over from an earlier book".to_owned(),
        })
        .collect()
}
