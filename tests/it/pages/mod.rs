//! Pages by what they mean: status, headings, labels, and what is said where something is wrong.

mod arrangements;
mod bins;
mod calculators;
mod calendars;
mod exchange;
mod ledger;
mod notices;
pub mod plans;
pub mod project_wood;
mod projects;
mod reference;
mod reference_tables;
mod workshop;
