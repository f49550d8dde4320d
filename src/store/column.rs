//! Columns read back into types.

use jiff::Timestamp;

use super::{Error, Result};

/// An instant from whole seconds since 1970.
pub(super) fn instant(seconds: i64) -> Result<Timestamp> {
    Timestamp::from_second(seconds).map_err(|error| Error::Decode(Box::new(error)))
}

/// A stored value that this program cannot have written.
pub(super) fn unreadable(column: &str, value: &dyn std::fmt::Debug) -> Error {
    Error::Decode(format!("{column} is {value:?}").into())
}
