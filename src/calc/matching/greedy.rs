//! A first answer: piece by piece, the one that gives most for its wood.

use super::column::{Answer, Column};
use super::model::Part;
use super::price::{Prices, Tables};
use super::shape::Shape;
use crate::calc::budget::Budget;

/// Adds to `answer` until nothing more fits or the budget is spent.
pub(super) fn complete(part: &Part, shapes: &[Shape], answer: &mut Answer, budget: &Budget<'_>) {
    let mut left = answer.left(part);
    let mut pieces_left = answer.pieces_left(part);
    while left.iter().any(|&count| count > 0) && !budget.is_spent() {
        let prices = Prices {
            rewards: rewards(part, &left),
            keep: 0.0,
            limits: Some(left.clone()),
        };
        let columns = best_columns(part, shapes, &prices, &pieces_left, budget);
        let mut offers: Vec<(f64, Column)> = columns
            .into_iter()
            .map(|column| (price_per_reward(part, &column, &prices.rewards), column))
            .collect();
        offers.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut was_used = false;
        let whole = left.clone();
        for (_, column) in offers {
            // The prices are those of the strips that were left; most stay good for a while.
            let Some(column) = column.limited(part, &left) else {
                continue;
            };
            if was_used
                && column
                    .takes
                    .iter()
                    .any(|take| left[usize::from(take.0)] * 2 < whole[usize::from(take.0)])
            {
                continue;
            }
            let most = column
                .takes
                .iter()
                .map(|&(class, count)| left[usize::from(class)] / count);
            let copies = most.min().unwrap_or(0).min(pieces_left[column.piece]);
            if copies == 0 {
                continue;
            }
            was_used = true;
            pieces_left[column.piece] -= copies;
            for &(class, count) in &column.takes {
                left[usize::from(class)] -= count * copies;
            }
            answer.uses.push((column, copies));
        }
        if !was_used {
            break;
        }
    }
}

/// Rewards in proportion to what a strip takes from a piece.
fn rewards(part: &Part, left: &[u32]) -> Vec<f64> {
    let habits = &part.habits;
    let strips = part.strips.iter().zip(left);
    strips
        .map(|(strip, &left)| {
            if left == 0 {
                return 0.0;
            }
            let rip = strip
                .sections
                .iter()
                .map(|section| section.0 + habits.rip_kerf);
            let across = rip.min().unwrap_or(0) / part.grid.across;
            let along = (strip.length + habits.crosscut_kerf) / part.grid.along;
            (along.max(1) as f64) * (across.max(1) as f64)
        })
        .collect()
}

fn price_per_reward(part: &Part, column: &Column, rewards: &[f64]) -> f64 {
    let reward: f64 = column
        .takes
        .iter()
        .map(|&(class, count)| rewards[usize::from(class)] * f64::from(count))
        .sum();
    // Money counts before wood.
    let price = part.pieces[column.piece].price as f64 * 1e9;
    (column.wood + price) / reward.max(1.0)
}

/// The best layout of each piece that is left.
fn best_columns(
    part: &Part,
    shapes: &[Shape],
    prices: &Prices,
    pieces_left: &[u32],
    budget: &Budget<'_>,
) -> Vec<Column> {
    let mut columns = Vec::new();
    for (group, shape) in shapes.iter().enumerate() {
        if budget.is_spent() {
            break;
        }
        let mut tables = Tables::new(part, group, shape, prices);
        for (index, piece) in part.pieces.iter().enumerate() {
            if budget.is_spent() {
                break;
            }
            if piece.group == group && pieces_left[index] > 0 && tables.value(piece) > 0.0 {
                let mut plans = tables.line_plans(piece, 0.0);
                if plans.is_empty() {
                    plans.push(tables.plan(piece));
                    plans.extend(tables.spanning_plan(piece));
                }
                let plans = plans.into_iter();
                columns.extend(plans.filter_map(|plan| Column::fitting(part, index, plan)));
            }
        }
    }
    columns
}
