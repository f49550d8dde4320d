//! What is wrong with a file, and where.

use std::fmt;

/// One flaw of a file, of the form "is X; must be Y".
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CsvFlaw {
    /// Counted from 1, the heading included.
    pub line: u64,
    /// The column's name; `None` where the whole line is meant.
    pub column: Option<String>,
    pub detail: String,
}

impl CsvFlaw {
    pub(super) fn of_line(line: u64, detail: impl Into<String>) -> CsvFlaw {
        CsvFlaw {
            line,
            column: None,
            detail: detail.into(),
        }
    }
}

impl fmt::Display for CsvFlaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.column {
            Some(column) => write!(f, "line {}, {column}: {}", self.line, self.detail),
            None => write!(f, "line {}: {}", self.line, self.detail),
        }
    }
}
