//! Standard sizes of lumber.

use std::sync::LazyLock;

use super::table::read_table;
use crate::units::{Length, Source};

/// One standard size, such as the dressed width of a 1x2.
#[derive(Clone, Debug, PartialEq)]
pub struct LumberSize {
    /// `softwood piece`, `hardwood thickness` and so on.
    pub group: String,
    /// What the trade calls it: `1x2`, `4/4`.
    pub nominal: String,
    /// `thickness` or `width`.
    pub dimension: String,
    /// `rough`, `dressed dry`, `surfaced two sides` and so on.
    pub condition: String,
    pub size: Length,
    pub source: Source,
}

static SIZES: LazyLock<Vec<LumberSize>> = LazyLock::new(|| {
    read_table("lumber sizes", include_str!("lumber_sizes.csv"), |row| {
        LumberSize {
            group: row.required("group").to_owned(),
            nominal: row.required("nominal").to_owned(),
            dimension: row.required("dimension").to_owned(),
            condition: row.required("condition").to_owned(),
            size: row.parsed("size", |text| Length::parse_positive(text, None).ok()),
            source: row.source("source", "provenance"),
        }
    })
});

pub fn lumber_sizes() -> &'static [LumberSize] {
    &SIZES
}
