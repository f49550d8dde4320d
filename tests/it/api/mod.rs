//! The JSON interface as scripts use it.

mod plans;
mod projects;
mod species;
