//! Words of the trade, in words of our own.

use std::sync::LazyLock;

use super::table::read_table;

/// A word and what it means here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Term {
    pub term: String,
    pub meaning: String,
    /// The word that it goes with.
    pub see: Option<String>,
}

impl Term {
    /// Where its meaning stands on the page of words.
    pub fn anchor(&self) -> String {
        anchor(&self.term)
    }
}

/// A word as the anchor of its meaning.
pub fn anchor(term: &str) -> String {
    term.to_lowercase().replace(' ', "-")
}

static TERMS: LazyLock<Vec<Term>> = LazyLock::new(|| {
    read_table("glossary", include_str!("glossary.csv"), |row| Term {
        term: row.required("term").to_owned(),
        meaning: row.required("meaning").to_owned(),
        see: Some(row.text("see"))
            .filter(|text| !text.is_empty())
            .map(str::to_owned),
    })
});

/// All words, in alphabetical order.
pub fn glossary() -> &'static [Term] {
    &TERMS
}
