//! JSON requests and responses.

mod calculators;
mod design;
mod reading;
