//! Exact search by lazy clause generation.

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
