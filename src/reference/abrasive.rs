//! Grit sizes of coated abrasives.

use std::sync::LazyLock;

use super::table::read_table;
use crate::units::Source;

/// Which standard numbers a grit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GritSystem {
    /// P grades of FEPA 43-1 and ISO 6344.
    Fepa,
    /// Plain numbers of ANSI B74.18.
    Cami,
}

impl GritSystem {
    pub const fn word(self) -> &'static str {
        match self {
            GritSystem::Fepa => "FEPA",
            GritSystem::Cami => "CAMI",
        }
    }
}

/// One grit.
#[derive(Clone, Debug, PartialEq)]
pub struct Grit {
    pub system: GritSystem,
    pub number: i64,
    /// Median (FEPA) or mean (CAMI) particle size in micrometres.
    pub particle_um: f64,
    pub source: Source,
}

static GRITS: LazyLock<Vec<Grit>> = LazyLock::new(|| {
    read_table("abrasives", include_str!("abrasives.csv"), |row| Grit {
        system: row.parsed("system", |word| {
            [GritSystem::Fepa, GritSystem::Cami]
                .into_iter()
                .find(|system| system.word() == word)
        }),
        number: row.parsed("grit", |text| text.parse().ok()),
        particle_um: row.number("particle_um"),
        source: row.source("source", "provenance"),
    })
});

/// All grits, from coarse to fine within each system.
pub fn grits() -> &'static [Grit] {
    &GRITS
}
