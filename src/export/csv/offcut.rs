//! Offcuts.

use super::flaw::CsvFlaw;
use super::table::{
    Column, Line, Numbered, length, needed, optional, read, words, write, yes_or_no,
};
use crate::calc::wood::GrowthRings;
use crate::units::{Length, LengthFormat};

/// A piece, or `count` equal ones under one tag.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OffcutRow {
    /// Empty for a piece that has none yet.
    pub tag: String,
    pub species: String,
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    pub count: u32,
    /// The bin's name.
    pub bin: String,
    pub unusable: Vec<UnusableStretch>,
    pub square_ends: bool,
    pub straight_edges: bool,
    pub growth_rings: GrowthRings,
    /// Thousandths of a per cent of the ovendry mass.
    pub moisture_milli: Option<i64>,
    pub note: String,
}

/// A stretch along the piece that may not be used, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnusableStretch {
    pub from: Length,
    pub to: Length,
    pub why: String,
}

const COLUMNS: [Column; 13] = [
    optional("tag"),
    needed("species"),
    needed("length"),
    needed("width"),
    needed("thickness"),
    optional("count"),
    needed("bin"),
    optional("unusable"),
    optional("square ends"),
    optional("straight edges"),
    optional("growth rings"),
    optional("moisture (%)"),
    optional("note"),
];

const RINGS: [(&str, GrowthRings); 4] = [
    ("flat-sawn", GrowthRings::FlatSawn),
    ("quarter-sawn", GrowthRings::QuarterSawn),
    ("unknown", GrowthRings::Unknown),
    ("", GrowthRings::Unknown),
];

/// A file of offcuts, lengths in the unit that is asked for where it can say them exactly.
pub fn write_offcuts(lengths: LengthFormat, offcuts: &[OffcutRow]) -> Vec<u8> {
    let rows = offcuts.iter().map(|offcut| {
        vec![
            words(&offcut.tag),
            words(&offcut.species),
            length(lengths, offcut.length),
            length(lengths, offcut.width),
            length(lengths, offcut.thickness),
            offcut.count.to_string(),
            words(&offcut.bin),
            words(&stretches(lengths, &offcut.unusable)),
            yes_or_no(offcut.square_ends),
            yes_or_no(offcut.straight_edges),
            rings(offcut.growth_rings).to_owned(),
            offcut.moisture_milli.map_or(String::new(), thousandths),
            words(&offcut.note),
        ]
    });
    write(&COLUMNS, rows)
}

/// The offcuts of a file, or everything that is wrong with it. Whether species and bins are known is
/// for the workshop to say.
pub fn read_offcuts(bytes: &[u8]) -> Result<Vec<Numbered<OffcutRow>>, Vec<CsvFlaw>> {
    read(&COLUMNS, bytes, |line| {
        let tag = line.words("tag").trim().to_owned();
        let species = line.name("species");
        let length = line.length("length");
        let width = line.length("width");
        let thickness = line.length("thickness");
        let count = if line.is_empty("count") {
            Some(1)
        } else {
            line.whole("count", 1, 100_000)
        };
        let bin = line.name("bin");
        let unusable = read_stretches(line, length);
        let square_ends = line.yes_or_no("square ends");
        let straight_edges = line.yes_or_no("straight edges");
        let growth_rings = line.one_of("growth rings", &RINGS);
        let moisture_milli = if line.is_empty("moisture (%)") {
            Some(None)
        } else {
            line.parsed(
                "moisture (%)",
                parse_thousandths,
                "a number from 0 to 200 with at most three decimals",
            )
            .map(Some)
        };
        let note = line.words("note");
        Some(OffcutRow {
            tag,
            species: species?,
            length: length?,
            width: width?,
            thickness: thickness?,
            count: u32::try_from(count?).ok()?,
            bin: bin?,
            unusable: unusable?,
            square_ends,
            straight_edges,
            growth_rings: growth_rings?,
            moisture_milli: moisture_milli?,
            note,
        })
    })
}

fn rings(rings: GrowthRings) -> &'static str {
    match rings {
        GrowthRings::FlatSawn => "flat-sawn",
        GrowthRings::QuarterSawn => "quarter-sawn",
        GrowthRings::Unknown => "unknown",
    }
}

/// `8.5` for 8500.
fn thousandths(value: i64) -> String {
    let text = format!("{}.{:03}", value / 1000, value.rem_euclid(1000));
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn parse_thousandths(text: &str) -> Option<i64> {
    let (whole, decimals) = text.split_once('.').unwrap_or((text, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || whole.len() > 3 || decimals.len() > 3 {
        return None;
    }
    if !digits(whole) || !digits(decimals) {
        return None;
    }
    let value: i64 = format!("{whole}{decimals:0<3}").parse().ok()?;
    (value <= 200_000).then_some(value)
}

/// `0 in to 1 1/2 in: knot; 10 in to 11 in`. A semicolon in a reason is written `\;`.
fn stretches(lengths: LengthFormat, unusable: &[UnusableStretch]) -> String {
    let written: Vec<String> = unusable
        .iter()
        .map(|stretch| {
            let mut text = format!(
                "{} to {}",
                length(lengths, stretch.from),
                length(lengths, stretch.to)
            );
            if !stretch.why.is_empty() {
                text.push_str(": ");
                text.push_str(&stretch.why.replace('\\', "\\\\").replace(';', "\\;"));
            }
            text
        })
        .collect();
    written.join("; ")
}

/// Parts at semicolons that have no backslash before them, the backslashes taken away.
fn parted(text: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut letters = text.chars();
    while let Some(letter) = letters.next() {
        let last = parts.len() - 1;
        match letter {
            '\\' => parts[last].extend(letters.next()),
            ';' => parts.push(String::new()),
            letter => parts[last].push(letter),
        }
    }
    parts.retain(|part| !part.trim().is_empty());
    parts
}

fn read_stretches(line: &mut Line, piece: Option<Length>) -> Option<Vec<UnusableStretch>> {
    const COLUMN: &str = "unusable";
    let text = line.words(COLUMN);
    let mut found = Vec::new();
    let mut is_right = true;
    for part in parted(&text) {
        match read_stretch(&part, piece) {
            Ok(stretch) => found.push(stretch),
            Err(detail) => {
                line.flaw(COLUMN, detail);
                is_right = false;
            }
        }
    }
    is_right.then_some(found)
}

fn read_stretch(part: &str, piece: Option<Length>) -> Result<UnusableStretch, String> {
    let (span, why) = part.split_once(": ").unwrap_or((part, ""));
    let Some((from, to)) = span.split_once(" to ") else {
        return Err(format!(
            "is \"{}\"; must be like \"0 in to 1 1/2 in: knot\"",
            part.trim().chars().take(40).collect::<String>()
        ));
    };
    let read = |text: &str| Length::parse(text, None).map_err(|error| error.to_string());
    let (from, to) = (read(from)?, read(to)?);
    if to <= from {
        return Err(format!("is \"{}\"; must end after it begins", span.trim()));
    }
    if piece.is_some_and(|piece| to > piece) {
        return Err(format!(
            "is \"{}\"; must end within the piece's length",
            span.trim()
        ));
    }
    Ok(UnusableStretch {
        from,
        to,
        why: why.to_owned(),
    })
}
