//! JSON requests and responses.

mod design;
mod reading;
