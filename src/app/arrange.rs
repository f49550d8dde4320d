//! Arrangements of a board that the bins can give right now, each tried with a match.
//!
//! Proposed are orders of equal strips in several forms, and boards of free widths whose strips are as wide as
//! the scraps happen to be. Nothing is stored: a member takes one by saving it as the project's design.

use std::cmp::Reverse;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use super::basis::Basis;
use super::matching::{MatchError, THREADS, piece_of};
use super::{App, project as projects};
use crate::calc::budget::Budget;
use crate::calc::matching::{self, Outcome, Piece, Problem, Request};
use crate::calc::pattern::{
    Arrangement, Available, Form, Look, Scrap, Wanted, free_widths, look, propose,
    scraps_laid_flat, scraps_on_edge, strips_in_stock,
};
use crate::calc::work::{Design, StripedBoard, Surface};
use crate::store::offcut;
use crate::store::{ProjectId, project};
use crate::units::{FoodGrade, Length, Volume};

/// Orders of equal strips that are tried.
const MOST_FORMS: usize = 6;
/// At most so many strips of one kind of scrap in a board of free widths: the fewer, the more woods and widths it shows.
const MOST_OF_A_SCRAP: [usize; 3] = [usize::MAX, 3, 2];
/// A board of free widths may be so much narrower than wanted.
const FREE_TOLERANCE: Length = Length::from_inches(1, 2);
/// Narrower scraps make too many glue lines, wider ones no stripes. Common practice.
const FREE_WIDTHS: (Length, Length) = (Length::from_inches(3, 8), Length::from_inches(5, 2));

/// How the strips of an offer are ordered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    Form(Form),
    FreeWidths,
}

/// One arrangement and what it takes from the bins.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    pub order: Order,
    /// The project's design with this arrangement.
    pub design: Design,
    pub arrangement: Arrangement,
    pub look: Look,
    pub wanted: u32,
    /// Strips that the bins give, of those wanted.
    pub covered: u32,
    /// Pieces that are cut.
    pub touched: u32,
    /// Of the cut pieces, what becomes neither strip nor remainder.
    pub waste: Volume,
    /// Nothing better was possible for this arrangement.
    pub proven: bool,
}

/// Arrangements for a project's board, those that the bins cover wholly first, then the better looking. None
/// for kinds without an arrangement. `time` is for all matches together.
pub async fn offers(
    app: &App,
    id: ProjectId,
    seed: u64,
    time: Duration,
) -> Result<Vec<Offer>, MatchError> {
    let mut db = app.store.read().acquire().await?;
    let project = project::find(&mut *db, id)
        .await?
        .ok_or(MatchError::Unknown)?;
    if project.ended_at.is_some() {
        return Err(MatchError::Ended);
    }
    let design = projects::design(&project)?;
    let basis = Basis::load(&mut db, &project.about.practice).await?;
    // A board is cut on: only woods that are fit for that are proposed.
    let species: Vec<String> = basis
        .woods
        .list()
        .iter()
        .filter(|wood| wood.food == FoodGrade::Cutting)
        .map(|wood| wood.name.clone())
        .collect();
    let free = offcut::list_free(&mut *db, &species).await?;
    drop(db);
    let stock: Vec<Piece> = free
        .iter()
        .map(|offcut| piece_of(offcut, offcut.free()))
        .collect();
    let tried = candidates(&design, &basis, &stock, seed);
    let share = time.min(app.slots.longest()) / u32::try_from(tried.len().max(1)).unwrap_or(1);
    let offers = app
        .slots
        .run(move |stop| {
            let mut offers: Vec<Offer> = Vec::new();
            for (order, arrangement) in tried {
                if stop.load(Ordering::Relaxed) {
                    break;
                }
                let started = Instant::now();
                let budget = Budget::until(share, move || started.elapsed())
                    .with_stop(stop)
                    .with_threads(THREADS);
                offers.extend(offer(&design, &basis, &stock, order, arrangement, &budget));
            }
            offers
        })
        .await?;
    let mut offers = offers;
    offers.sort_by(|left, right| {
        let missing = |offer: &Offer| offer.wanted - offer.covered;
        missing(left)
            .cmp(&missing(right))
            .then(right.look.score.total_cmp(&left.look.score))
            .then(left.touched.cmp(&right.touched))
    });
    Ok(offers)
}

fn lightness(basis: &Basis, species: &str) -> f64 {
    let wood = basis.woods.find(species);
    wood.map_or(0.5, |wood| wood.lightness() / 100.0)
}

/// The strip width that most strips of a board have.
fn usual_width(board: &Arrangement) -> Option<Length> {
    let count = |width: Length| {
        board
            .strips
            .iter()
            .filter(|strip| strip.width == width)
            .count()
    };
    let widths = board.strips.iter().map(|strip| strip.width);
    widths.max_by_key(|&width| (count(width), Reverse(width)))
}

