//! The phases of a solve.

use super::outcome::{Outcome, Progress};
use super::problem::Problem;
use crate::calc::budget::Budget;

/// Finds the best schedule that the budget allows, and the bound that no schedule beats.
pub fn solve(
    _problem: &Problem,
    _budget: &Budget<'_>,
    _progress: &(dyn Fn(Progress) + Sync),
) -> Outcome {
    Outcome::NotFoundInTime
}
