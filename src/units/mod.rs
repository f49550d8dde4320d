//! Plain values with their units: a wrong unit does not compile.

mod length;
mod time;

pub use length::{Length, NM_PER_INCH, NM_PER_MM};
pub use time::{MINUTES_PER_DAY, Minutes, WallMinute};
