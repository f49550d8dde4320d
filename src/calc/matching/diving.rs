//! Rounding with new columns: settle part of the relaxation's solution, price the rest anew.

use super::column::{Answer, Column};
use super::goal::Goal;
use super::master::Master;
use super::model::Part;
use super::shape::Shape;
use crate::calc::budget::Budget;

/// Weight from which a column is settled beside the heaviest one.
const HEAVY: f64 = 0.7;
/// Rounds of pricing after each settling.
const ROUNDS: u64 = 40;

/// An answer from `columns` and from what pricing adds to them; strips may be missing. `turn`
/// numbers the attempts: the first settles the heaviest columns, later ones vary the choice.
pub(super) fn dive(
    part: &Part,
    shapes: &[Shape],
    goal: Goal,
    columns: &[Column],
    turn: u64,
    budget: &Budget<'_>,
    share: f64,
) -> Answer {
    let mut rest = part.clone();
    let mut answer = Answer::default();
    let mut columns: Vec<Column> = columns.to_vec();
    let mut random = turn.wrapping_mul(0x2545_f491_4f6c_dd1d);
    while rest.wanted() > 0 && !budget.is_spent() && budget.spent_share() < share {
        let left: Vec<u32> = rest.strips.iter().map(|strip| strip.count).collect();
        let mut master = Master::new(&rest, shapes.to_vec(), goal);
        master.is_proper = true;
        for column in columns.drain(..) {
            if column.fits(&left) && rest.pieces[column.piece].count > 0 {
                master.add(column);
            } else if let Some(column) = column.limited(&rest, &left) {
                master.add(column);
            }
        }
        master.most_rounds = ROUNDS;
        master.generate(f64::INFINITY, budget, share);
        let weights = master.weights();
        let mut order: Vec<(f64, usize)> = weights
            .iter()
            .enumerate()
            .filter(|(_, weight)| **weight > 1e-6)
            .map(|(place, weight)| (weight - (weight + 1e-6).floor(), place))
            .collect();
        order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        if turn > 0 && order.len() > 1 {
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            let place = (random >> 20) as usize % order.len().min(1 + turn as usize % 4);
            order.swap(0, place);
        }
        let mut chosen: Vec<(Column, u32)> = Vec::new();
        for (rank, &(over, place)) in order.iter().enumerate() {
            let whole = (weights[place] + 1e-6).floor() as u32;
            let count =
                whole + u32::from(over > 1e-6 && (over > HEAVY || (rank == 0 && whole == 0)));
            if count > 0 {
                chosen.push((master.columns[place].clone(), count));
            }
        }
        if chosen.is_empty()
            && let Some(&(_, place)) = order.first()
        {
            chosen.push((master.columns[place].clone(), 1));
        }
        columns.clone_from(&master.columns);
        drop(master);
        let mut settled: Vec<(Column, u32)> = Vec::new();
        for (column, count) in chosen {
            for _ in 0..count {
                let is_there = rest.pieces[column.piece].count > 0;
                if !is_there || !fits(&rest, &column) {
                    break;
                }
                rest.pieces[column.piece].count -= 1;
                for &(class, taken) in &column.takes {
                    rest.strips[usize::from(class)].count -= u32::from(taken);
                }
                settled.push((column.clone(), 1));
            }
        }
        if settled.is_empty() {
            break;
        }
        answer = answer.with(settled);
    }
    answer
}

fn fits(rest: &Part, column: &Column) -> bool {
    column
        .takes
        .iter()
        .all(|&(class, count)| u32::from(count) <= rest.strips[usize::from(class)].count)
}
