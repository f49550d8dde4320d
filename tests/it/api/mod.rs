//! The JSON interface as scripts use it.

mod projects;
mod species;
