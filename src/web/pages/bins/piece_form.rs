//! The form of one piece, for adding and for correcting.

use super::{bin_options, species_options};
use crate::app::species::Woods;
use crate::store::BinId;
use crate::store::bin::Bin;
use crate::store::offcut::{GrowthRings, NewOffcut, Offcut, Unusable};
use crate::units::{Length, LengthFormat, LengthUnit};
use crate::web::{Typed, lines};
use crate::wire::FieldError;

/// What the form offers to choose from.
pub(super) struct Choices {
    pub species: Vec<(String, String)>,
    pub bins: Vec<(String, String)>,
    pub rings: Vec<(String, String)>,
}

impl Choices {
    pub fn new(woods: &Woods, bins: &[Bin]) -> Choices {
        Choices {
            species: species_options(woods),
            bins: bin_options(bins),
            rings: [
                ("unknown", "not looked at"),
                ("flat-sawn", "flat-sawn: rings along the face"),
                ("quarter-sawn", "quarter-sawn: rings across the face"),
            ]
            .map(|(value, words)| (value.to_owned(), words.to_owned()))
            .to_vec(),
        }
    }
}

/// The form of a piece that is there.
pub(super) fn fill(piece: &Offcut, lengths: LengthFormat) -> Typed {
    let show = |length: Length| lengths.show_exact(length);
    let mut values = vec![
        ("species", piece.species.clone()),
        ("length", show(piece.length)),
        ("width", show(piece.width)),
        ("thickness", show(piece.thickness)),
        ("count", piece.count.to_string()),
        ("growth_rings", piece.growth_rings.word().to_owned()),
        ("note", piece.note.clone()),
        ("version", piece.version.to_string()),
        (
            "bin",
            piece.bin.map_or_else(String::new, |bin| bin.to_string()),
        ),
        (
            "moisture",
            piece
                .moisture_milli
                .map_or_else(String::new, |milli| format!("{}", milli as f64 / 1000.0)),
        ),
        (
            "unusable",
            piece
                .unusable
                .iter()
                .map(|part| format!("{} to {}: {}", show(part.from), show(part.to), part.why))
                .collect::<Vec<_>>()
                .join("\n"),
        ),
    ];
    if piece.square_ends {
        values.push(("square_ends", "yes".to_owned()));
    }
    if piece.straight_edges {
        values.push(("straight_edges", "yes".to_owned()));
    }
    Typed::filled(values)
}

/// Reads every field; what is wrong stands beside its field.
pub(super) fn read(typed: &mut Typed, unit: LengthUnit) -> Option<NewOffcut> {
    let size = |text: &str| Length::parse_positive(text, Some(unit));
    let species = typed.text("species").to_owned();
    if species.is_empty() {
        typed.refuse("species", "is not chosen; must be one of the list");
    }
    let length = typed.take("length", size);
    let width = typed.take("width", size);
    let thickness = typed.take("thickness", size);
    let count = typed.take("count", |text| {
        text.parse::<u32>()
            .ok()
            .filter(|count| *count > 0)
            .ok_or(format!("is {text:?}; must be a whole number of at least 1"))
    });
    let bin = typed.take("bin", |text| {
        text.parse::<BinId>()
            .map_err(|_| "is not chosen; must be one of the list")
    });
    let moisture_milli = typed.take_if_any("moisture", |text| {
        text.trim_end_matches('%')
            .trim()
            .parse::<f64>()
            .ok()
            .filter(|percent| (0.0..=200.0).contains(percent))
            .map(|percent| (percent * 1000.0).round() as i64)
            .ok_or(format!("is {text:?}; must be a per cent from 0 to 200"))
    });
    let unusable = typed.take("unusable", |text| stretches(text, unit));
    let note = typed.take("note", |text| lines(text, 2000));
    if !typed.is_fine() {
        return None;
    }
    Some(NewOffcut {
        species,
        length: length?,
        width: width?,
        thickness: thickness?,
        count: count?,
        unusable: unusable?,
        square_ends: typed.is_ticked("square_ends"),
        straight_edges: typed.is_ticked("straight_edges"),
        growth_rings: GrowthRings::from_word(typed.text("growth_rings"))
            .unwrap_or(GrowthRings::Unknown),
        moisture_milli: moisture_milli?,
        bin: bin?,
        note: note?,
    })
}

/// One stretch a line: `0 to 1 1/2 in: split`.
fn stretches(text: &str, unit: LengthUnit) -> Result<Vec<Unusable>, String> {
    text.lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
        .map(|line| {
            let (span, why) = line.split_once(':').unwrap_or((line, ""));
            let Some((from, to)) = span.split_once(" to ") else {
                return Err(format!(
                    "has the line {line:?}; must be like \"0 to 1 1/2 in: split\""
                ));
            };
            let read = |text: &str| {
                Length::parse(text, Some(unit))
                    .map_err(|error| format!("has {:?}, which {error}", text.trim()))
            };
            Ok(Unusable {
                from: read(from)?,
                to: read(to)?,
                why: why.trim().to_owned(),
            })
        })
        .collect()
}

/// Puts what the use case found wrong beside the fields.
pub(super) fn refuse(typed: &mut Typed, errors: &[FieldError]) {
    for error in errors {
        let name = match error.pointer.split('/').nth(1).unwrap_or_default() {
            "species" => "species",
            "length" => "length",
            "width" => "width",
            "thickness" => "thickness",
            "count" => "count",
            "bin" => "bin",
            "unusable" => "unusable",
            "moisture_percent" => "moisture",
            _ => "note",
        };
        typed.refuse(name, error.detail.clone());
    }
}
