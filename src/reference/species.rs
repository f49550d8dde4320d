//! Woods: density, hardness, shrinkage, movement, pores, hazards and fitness for food.

use std::sync::LazyLock;

use super::table::{Row, read_table};
use crate::units::{FoodGrade, Force, Hazard, Source, WoodFigures};

/// A wood with its figures, each group with its source.
#[derive(Clone, Debug, PartialEq)]
pub struct Species {
    /// The trade name, unique over the table.
    pub name: String,
    pub other_names: Vec<String>,
    pub latin: String,
    pub kind: WoodKind,
    /// Where it grows.
    pub region: String,
    pub figures: WoodFigures,
    /// Mass with its water over volume, both at 12 % moisture.
    pub density_kg_m3: f64,
    pub density_source: Source,
    /// Janka ball hardness of the side grain at 12 % moisture.
    pub hardness: Force,
    pub hardness_source: Source,
    /// `None` where no shrinkage is known.
    pub shrinkage_source: Option<Source>,
    /// `None` where no movement coefficient is published.
    pub coefficient_source: Option<Source>,
    pub pores: Pores,
    pub pores_source: Source,
    pub hazard: Hazard,
    pub hazard_note: String,
    pub hazard_source: Source,
    pub food: FoodGrade,
    pub food_reason: String,
    pub food_source: Source,
    /// Oiled heartwood as red, green and blue of sRGB; an estimate for drawings.
    pub colour: [u8; 3],
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum WoodKind {
    Hardwood,
    Softwood,
}

/// How open the surface is, in the words of the trade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Pores {
    /// Softwoods have no pores.
    None,
    Closed,
    SemiOpen,
    Open,
}

impl WoodKind {
    pub const fn word(self) -> &'static str {
        match self {
            WoodKind::Hardwood => "hardwood",
            WoodKind::Softwood => "softwood",
        }
    }

    pub fn from_word(word: &str) -> Option<WoodKind> {
        [WoodKind::Hardwood, WoodKind::Softwood]
            .into_iter()
            .find(|kind| kind.word() == word)
    }
}

impl Pores {
    pub const fn word(self) -> &'static str {
        match self {
            Pores::None => "none",
            Pores::Closed => "closed",
            Pores::SemiOpen => "semi-open",
            Pores::Open => "open",
        }
    }

    pub fn from_word(word: &str) -> Option<Pores> {
        [Pores::None, Pores::Closed, Pores::SemiOpen, Pores::Open]
            .into_iter()
            .find(|pores| pores.word() == word)
    }
}

impl Species {
    /// Every source, with what it is of.
    pub fn sources(&self) -> Vec<(&'static str, &Source)> {
        let mut sources = vec![
            ("density", &self.density_source),
            ("hardness", &self.hardness_source),
        ];
        sources.extend(
            self.shrinkage_source
                .as_ref()
                .map(|source| ("shrinkage", source)),
        );
        sources.extend(
            self.coefficient_source
                .as_ref()
                .map(|source| ("coefficient", source)),
        );
        sources.extend([
            ("pores", &self.pores_source),
            ("hazard", &self.hazard_source),
            ("food", &self.food_source),
        ]);
        sources
    }

    /// `#RRGGBB`.
    pub fn colour_code(&self) -> String {
        let [red, green, blue] = self.colour;
        format!("#{red:02X}{green:02X}{blue:02X}")
    }

    /// Perceived lightness from 0 (black) to 100 (white): L* of CIE 15 from the sRGB colour of
    /// IEC 61966-2-1. Patterns sort from dark to light by it.
    pub fn lightness(&self) -> f64 {
        let linear = self.colour.map(|channel| {
            let share = f64::from(channel) / 255.0;
            if share <= 0.040_45 {
                share / 12.92
            } else {
                ((share + 0.055) / 1.055).powf(2.4)
            }
        });
        let luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
        if luminance > 216.0 / 24_389.0 {
            116.0 * luminance.cbrt() - 16.0
        } else {
            luminance * 24_389.0 / 27.0
        }
    }

    /// Oily woods are wiped with solvent before gluing (a glue maker's guide names teak, padauk
    /// and the like).
    pub fn is_oily(&self) -> bool {
        ["teak", "padauk", "bubinga", "iroko", "olive"].contains(&self.name.as_str())
    }
}

static WOODS: LazyLock<Vec<Species>> =
    LazyLock::new(|| read_table("species", include_str!("species.csv"), read_species));

