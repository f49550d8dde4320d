//! From the search's columns back to the request's own pieces and strips.

use std::collections::BTreeMap;

use super::column::Answer;
use super::explain;
use super::layout::Layout;
use super::model::Part;
use super::outcome::{Bound, NetWood, Outcome, Statistics, Uncovered};
use super::request::{Request, Stock};
use super::search::Search;
use crate::units::{Money, Volume};

/// The outcome of the answers of all parts, bounds aside.
pub(super) fn outcome(request: &Request, searches: &[Search<'_>]) -> Outcome {
    let pieces: Vec<Stock<'_>> = request.pieces().collect();
    let mut layouts: BTreeMap<(usize, Vec<super::layout::Part>), u32> = BTreeMap::new();
    let mut missing: Vec<u32> = request.strips.iter().map(|strip| strip.count).collect();
    let mut statistics = Statistics::default();
    for search in searches {
        name(
            search.part,
            &search.answer,
            request,
            &mut layouts,
            &mut missing,
        );
        statistics.rounds += search.statistics.rounds;
        statistics.columns += search.statistics.columns;
        statistics.nodes += search.statistics.nodes;
        statistics.neighbourhoods += search.statistics.neighbourhoods;
    }
    let mut spend = Money::ZERO;
    let (mut cut, mut kept) = (Volume::ZERO, Volume::ZERO);
    let mut touched = 0;
    let layouts: Vec<Layout> = layouts
        .into_iter()
        .map(|((place, parts), copies)| {
            let stock = &pieces[place];
            let layout = Layout {
                stock: stock.id.to_owned(),
                copies,
                parts,
            };
            let times = i64::from(copies);
            spend += stock.price * times;
            cut = cut + stock.volume() * times;
            for rectangle in layout.rectangles(stock, &request.shop) {
                if rectangle.used_as == super::layout::Use::Keep {
                    let volume = Volume::of(rectangle.length, rectangle.width, stock.thickness);
                    kept = kept + volume * times;
                }
            }
            touched += copies;
            layout
        })
        .collect();
    let wanted: u32 = request.strips.iter().map(|strip| strip.count).sum();
    let covered = wanted - missing.iter().sum::<u32>();
    let reasons = explain::Reasons::new(request, &layouts);
    let uncovered = request
        .strips
        .iter()
        .zip(&missing)
        .filter(|(_, missing)| **missing > 0)
        .map(|(strip, missing)| Uncovered {
            id: strip.id.clone(),
            count: *missing,
            why: reasons.why(strip),
        })
        .collect();
    let net_wood = NetWood {
        cut,
        kept,
        credit: request.shop.keep_credit,
    };
    let (bound, proven) = bound(searches, spend, &net_wood);
    Outcome {
        layouts,
        covered,
        uncovered,
        spend,
        net_wood,
        touched,
        bound,
        proven,
        statistics,
    }
}

/// The parts' bounds together. A later goal's bound counts only where the earlier goals are
/// proven best in every part; elsewhere nothing is known but that it is not negative.
fn bound(searches: &[Search<'_>], spend: Money, net_wood: &NetWood) -> (Bound, bool) {
    let mut bound = Bound {
        covered: 0,
        spend: Money::ZERO,
        net_wood_mm3: 0.0,
    };
    let (_, denominator) = net_wood.credit.fraction();
    let (mut wood, mut is_covered, mut is_cheapest) = (0.0, true, true);
    for search in searches {
        bound.covered += search.part.wanted() - search.bound.missing;
        bound.spend += Money::from_cents(search.bound.spend);
        wood += search.bound.wood * (search.part.grid.volume as f64 / denominator as f64 / 1e18);
        is_covered &= search.bound.missing == search.worth.missing;
        is_cheapest &= search.bound.spend == search.worth.spend;
    }
    if !is_covered {
        bound.spend = Money::ZERO;
    }
    if !is_covered || (bound.spend < spend || !is_cheapest) {
        wood = 0.0;
    }
    let proven = searches.iter().all(Search::is_proven);
    bound.net_wood_mm3 = if proven {
        net_wood.mm3()
    } else {
        // Unproven is said plainly: below what counts as equal.
        wood.min(net_wood.mm3() * (1.0 - 3e-9) - 1e-3).max(0.0)
    };
    (bound, proven)
}

/// Gives out the pieces of each class in order of preference, and the strips of each class in the
/// order of the request.
fn name(
    part: &Part,
    answer: &Answer,
    request: &Request,
    layouts: &mut BTreeMap<(usize, Vec<super::layout::Part>), u32>,
    missing: &mut [u32],
) {
    let mut pieces_left: Vec<Vec<(usize, u32)>> = part
        .pieces
        .iter()
        .map(|piece| piece.members.clone())
        .collect();
    let mut strips_left: Vec<Vec<(usize, u32)>> = part
        .strips
        .iter()
        .map(|strip| strip.members.clone())
        .collect();
    let mut uses: Vec<_> = answer.uses.iter().collect();
    uses.sort_by(|a, b| (a.0.piece, &a.0.plan).cmp(&(b.0.piece, &b.0.plan)));
    for (column, count) in uses {
        for _ in 0..*count {
            let place = take(&mut pieces_left[column.piece]);
            let piece = &part.pieces[column.piece];
            let mut name = |class: u16| {
                let strip = take(&mut strips_left[usize::from(class)]);
                missing[strip] -= 1;
                request.strips[strip].id.clone()
            };
            let parts = column.plan.layout(part, piece, &mut name);
            let parts = parts.expect("a plan that has become a column fits its piece");
            *layouts.entry((place, parts)).or_default() += 1;
        }
    }
}

fn take(members: &mut Vec<(usize, u32)>) -> usize {
    let first = members.first_mut().expect("no more is used than there is");
    first.1 -= 1;
    let place = first.0;
    if first.1 == 0 {
        members.remove(0);
    }
    place
}
