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
//! - [`app`]: use cases: store calls and calculations together.
//! - [`web`]: pages and the JSON interface.
//! - [`commands`]: what the command line does; its arguments are in [`cli`] and [`config`].

pub mod app;
pub mod calc;
pub mod cli;
pub mod commands;
pub mod config;
pub mod export;
pub mod reference;
pub mod store;
pub mod units;
pub mod web;
pub mod wire;
