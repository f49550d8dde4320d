//! The JSON faces of the calculations: requests read with every flaw at once, responses, and
//! problem documents. No SQL, no HTTP, no templates.

pub mod advice;
pub mod calculators;
pub mod design;
pub mod kept_match;
pub mod length;
pub mod matching;
pub mod problem;
pub mod quick_entry;
pub mod reading;
pub mod schedule;

pub use problem::{FieldError, Problem};
pub use reading::{Node, Object, read};
