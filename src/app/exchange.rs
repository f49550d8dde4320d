//! Tables of the workshop as CSV files, out and in. A file is read as a whole or not at all.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::{Date, date};
use sqlx::SqliteConnection;

use super::ledger_file;
use super::offcut::{self, OffcutError};
use super::opening_rule::{self, Rule, RuleKind};
use crate::calc::wood;
use crate::export::csv::{
    self, ClampRow, CsvFlaw, Numbered, OffcutRow, OpeningRow, UnusableStretch,
};
use crate::store::bin::{self, NewBin};
use crate::store::ledger::Search as LedgerSearch;
use crate::store::offcut::{GrowthRings, NewOffcut, Offcut, Search, Unusable};
use crate::store::opening::{ClosedDays, ExtraHours, WeeklyHours};
use crate::store::resource::{self, NewResource, ResourceKind};
use crate::store::{self, BinId, By, MemberId, Refusal};
use crate::units::LengthFormat;

/// A table that can be read from a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Table {
    Offcuts,
    Clamps,
    Openings,
    Ledger,
}

impl Table {
    pub const ALL: [Table; 4] = [
        Table::Offcuts,
        Table::Clamps,
        Table::Openings,
        Table::Ledger,
    ];

    pub fn word(self) -> &'static str {
        match self {
            Table::Offcuts => "offcuts",
            Table::Clamps => "clamps",
            Table::Openings => "openings",
            Table::Ledger => "ledger",
        }
    }

    pub fn from_word(word: &str) -> Option<Table> {
        Table::ALL.into_iter().find(|table| table.word() == word)
    }
}

/// What reading a file did, or would do until it is committed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    pub n_rows: usize,
    /// Bins that were made because rows name them.
    pub new_bins: Vec<String>,
}

#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// Everything that is wrong with the file; nothing was stored.
    #[error("the file has flaws")]
    Flaws(Vec<CsvFlaw>),
    #[error("failed to store what the file holds")]
    Store(#[source] Refusal),
}

impl From<sqlx::Error> for ImportError {
    fn from(error: sqlx::Error) -> ImportError {
        ImportError::Store(error.into())
    }
}

impl From<Refusal> for ImportError {
    fn from(refusal: Refusal) -> ImportError {
        ImportError::Store(refusal)
    }
}

/// Before every day that a workshop knows.
const FIRST_DAY: Date = date(1, 1, 1);
/// Rows that are shown before a file is stored.
const SHOWN: usize = 20;

/// Rows that are read from the database at a time.
const AT_A_TIME: u32 = 2_000;

/// The whole table as a file; of offcuts only those that lie in a bin. With `only`, the ledger names nobody but this member.
pub async fn export(
    db: &mut SqliteConnection,
    table: Table,
    lengths: LengthFormat,
    only: Option<MemberId>,
) -> store::Result<Vec<u8>> {
    match table {
        Table::Offcuts => {
            let mut rows = Vec::new();
            let mut search = Search {
                limit: AT_A_TIME,
                ..Search::default()
            };
            loop {
                let some = store::offcut::list(&mut *db, &search).await?;
                rows.extend(some.iter().map(offcut_row));
                search.before = some.last().map(|piece| piece.id);
                if some.len() < AT_A_TIME as usize {
                    break;
                }
            }
            // The oldest first, so that a file grows at its end.
            rows.reverse();
            Ok(csv::write_offcuts(lengths, &rows))
        }
        Table::Clamps => {
            let resources = resource::list(&mut *db).await?;
            let rows: Vec<ClampRow> = resources
                .iter()
                .filter_map(|resource| {
                    Some(ClampRow {
                        name: resource.about.name.clone(),
                        count: resource.about.capacity,
                        reach: resource.about.reach?,
                        rated_force_n: resource.about.rated_force_n,
                    })
                })
                .collect();
            Ok(csv::write_clamps(lengths, &rows))
        }
        Table::Openings => {
            let mut rows = Vec::new();
            for kind in [RuleKind::Weekly, RuleKind::Extra, RuleKind::Closure] {
                let kept = opening_rule::list(db, kind, FIRST_DAY).await?;
                rows.extend(kept.into_iter().map(|kept| opening_row(kept.rule)));
            }
            Ok(csv::write_openings(&rows))
        }
        Table::Ledger => ledger_file::export(db, LedgerSearch::default(), only).await,
    }
}

