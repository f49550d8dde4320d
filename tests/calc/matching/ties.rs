//! What is chosen among equally good answers.

use scrapwright::calc::matching::{
    Direction, KeepCredit, Outcome, Piece, Request, Shop, Stretch, Strip, Visit, cut_order,
};
use scrapwright::units::Length;

use super::{dressed, solved, wanted};

/// Nothing left over is worth anything, so that many answers are equal.
fn without_credit() -> Shop {
    Shop {
        keep_credit: KeepCredit::from_billionths(0).expect("a share"),
        ..Shop::default()
    }
}

fn visits(request: &Request, outcome: &Outcome) -> Vec<Visit> {
    let pieces: Vec<_> = request.pieces().collect();
    let with_stock: Vec<_> = outcome
        .layouts
        .iter()
        .map(|layout| {
            let stock = pieces.iter().find(|piece| piece.id == layout.stock);
            (layout, *stock.expect("a piece of the request"))
        })
        .collect();
    cut_order(&with_stock, &request.shop)
}

fn settings(visits: &[Visit]) -> usize {
    visits.iter().map(|visit| visit.settings.len()).sum()
}

#[test]
fn a_long_piece_is_ripped_before_it_is_crosscut() {
    let request = Request {
        stock: vec![dressed("board", "40 in", "2 in")],
        strips: vec![wanted(2, "18 in", "1 1/4 in")],
        shop: without_credit(),
        ..Request::default()
    };
    let outcome = solved(&request);
    assert_eq!((outcome.covered, outcome.proven), (2, true));
    let visits = visits(&request, &outcome);
    let directions: Vec<Direction> = visits.iter().map(|visit| visit.direction).collect();
    assert_eq!(directions, [Direction::Rip, Direction::Crosscut]);
    assert_eq!(settings(&visits), 2);
    // One rip of the whole length, not two of half of it.
    let rips = &visits[0].settings[0].cuts;
    assert_eq!((rips.len(), rips[0].parts), (1, 1));
    assert_eq!(rips[0].held, Length::from_inches(40, 1));
}

#[test]
fn one_stop_and_one_fence_serve_two_pieces() {
    // Each board by itself may be crosscut before or behind the rip saw; one stop serves both where both are cut alike.
    let shop = Shop {
        keep_length: Length::from_inches(20, 1),
        ..Shop::default()
    };
    let mut second = dressed("second", "37 in", "1 3/8 in");
    second.species = "black walnut".to_owned();
    let walnut = Strip {
        id: "walnut".to_owned(),
        species: vec!["black walnut".to_owned()],
        ..wanted(2, "18 in", "1 1/4 in")
    };
    let request = Request {
        stock: vec![dressed("first", "40 in", "3 in"), second],
        strips: vec![wanted(1, "18 in", "1 1/4 in"), walnut],
        shop,
        ..Request::default()
    };
    let outcome = solved(&request);
    assert_eq!((outcome.covered, outcome.proven), (3, true));
    let visits = visits(&request, &outcome);
    assert_eq!(settings(&visits), 2, "{visits:#?}");
}

fn aged(id: &str, preference: u32) -> Piece {
    Piece {
        preference,
        ..dressed(id, "20 in", "2 in")
    }
}

fn cut_pieces(stock: Vec<Piece>) -> Vec<String> {
    let request = Request {
        stock,
        strips: vec![wanted(1, "18 in", "1 1/4 in")],
        ..Request::default()
    };
    let outcome = solved(&request);
    assert!(outcome.proven);
    let layouts = outcome.layouts.into_iter();
    layouts.map(|layout| layout.stock).collect()
}

#[test]
fn of_equal_pieces_the_preferred_one_is_cut() {
    assert_eq!(
        cut_pieces(vec![aged("A", 5), aged("B", 3), aged("C", 4)]),
        ["B"]
    );
    assert_eq!(cut_pieces(vec![aged("A", 1), aged("B", 3)]), ["A"]);
}

#[test]
fn a_piece_of_another_kind_is_preferred_where_it_gives_the_same() {
    // A crack in the last inch is in the way of nothing: what is left there is too short to be kept.
    let cracked = |preference| Piece {
        unusable: vec![Stretch {
            from: Length::from_inches(19, 1),
            to: Length::from_inches(20, 1),
        }],
        ..aged("cracked", preference)
    };
    let narrow = |piece: Piece| Piece {
        width: Length::from_inches(3, 2),
        ..piece
    };
    let pair = |old, new| vec![narrow(aged("whole", new)), narrow(cracked(old))];
    assert_eq!(cut_pieces(pair(3, 5)), ["cracked"]);
    assert_eq!(cut_pieces(pair(5, 3)), ["whole"]);
}
