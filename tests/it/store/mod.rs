//! What is stored, what the database refuses, and the use cases that change it.

mod bench;
mod notices;
mod photos;
mod pieces;
mod plans;
mod projects;
mod race;
mod rules;
mod together;
mod years;