fn offcut_row(piece: &Offcut) -> OffcutRow {
    OffcutRow {
        tag: piece.tag.clone(),
        species: piece.species.clone(),
        length: piece.length,
        width: piece.width,
        thickness: piece.thickness,
        count: piece.count,
        bin: piece.bin_name.clone().unwrap_or_default(),
        unusable: piece
            .unusable
            .iter()
            .map(|part| UnusableStretch {
                from: part.from,
                to: part.to,
                why: part.why.clone(),
            })
            .collect(),
        square_ends: piece.square_ends,
        straight_edges: piece.straight_edges,
        growth_rings: match piece.growth_rings {
            GrowthRings::FlatSawn => wood::GrowthRings::FlatSawn,
            GrowthRings::QuarterSawn => wood::GrowthRings::QuarterSawn,
            GrowthRings::Unknown => wood::GrowthRings::Unknown,
        },
        moisture_milli: piece.moisture_milli,
        note: piece.note.clone(),
    }
}

fn opening_row(rule: Rule) -> OpeningRow {
    match rule {
        Rule::Weekly(hours) => OpeningRow::Weekly {
            weekday: hours.weekday,
            from_minute: hours.from_minute,
            to_minute: hours.to_minute,
            machines: hours.machines,
            from_day: hours.from_day,
            to_day: hours.to_day,
        },
        Rule::Extra(hours) => OpeningRow::Extra {
            on_day: hours.on_day,
            from_minute: hours.from_minute,
            to_minute: hours.to_minute,
            machines: hours.machines,
            note: hours.note,
        },
        Rule::Closure(closed) => OpeningRow::Closed {
            from_day: closed.from_day,
            to_day: closed.to_day,
            reason: closed.reason,
        },
    }
}

fn rule(row: OpeningRow) -> Rule {
    match row {
        OpeningRow::Weekly {
            weekday,
            from_minute,
            to_minute,
            machines,
            from_day,
            to_day,
        } => Rule::Weekly(WeeklyHours {
            weekday,
            from_minute,
            to_minute,
            machines,
            from_day,
            to_day,
        }),
        OpeningRow::Extra {
            on_day,
            from_minute,
            to_minute,
            machines,
            note,
        } => Rule::Extra(ExtraHours {
            on_day,
            from_minute,
            to_minute,
            machines,
            note,
        }),
        OpeningRow::Closed {
            from_day,
            to_day,
            reason,
        } => Rule::Closure(ClosedDays {
            from_day,
            to_day,
            reason,
        }),
    }
}

/// Adds every row of a file, in a transaction that the caller commits or lets go. With `make_bins`, bins that pieces name
/// and that are not there are made.
///
/// # Errors
/// Every flaw of the file with its line and column; then the transaction must be let go.
pub async fn import(
    db: &mut SqliteConnection,
    by: By,
    table: Table,
    bytes: &[u8],
    make_bins: bool,
) -> Result<Imported, ImportError> {
    match table {
        Table::Offcuts => {
            let rows = csv::read_offcuts(bytes).map_err(ImportError::Flaws)?;
            import_offcuts(db, by, rows, make_bins).await
        }
        Table::Clamps => {
            let rows = csv::read_clamps(bytes).map_err(ImportError::Flaws)?;
            import_clamps(db, by, rows).await
        }
        Table::Openings => {
            let rows = csv::read_openings(bytes).map_err(ImportError::Flaws)?;
            import_openings(db, by, rows).await
        }
        Table::Ledger => {
            let rows = csv::read_ledger(bytes).map_err(ImportError::Flaws)?;
            let n_rows = ledger_file::import(db, by, rows).await?;
            Ok(Imported {
                n_rows,
                new_bins: Vec::new(),
            })
        }
    }
}

