//! The program through its public faces: pages and calls in memory, the command line, and the tidiness of the source.
//!
//! A file for each concern; [`app::TestApp`] is the set-up that all share.

mod api;
mod app;
mod audit;
mod cli;
mod errors;
mod export;
mod headers;
mod limits;
mod pages;
mod roles;
mod sign_in;
mod store;
mod tidy;
mod twins;
mod upgrade;
mod upkeep;
mod wire;
