//! JSON requests and responses.

mod reading;