/// The first rows of a file as they are understood, each with its line; none where the file has flaws.
pub fn preview(table: Table, bytes: &[u8], lengths: LengthFormat) -> Vec<(u64, String)> {
    match table {
        Table::Offcuts => said(csv::read_offcuts(bytes), |row| {
            let tag = if row.tag.is_empty() {
                "with the next tag".to_owned()
            } else {
                format!("tag {}", row.tag)
            };
            format!(
                "{} × {}, {} × {} × {}, into {}, {tag}",
                row.count,
                row.species,
                lengths.show(row.length),
                lengths.show(row.width),
                lengths.show(row.thickness),
                row.bin.trim()
            )
        }),
        Table::Clamps => said(csv::read_clamps(bytes), |row| {
            format!(
                "{}: {} that reach {}",
                row.name,
                row.count,
                lengths.show(row.reach)
            )
        }),
        Table::Openings => said(csv::read_openings(bytes), |row| match row {
            OpeningRow::Weekly {
                weekday,
                from_minute,
                to_minute,
                from_day,
                ..
            } => format!(
                "every {}, {} to {}, from {from_day}",
                opening_rule::WEEKDAYS[usize::from(weekday.unsigned_abs()).clamp(1, 7) - 1],
                opening_rule::clock(*from_minute),
                opening_rule::clock(*to_minute)
            ),
            OpeningRow::Extra {
                on_day,
                from_minute,
                to_minute,
                ..
            } => format!(
                "on {on_day}, {} to {}",
                opening_rule::clock(*from_minute),
                opening_rule::clock(*to_minute)
            ),
            OpeningRow::Closed {
                from_day, to_day, ..
            } => format!("closed from {from_day} to {to_day}"),
        }),
        Table::Ledger => said(csv::read_ledger(bytes), |row| {
            format!(
                "{}: {} {} of {}, tag {}",
                row.at, row.what, row.pieces, row.species, row.tag
            )
        }),
    }
}

fn said<T>(
    rows: Result<Vec<Numbered<T>>, Vec<CsvFlaw>>,
    say: impl Fn(&T) -> String,
) -> Vec<(u64, String)> {
    let rows = rows.unwrap_or_default();
    rows.iter()
        .take(SHOWN)
        .map(|numbered| (numbered.line, say(&numbered.row)))
        .collect()
}

pub(super) fn flaw(line: u64, column: &str, detail: impl Into<String>) -> CsvFlaw {
    CsvFlaw {
        line,
        column: Some(column.to_owned()),
        detail: detail.into(),
    }
}

async fn import_offcuts(
    db: &mut SqliteConnection,
    by: By,
    rows: Vec<Numbered<OffcutRow>>,
    make_bins: bool,
) -> Result<Imported, ImportError> {
    let mut bins: BTreeMap<String, BinId> = bin::list(&mut *db)
        .await?
        .into_iter()
        .map(|bin| (bin.name.to_lowercase(), bin.id))
        .collect();
    let mut flaws = Vec::new();
    let mut imported = Imported {
        n_rows: rows.len(),
        new_bins: Vec::new(),
    };
    let mut pieces = Vec::with_capacity(rows.len());
    let mut lines = Vec::with_capacity(rows.len());
    for Numbered { line, row } in rows {
        let name = row.bin.trim();
        let is_fit = name.chars().count() <= 60;
        let bin = match bins.get(&name.to_lowercase()) {
            Some(bin) => *bin,
            None if make_bins && is_fit => {
                let new = NewBin {
                    name: name.to_owned(),
                    place: String::new(),
                };
                let id = bin::create(db, by, &new).await?;
                bins.insert(name.to_lowercase(), id);
                imported.new_bins.push(name.to_owned());
                id
            }
            None => {
                let detail = if is_fit {
                    format!("is \"{name}\"; must be a bin of the workshop, or let new bins be made")
                } else {
                    "is longer than 60 letters; must be a bin of the workshop".to_owned()
                };
                flaws.push(flaw(line, "bin", detail));
                continue;
            }
        };
        if row.tag.chars().count() > 20 {
            flaws.push(flaw(
                line,
                "tag",
                "is longer than 20 letters; must be shorter",
            ));
            continue;
        }
        let tag = Some(row.tag.clone()).filter(|tag| !tag.is_empty());
        pieces.push((new_offcut(row, bin), tag));
        lines.push(line);
    }
    match offcut::add_many(db, by, &pieces).await {
        Ok(_) if flaws.is_empty() => Ok(imported),
        Ok(_) => Err(ImportError::Flaws(flaws)),
        Err(OffcutError::Wrong(wrong)) => {
            flaws.extend(wrong.into_iter().map(|error| {
                let mut parts = error.pointer.split('/').skip(1);
                let place: usize = parts.next().and_then(|part| part.parse().ok()).unwrap_or(0);
                let field = parts.next().unwrap_or_default();
                let line = lines.get(place).copied().unwrap_or(0);
                let column = match field {
                    "moisture_percent" => "moisture (%)",
                    other => other,
                };
                flaw(line, column, error.detail)
            }));
            flaws.sort_by_key(|flaw| flaw.line);
            Err(ImportError::Flaws(flaws))
        }
        Err(OffcutError::Store(refusal)) => Err(ImportError::Store(refusal)),
        Err(OffcutError::TagTaken) => Err(ImportError::Store(Refusal::Taken("offcut.tag".into()))),
        Err(OffcutError::Unknown | OffcutError::Stale | OffcutError::Claimed(_)) => {
            Err(ImportError::Store(Refusal::Stale))
        }
    }
}