/// All woods, hardwoods first.
pub fn woods() -> &'static [Species] {
    &WOODS
}

/// The wood of that name or other name, whatever its capitals.
pub fn species(name: &str) -> Option<&'static Species> {
    let name = name.trim();
    let known = |species: &&Species| {
        species.name.eq_ignore_ascii_case(name)
            || species
                .other_names
                .iter()
                .any(|other| other.eq_ignore_ascii_case(name))
    };
    WOODS.iter().find(known)
}

/// Up to three names of woods that are spelled most like `name`.
pub fn nearest_species(name: &str) -> Vec<&'static str> {
    let wanted = name.trim().to_lowercase();
    // A text far longer than any name is like none of them.
    if wanted.chars().count() > 60 {
        return Vec::new();
    }
    let mut ranked: Vec<(usize, &str)> = WOODS
        .iter()
        .map(|species| {
            let names = std::iter::once(&species.name).chain(&species.other_names);
            let distance = names
                .map(|known| unlikeness(&wanted, &known.to_lowercase()))
                .min()
                .unwrap_or(usize::MAX);
            (distance, species.name.as_str())
        })
        .collect();
    ranked.sort_unstable();
    ranked.into_iter().take(3).map(|(_, name)| name).collect()
}

/// Twice the number of letters to insert, delete or change (Levenshtein 1966), less where one
/// name holds a whole word of the other.
fn unlikeness(wanted: &str, known: &str) -> usize {
    let known_letters: Vec<char> = known.chars().collect();
    let mut row: Vec<usize> = (0..=known_letters.len()).collect();
    for (i, letter) in wanted.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, known_letter) in known_letters.iter().enumerate() {
            let changed = diagonal + usize::from(letter != *known_letter);
            diagonal = row[j + 1];
            row[j + 1] = changed.min(row[j] + 1).min(diagonal + 1);
        }
    }
    let distance = 2 * row[known_letters.len()];
    let shares_word = wanted
        .split_whitespace()
        .any(|word| known.split_whitespace().any(|other| other == word));
    if shares_word { distance / 4 } else { distance }
}

fn read_species(row: &Row<'_>) -> Species {
    let optional_source = |key: &str, provenance: &str| {
        (!row.text(provenance).is_empty()).then(|| row.source(key, provenance))
    };
    Species {
        name: row.required("name").to_owned(),
        other_names: row
            .text("other_names")
            .split("; ")
            .filter(|name| !name.is_empty())
            .map(str::to_owned)
            .collect(),
        latin: row.required("latin").to_owned(),
        kind: row.parsed("kind", WoodKind::from_word),
        region: row.required("region").to_owned(),
        figures: WoodFigures {
            specific_gravity: row.number("specific_gravity"),
            shrinkage_tangential: row.optional_number("shrinkage_tangential"),
            shrinkage_radial: row.optional_number("shrinkage_radial"),
            coefficient_tangential: row.optional_number("coefficient_tangential"),
            coefficient_radial: row.optional_number("coefficient_radial"),
        },
        density_kg_m3: row.number("density_kg_m3"),
        density_source: row.source("density_source", "density_provenance"),
        hardness: Force::from_newtons(row.number("janka_n")),
        hardness_source: row.source("janka_source", "janka_provenance"),
        shrinkage_source: optional_source("shrinkage_source", "shrinkage_provenance"),
        coefficient_source: optional_source("coefficient_source", "coefficient_provenance"),
        pores: row.parsed("pores", Pores::from_word),
        pores_source: row.source("pores_source", "pores_provenance"),
        hazard: row.parsed("hazard", Hazard::from_word),
        hazard_note: row.required("hazard_note").to_owned(),
        hazard_source: row.source("hazard_source", "hazard_provenance"),
        food: row.parsed("food_contact", FoodGrade::from_word),
        food_reason: row.required("food_contact_reason").to_owned(),
        food_source: Source {
            publication: "our judgement by the rule of FDA Food Code 2022, 4-101.17(B)".into(),
            ..Source::PRACTICE
        },
        colour: row.parsed("colour", read_colour),
    }
}

fn read_colour(text: &str) -> Option<[u8; 3]> {
    let digits = text.strip_prefix('#').filter(|digits| digits.len() == 6)?;
    let channel = |from: usize| u8::from_str_radix(digits.get(from..from + 2)?, 16).ok();
    Some([channel(0)?, channel(2)?, channel(4)?])
}
