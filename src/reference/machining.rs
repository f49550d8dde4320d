//! Figures of sawing, routing, planing and drilling.

use std::sync::LazyLock;

use super::table::read_table;
use crate::units::{Between, Source};

/// One figure of a machine or a cut.
#[derive(Clone, Debug, PartialEq)]
pub struct MachiningFigure {
    /// `kerf`, `least radius`, `least length` and so on.
    pub kind: String,
    pub item: String,
    /// In `unit`.
    pub range: Option<Between<f64>>,
    pub unit: String,
    /// As a workshop says it.
    pub text: String,
    pub note: String,
    pub source: Source,
}

static FIGURES: LazyLock<Vec<MachiningFigure>> = LazyLock::new(|| {
    read_table("machining", include_str!("machining.csv"), |row| {
        let low = row.optional_number("low");
        let high = row.optional_number("high").or(low);
        MachiningFigure {
            kind: row.required("kind").to_owned(),
            item: row.required("item").to_owned(),
            range: low.zip(high).map(|(low, high)| Between { low, high }),
            unit: row.text("unit").to_owned(),
            text: row.text("text").to_owned(),
            note: row.text("note").to_owned(),
            source: row.source("source", "provenance"),
        }
    })
});

pub fn machining_figures() -> &'static [MachiningFigure] {
    &FIGURES
}