fn new_offcut(row: OffcutRow, bin: BinId) -> NewOffcut {
    NewOffcut {
        species: row.species,
        length: row.length,
        width: row.width,
        thickness: row.thickness,
        count: row.count,
        unusable: row
            .unusable
            .into_iter()
            .map(|part| Unusable {
                from: part.from,
                to: part.to,
                why: part.why,
            })
            .collect(),
        square_ends: row.square_ends,
        straight_edges: row.straight_edges,
        growth_rings: match row.growth_rings {
            wood::GrowthRings::FlatSawn => GrowthRings::FlatSawn,
            wood::GrowthRings::QuarterSawn => GrowthRings::QuarterSawn,
            wood::GrowthRings::Unknown => GrowthRings::Unknown,
        },
        moisture_milli: row.moisture_milli,
        bin,
        note: row.note,
    }
}

async fn import_clamps(
    db: &mut SqliteConnection,
    by: By,
    rows: Vec<Numbered<ClampRow>>,
) -> Result<Imported, ImportError> {
    let mut names: BTreeSet<String> = resource::list(&mut *db)
        .await?
        .into_iter()
        .map(|resource| resource.about.name.to_lowercase())
        .collect();
    let mut flaws = Vec::new();
    for Numbered { line, row } in &rows {
        if row.name.chars().count() > 60 {
            flaws.push(flaw(
                *line,
                "name",
                "is longer than 60 letters; must be shorter",
            ));
        } else if !names.insert(row.name.to_lowercase()) {
            let detail = format!("is \"{}\"; must be a name that nothing else has", row.name);
            flaws.push(flaw(*line, "name", detail));
        }
    }
    if !flaws.is_empty() {
        return Err(ImportError::Flaws(flaws));
    }
    for Numbered { row, .. } in &rows {
        let set = NewResource {
            kind: ResourceKind::ClampSet,
            name: row.name.clone(),
            capacity: row.count,
            reach: Some(row.reach),
            rated_force_n: row.rated_force_n,
            pass_width: None,
        };
        resource::create(db, by, &set).await?;
    }
    Ok(Imported {
        n_rows: rows.len(),
        new_bins: Vec::new(),
    })
}

async fn import_openings(
    db: &mut SqliteConnection,
    by: By,
    rows: Vec<Numbered<OpeningRow>>,
) -> Result<Imported, ImportError> {
    // As text, since days and hours have no order among their kinds.
    let mut there = BTreeSet::new();
    for kind in [RuleKind::Weekly, RuleKind::Extra, RuleKind::Closure] {
        let kept = opening_rule::list(db, kind, FIRST_DAY).await?;
        there.extend(kept.iter().map(|kept| format!("{:?}", kept.rule)));
    }
    let mut flaws = Vec::new();
    let n_rows = rows.len();
    let mut new = Vec::with_capacity(n_rows);
    for Numbered { line, row } in rows {
        let rule = rule(row);
        for error in opening_rule::flaws(&rule) {
            let column = match error.pointer.as_str() {
                "/last_day" => "last day",
                "/to" => "to",
                _ => "note",
            };
            flaws.push(flaw(line, column, error.detail));
        }
        if !there.insert(format!("{rule:?}")) {
            flaws.push(flaw(
                line,
                "what",
                "is there already with the same days and hours; must not be there twice",
            ));
        }
        new.push(rule);
    }
    if !flaws.is_empty() {
        return Err(ImportError::Flaws(flaws));
    }
    for rule in &new {
        opening_rule::create(db, by, rule).await?;
    }
    Ok(Imported {
        n_rows,
        new_bins: Vec::new(),
    })
}
