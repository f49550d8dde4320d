//! Scrapwright turns shared hardwood offcuts into finished kitchen gifts by a date.
//!
//! Read the modules in this order:
//!
//! - [`units`]: plain values with their units.
//! - [`reference`]: tables of woods, glues, finishes, sizes and cautions, each figure with its source.
//! - [`calc`]: every calculation, pure.
//! - [`wire`]: the JSON faces of the calculations.
//! - [`export`]: values to bytes: drawings, printed sheets, tables, calendars.
//! - [`store`]: all SQL.

pub mod calc;
pub mod export;
pub mod reference;
pub mod store;
pub mod units;
pub mod wire;
