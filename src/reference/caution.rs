//! Cautions, each tied to what it is about.

use std::sync::LazyLock;

use super::table::read_table;
use crate::units::Source;

/// One caution in plain words.
#[derive(Clone, Debug, PartialEq)]
pub struct Caution {
    /// The key of the operation, material or use that it belongs to, such as `ripping`,
    /// `drying oil` or `sensitising wood`.
    pub subject: String,
    pub text: String,
    pub source: Source,
}

static CAUTIONS: LazyLock<Vec<Caution>> = LazyLock::new(|| {
    read_table("cautions", include_str!("cautions.csv"), |row| Caution {
        subject: row.required("subject").to_owned(),
        text: row.required("text").to_owned(),
        source: row.source("source", "provenance"),
    })
});

pub fn cautions() -> &'static [Caution] {
    &CAUTIONS
}

/// The cautions about one subject, in their order.
pub fn cautions_about(subject: &str) -> impl Iterator<Item = &'static Caution> {
    CAUTIONS
        .iter()
        .filter(move |caution| caution.subject == subject)
}