fn candidates(
    design: &Design,
    basis: &Basis,
    stock: &[Piece],
    seed: u64,
) -> Vec<(Order, Arrangement)> {
    let mut tried = Vec::new();
    let Some(board) = design.arrangement() else {
        return tried;
    };
    // What one strip of the usual width asks follows from the design as it stands.
    let (Some(width), Ok(needs)) = (usual_width(board), basis.needs(design)) else {
        return tried;
    };
    let place = needs.places.iter().find(|place| place.width == width);
    let Some(strip) = place.and_then(|place| needs.strips.get(place.need)) else {
        return tried;
    };
    let counts = strips_in_stock(stock, &strip.sections, strip.length, &basis.shop);
    let have: Vec<Available> = counts
        .into_iter()
        .map(|(species, count)| Available {
            lightness: lightness(basis, &species),
            species,
            count,
        })
        .collect();
    let n_strips = match design {
        Design::StripedBoard(board) => {
            let counts = StripedBoard::strip_counts(board.width, width, &basis.practice);
            counts
                .first()
                .map_or(board.arrangement.strips.len(), |(strips, _)| *strips)
        }
        _ => board.strips.len(),
    };
    let wanted = Wanted {
        strips: n_strips,
        strip_width: width,
        seed,
        most: MOST_FORMS,
    };
    for proposal in propose(&have, wanted) {
        tried.push((Order::Form(proposal.form), proposal.arrangement));
    }
    if let Design::StripedBoard(board) = design {
        let width = board.width + basis.practice.allowances.squaring * 2;
        for most in MOST_OF_A_SCRAP {
            let mut scraps = scraps(board, basis, stock, strip.length);
            for scrap in &mut scraps {
                scrap.count = scrap.count.min(most);
            }
            let found = free_widths(&scraps, width, FREE_TOLERANCE, seed);
            tried.extend(found.map(|board| (Order::FreeWidths, board)));
        }
    }
    let mut seen: Vec<Arrangement> = Vec::new();
    tried.retain(|(_, arrangement)| {
        let is_new = !seen.contains(arrangement);
        if is_new {
            seen.push(arrangement.clone());
        }
        is_new
    });
    tried
}

/// What the bins could give without ripping a strip to a width.
fn scraps(board: &StripedBoard, basis: &Basis, stock: &[Piece], length: Length) -> Vec<Scrap> {
    let allowances = &basis.practice.allowances;
    let thickness = board.thickness + allowances.flattening * 2;
    let glue_face = allowances.glue_face;
    let mut scraps = Vec::new();
    if board.surface != Surface::FaceGrain {
        scraps.extend(scraps_on_edge(
            stock,
            thickness,
            glue_face,
            length,
            &basis.shop,
        ));
    }
    if board.surface == Surface::FaceGrain {
        scraps.extend(scraps_laid_flat(
            stock,
            thickness,
            glue_face,
            length,
            &basis.shop,
        ));
    }
    scraps.retain(|scrap| scrap.width >= FREE_WIDTHS.0 && scrap.width <= FREE_WIDTHS.1);
    scraps
}

/// The arrangement matched to the bins; `None` where the board cannot be made so.
fn offer(
    design: &Design,
    basis: &Basis,
    stock: &[Piece],
    order: Order,
    arrangement: Arrangement,
    budget: &Budget<'_>,
) -> Option<Offer> {
    let design = design.with_arrangement(arrangement.clone())?;
    let needs = basis.needs(&design).ok()?;
    let wanted = needs.strips.iter().map(|strip| strip.count).sum();
    let request = Request {
        stock: stock.to_vec(),
        buy: Vec::new(),
        strips: needs.strips.clone(),
        shop: basis.shop,
    };
    let problem = Problem::new(request).ok()?;
    let outcome = matching::solve(&problem, budget, &|_| {});
    if let Err(violations) = matching::check(problem.request(), &outcome) {
        tracing::error!(?violations, "a match did not pass its own check");
        return None;
    }
    let waste = waste(&outcome, problem.request());
    let look = look(&arrangement, |species| lightness(basis, species));
    Some(Offer {
        order,
        design,
        arrangement,
        look,
        wanted,
        covered: outcome.covered,
        touched: outcome.touched,
        waste,
        proven: outcome.proven,
    })
}

/// Of the cut pieces, at their full thickness, what becomes neither strip nor remainder.
fn waste(outcome: &Outcome, request: &Request) -> Volume {
    let mut strips = Volume::ZERO;
    for layout in &outcome.layouts {
        let Some(piece) = request.pieces().find(|piece| piece.id == layout.stock) else {
            continue;
        };
        for (id, count) in layout.strips() {
            let Some(strip) = request.strips.iter().find(|strip| strip.id == id) else {
                continue;
            };
            // The narrowest section that this piece is thick enough for: waste is not made smaller than it is.
            let rip = strip
                .sections
                .iter()
                .filter(|section| section.thickness <= piece.thickness)
                .map(|section| section.rip)
                .min()
                .unwrap_or(Length::ZERO);
            let number = i64::from(count) * i64::from(layout.copies);
            strips = strips + Volume::of(strip.length, rip, piece.thickness) * number;
        }
    }
    outcome.net_wood.cut - outcome.net_wood.kept - strips
}
