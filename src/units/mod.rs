//! Plain values with their units: a wrong unit does not compile.

mod length;

pub use length::{Length, NM_PER_INCH, NM_PER_MM};
