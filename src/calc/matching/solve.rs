//! The phases of a solve.

use super::outcome::{Bound, NetWood, Outcome, Progress, Statistics, Uncovered};
use super::problem::Problem;
use crate::calc::budget::Budget;
use crate::units::{Money, Volume};

/// Finds the best answer that the budget allows, and the bound that no answer beats.
pub fn solve(
    problem: &Problem,
    _budget: &Budget<'_>,
    _progress: &(dyn Fn(Progress) + Sync),
) -> Outcome {
    let request = problem.request();
    let uncovered = request.strips.iter().map(|strip| Uncovered {
        id: strip.id.clone(),
        count: strip.count,
        why: "not tried yet".to_owned(),
    });
    Outcome {
        layouts: Vec::new(),
        covered: 0,
        uncovered: uncovered.collect(),
        spend: Money::ZERO,
        net_wood: NetWood {
            cut: Volume::ZERO,
            kept: Volume::ZERO,
            credit: request.shop.keep_credit,
        },
        touched: 0,
        bound: Bound {
            covered: request.strips.iter().map(|strip| strip.count).sum(),
            spend: Money::ZERO,
            net_wood_mm3: 0.0,
        },
        proven: false,
        statistics: Statistics::default(),
    }
}
