//! The JSON interface as scripts use it.

mod advice;
mod at_the_bin;
mod choices;
mod kinds;
mod me;
mod plans;
mod projects;
mod records;
mod species;
mod workshop;
