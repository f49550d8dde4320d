//! The phases of a solve.

use super::answer::outcome;
use super::column::Answer;
use super::greedy;
use super::model::{self, Part};
use super::outcome::{Outcome, Progress, Statistics};
use super::problem::Problem;
use super::shape::Shape;
use crate::calc::budget::Budget;

/// Finds the best answer that the budget allows, and the bound that no answer beats.
pub fn solve(
    problem: &Problem,
    budget: &Budget<'_>,
    _progress: &(dyn Fn(Progress) + Sync),
) -> Outcome {
    let request = problem.request();
    let parts = model::parts(request);
    let mut solved: Vec<(Part, Answer)> = Vec::new();
    for part in parts {
        let shapes: Vec<Shape> = (0..part.groups.len())
            .map(|group| Shape::new(&part, group))
            .collect();
        let mut answer = Answer::default();
        greedy::complete(&part, &shapes, &mut answer, budget);
        solved.push((part, answer));
    }
    outcome(request, &solved, Statistics::default())
}
