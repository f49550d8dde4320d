//! From the search's columns back to the request's own pieces and strips.

use std::collections::BTreeMap;

use super::column::Answer;
use super::explain;
use super::layout::Layout;
use super::model::Part;
use super::outcome::{Bound, NetWood, Outcome, Statistics, Uncovered};
use super::request::{Request, Stock};
use super::search::Search;
use super::ties;
use crate::units::{Money, Volume};

/// The outcome of the answers of all parts, bounds aside.
pub(super) fn outcome(request: &Request, searches: &[Search<'_>]) -> Outcome {
    let pieces: Vec<Stock<'_>> = request.pieces().collect();
    let mut layouts: BTreeMap<(usize, Vec<super::layout::Part>), u32> = BTreeMap::new();
    let mut missing: Vec<u32> = request.strips.iter().map(|strip| strip.count).collect();
    let mut statistics = Statistics::default();
    let preference: Vec<u32> = pieces.iter().map(|piece| piece.preference).collect();
    for search in searches {
        name(
            search.part,
            &ties::settled(search.part, &search.answer, &preference),
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
    let mut bound = bound(request, searches.iter());
    let proven = searches.iter().all(Search::is_proven);
    bound.net_wood_mm3 = if proven {
        net_wood.mm3()
    } else {
        // Unproven is said plainly: below what counts as equal.
        let most = net_wood.mm3() * (1.0 - 3e-9) - 1e-3;
        bound.net_wood_mm3.min(most).max(0.0)
    };
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

/// The parts' bounds together. A later goal's bound counts where the earlier goals are proven best in every
/// part. Where they are not in one part alone, no other can give way to it, and what is proven of that one for
/// answers as good as its own counts; of the others no more is known than that they are not negative.
pub(super) fn bound<'a, 'b: 'a>(
    request: &Request,
    searches: impl Iterator<Item = &'a Search<'b>>,
) -> Bound {
    let (_, denominator) = request.shop.keep_credit.fraction();
    let mut known: Vec<&Search<'_>> = searches.collect();
    let covered = known
        .iter()
        .map(|search| search.part.wanted() - search.bound.missing)
        .sum();
    let is_covered = |search: &Search<'_>| search.bound.missing == search.worth.missing;
    let is_open =
        |search: &Search<'_>| !is_covered(search) || search.bound.spend != search.worth.spend;
    let uncovered = known.iter().filter(|search| !is_covered(search)).count();
    let open = known.iter().filter(|search| is_open(search)).count();
    let others = known.iter().filter(|search| !is_open(search));
    let is_free = others.map(|search| search.worth.spend).sum::<i64>() == 0;
    if uncovered > 0 {
        known.retain(|search| uncovered == 1 && !is_covered(search) && search.is_bounded());
    }
    let spend = known.iter().map(|search| search.bound.spend).sum();
    if open > 0 {
        // Where others pay for boards, less for them could mean more for this one.
        let is_alone = open == 1 && (uncovered == 0 || is_free);
        known.retain(|search| is_alone && is_open(search) && search.is_bounded());
    }
    let wood: f64 = known
        .into_iter()
        .map(|search| {
            search.bound.wood * (search.part.grid.volume as f64 / denominator as f64 / 1e18)
        })
        .sum();
    Bound {
        covered,
        spend: Money::from_cents(spend),
        net_wood_mm3: wood,
    }
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
