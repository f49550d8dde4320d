//! Sets of equal clamps.

use super::flaw::CsvFlaw;
use super::table::{Column, Numbered, length, needed, optional, read, words, write};
use crate::units::{Length, LengthFormat};

/// A set of equal clamps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClampRow {
    pub name: String,
    pub count: u32,
    /// The widest thing between the jaws.
    pub reach: Length,
    /// The force that one clamp is rated for.
    pub rated_force_n: Option<i64>,
}

const COLUMNS: [Column; 4] = [
    needed("name"),
    needed("count"),
    needed("reach"),
    optional("rated force (n)"),
];

pub fn write_clamps(lengths: LengthFormat, clamps: &[ClampRow]) -> Vec<u8> {
    let rows = clamps.iter().map(|clamp| {
        vec![
            words(&clamp.name),
            clamp.count.to_string(),
            length(lengths, clamp.reach),
            clamp
                .rated_force_n
                .map_or(String::new(), |force| force.to_string()),
        ]
    });
    write(&COLUMNS, rows)
}

/// The clamps of a file, or everything that is wrong with it.
pub fn read_clamps(bytes: &[u8]) -> Result<Vec<Numbered<ClampRow>>, Vec<CsvFlaw>> {
    read(&COLUMNS, bytes, |line| {
        let name = line.name("name");
        let count = line.whole("count", 0, 100_000);
        let reach = line.length("reach");
        let rated_force_n = if line.is_empty("rated force (n)") {
            Some(None)
        } else {
            line.whole("rated force (n)", 1, 1_000_000).map(Some)
        };
        Some(ClampRow {
            name: name?,
            count: u32::try_from(count?).ok()?,
            reach: reach?,
            rated_force_n: rated_force_n?,
        })
    })
}
