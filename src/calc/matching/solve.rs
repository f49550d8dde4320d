//! The phases of a solve.

use super::answer::{bound, outcome};
use super::model::{self, Part};
use super::outcome::{Outcome, Progress};
use super::problem::Problem;
use super::request::Request;
use super::search::Search;
use super::shape::bounded;
use crate::calc::budget::Budget;

/// Finds the best answer that the budget allows, and the bound that no answer beats.
///
/// A step of the budget is a round of column generation or a neighbourhood.
pub fn solve(
    problem: &Problem,
    budget: &Budget<'_>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Outcome {
    let request = problem.request();
    let mut parts = model::parts(request);
    let shapes: Vec<_> = parts.iter_mut().map(bounded).collect();
    let mut searches: Vec<Search<'_>> = parts
        .iter()
        .zip(shapes)
        .map(|(part, shapes)| Search::new(part, shapes, budget))
        .collect();
    progress(Progress::of_parts(request, searches.iter()));
    // A part that has had its share may have more once the others are proven.
    while searches.iter().any(|search| !search.is_proven()) && !budget.is_spent() {
        let before = work(&searches);
        pass(request, &parts, &mut searches, budget, progress);
        if work(&searches) == before {
            break;
        }
    }
    outcome(request, &searches)
}

/// How much has been done so far.
fn work(searches: &[Search<'_>]) -> u64 {
    let of = |search: &Search<'_>| search.statistics.rounds + search.statistics.neighbourhoods;
    searches.iter().map(of).sum()
}

/// Searches every part that is not proven, with a share of what is left of the budget for each.
fn pass(
    request: &Request,
    parts: &[Part],
    searches: &mut [Search<'_>],
    budget: &Budget<'_>,
    progress: &(dyn Fn(Progress) + Sync),
) {
    // Small parts first: they are proven soon and leave their time to the others.
    let mut order: Vec<usize> = (0..searches.len())
        .filter(|&place| !searches[place].is_proven())
        .collect();
    let size = |place: usize| (parts[place].wanted() as usize * parts[place].pieces.len()) as f64;
    order.sort_by(|&a, &b| size(a).total_cmp(&size(b)));
    let mut weight_left: f64 = order.iter().map(|&place| size(place)).sum();
    for place in order {
        let weight = size(place);
        let spent = budget.spent_share().min(1.0);
        searches[place].share = spent + (1.0 - spent) * weight / weight_left;
        weight_left -= weight;
        if weight_left < 0.5 {
            searches[place].share = f64::INFINITY;
        }
        let (before, rest) = searches.split_at_mut(place);
        let Some((search, after)) = rest.split_first_mut() else {
            continue;
        };
        let others: Vec<&Search<'_>> = before.iter().chain(after.iter()).collect();
        search.run(budget, &mut |search: &Search<'_>| {
            let all = others.iter().copied().chain([search]);
            progress(Progress::of_parts(request, all));
        });
    }
}

impl Progress {
    fn of_parts<'a, 'b: 'a>(
        request: &Request,
        parts: impl Iterator<Item = &'a Search<'b>> + Clone,
    ) -> Progress {
        let (_, denominator) = request.shop.keep_credit.fraction();
        let mut progress = Progress {
            covered: 0,
            spend: crate::units::Money::ZERO,
            net_wood_mm3: 0.0,
            bound: bound(request, parts.clone()),
        };
        for search in parts {
            let grid = &search.part.grid;
            progress.covered += search.part.wanted() - search.worth.missing;
            progress.spend += crate::units::Money::from_cents(search.worth.spend);
            progress.net_wood_mm3 +=
                search.worth.wood * (grid.volume as f64 / denominator as f64 / 1e18);
        }
        progress
    }
}
