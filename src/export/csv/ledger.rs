//! The wood ledger.

use jiff::Timestamp;

use super::flaw::CsvFlaw;
use super::table::{Column, Numbered, needed, optional, read, words, write};

/// One entry of the ledger. Pieces and volumes are what came (+) or went (-).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LedgerRow {
    pub at: Timestamp,
    /// Who entered it; empty where nobody is known any more.
    pub member: String,
    /// `added`, `remainder`, `corrected`, `cut` or `gone`.
    pub what: String,
    pub tag: String,
    pub project: String,
    pub species: String,
    pub pieces: i64,
    pub volume_mm3: i64,
    /// Of a cut piece: what went into strips, and what was neither strip nor remainder.
    pub strips_mm3: i64,
    pub waste_mm3: i64,
    pub why: String,
}

const COLUMNS: [Column; 11] = [
    needed("at (utc)"),
    optional("member"),
    needed("what"),
    needed("tag"),
    optional("project"),
    needed("species"),
    needed("pieces"),
    needed("volume (mm³)"),
    optional("in strips (mm³)"),
    optional("waste (mm³)"),
    optional("why"),
];

const WHAT: [(&str, &str); 5] = [
    ("added", "added"),
    ("remainder", "remainder"),
    ("corrected", "corrected"),
    ("cut", "cut"),
    ("gone", "gone"),
];

/// More than any one entry is of: ten thousand cubic metres. A full file of such entries can still be summed.
const MOST_VOLUME: i64 = 10_000_000_000_000;

pub fn write_ledger(entries: &[LedgerRow]) -> Vec<u8> {
    let rows = entries.iter().map(|entry| {
        vec![
            entry.at.to_string(),
            words(&entry.member),
            words(&entry.what),
            words(&entry.tag),
            words(&entry.project),
            words(&entry.species),
            entry.pieces.to_string(),
            entry.volume_mm3.to_string(),
            entry.strips_mm3.to_string(),
            entry.waste_mm3.to_string(),
            words(&entry.why),
        ]
    });
    write(&COLUMNS, rows)
}

/// The entries of a file, or everything that is wrong with it.
pub fn read_ledger(bytes: &[u8]) -> Result<Vec<Numbered<LedgerRow>>, Vec<CsvFlaw>> {
    read(&COLUMNS, bytes, |line| {
        let at = line.parsed(
            "at (utc)",
            |text| text.parse().ok(),
            "an instant such as 2027-03-01T17:00:00Z",
        );
        let member = line.words("member");
        let what = line.one_of("what", &WHAT);
        let tag = line.name("tag");
        let project = line.words("project");
        let species = line.name("species");
        let pieces = line.whole("pieces", -1_000_000_000, 1_000_000_000);
        let volume_mm3 = line.whole("volume (mm³)", -MOST_VOLUME, MOST_VOLUME);
        let mut share = |column| {
            if line.is_empty(column) {
                Some(0)
            } else {
                line.whole(column, 0, MOST_VOLUME)
            }
        };
        let strips_mm3 = share("in strips (mm³)");
        let waste_mm3 = share("waste (mm³)");
        let why = line.words("why");
        Some(LedgerRow {
            at: at?,
            member,
            what: what?.to_owned(),
            tag: tag?,
            project,
            species: species?,
            pieces: pieces?,
            volume_mm3: volume_mm3?,
            strips_mm3: strips_mm3?,
            waste_mm3: waste_mm3?,
            why,
        })
    })
}
