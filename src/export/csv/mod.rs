//! Tables as CSV by RFC 4180, out and in: what was exported reads back the same.
//!
//! Columns have trade words as names, in any order; each length carries its unit in its cell, so that
//! a spreadsheet takes `3/4 in` for words and not for a day in April. A bare number is
//! understood where the column's name states the unit: `length (mm)`. Reading collects every flaw with its line and
//! column, and gives rows only where there is none.
//!
//! A spreadsheet runs what begins with `=`, `+`, `-` or `@` as a formula. Words that begin so get an
//! apostrophe in front when they are written, and lose it when they are read.

mod clamp;
mod flaw;
mod ledger;
mod offcut;
mod opening;
mod table;

pub use clamp::{ClampRow, read_clamps, write_clamps};
pub use flaw::CsvFlaw;
pub use ledger::{LedgerRow, read_ledger, write_ledger};
pub use offcut::{OffcutRow, UnusableStretch, read_offcuts, write_offcuts};
pub use opening::{OpeningRow, read_openings, write_openings};
pub use table::{MOST_ROWS, Numbered};
