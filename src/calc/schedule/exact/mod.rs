//! Exact search by lazy clause generation: a constraint engine that explains each bound it raises
//! and learns a clause from each conflict.
//!
//! Read `trail` first (bounds, facts, reasons), then `cumulative`, `tardiness` and `moved` (the rules
//! that raise bounds), `clauses` (what was learnt), `engine` (the search) and `model` (a problem put
//! into these terms).

mod activity;
mod clauses;
mod cumulative;
mod domain;
mod engine;
mod model;
mod moved;
mod tardiness;
mod trail;

pub(super) use engine::{Choice, Ended};
pub(super) use model::Model;
pub(super) use trail::Fact;
