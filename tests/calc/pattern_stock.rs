//! What the bins could give, against the matching engine, which shares no code with the count.

use proptest::prelude::*;
use scrapwright::calc::budget::Budget;
use scrapwright::calc::matching::{Piece, Problem, Request, Section, Shop, Stretch, Strip, solve};
use scrapwright::calc::pattern::{Scrap, scraps_laid_flat, scraps_on_edge, strips_in_stock};
use scrapwright::units::Length;

fn inches(numerator: i64, denominator: i64) -> Length {
    Length::from_inches(numerator, denominator)
}

fn piece(length: Length, width: Length, thickness: Length) -> Piece {
    Piece {
        id: "piece".to_owned(),
        species: "hard maple".to_owned(),
        length,
        width,
        thickness,
        count: 1,
        unusable: Vec::new(),
        square_ends: false,
        straight_edges: false,
        preference: 0,
    }
}

const ON_EDGE: Section = Section {
    rip: Length::from_inches(13, 8),
    thickness: Length::from_inches(3, 4),
};

fn count(piece: &Piece, sections: &[Section], length: Length) -> usize {
    let found = strips_in_stock(
        std::slice::from_ref(piece),
        sections,
        length,
        &Shop::default(),
    );
    found.get("hard maple").copied().unwrap_or(0)
}

/// By hand: 36 x 5 1/2 in less 1/4 in at both ends and 1/16 in at one edge: 35 1/2 x 5 7/16 in. Across, 3 x 1 5/8 and 2
/// kerfs of 1/8 are 5 1/8 in; along, 2 x 17 1/2 and a kerf are 35 1/8 in.
#[test]
fn a_piece_gives_rows_and_columns_less_kerfs_and_trims() {
    let board = piece(inches(36, 1), inches(11, 2), inches(7, 8));
    assert_eq!(count(&board, &[ON_EDGE], inches(35, 2)), 6);
    let thin = Piece {
        thickness: inches(5, 8),
        ..board.clone()
    };
    assert_eq!(count(&thin, &[ON_EDGE], inches(35, 2)), 0);
    let knotty = Piece {
        unusable: vec![Stretch {
            from: inches(17, 1),
            to: inches(18, 1),
        }],
        ..board
    };
    // From the knot to the trimmed end 17 3/4 in are left, less a kerf; on the other side 16 3/4 in.
    assert_eq!(count(&knotty, &[ON_EDGE], inches(35, 2)), 3);
    assert_eq!(count(&knotty, &[ON_EDGE], inches(16, 1)), 6);
}

/// A 1x2 is dressed to 3/4 x 1 1/2 in (American Softwood Lumber Standard PS 20).
#[test]
fn a_dressed_piece_goes_in_without_a_rip() {
    let dressed = Piece {
        straight_edges: true,
        square_ends: true,
        ..piece(inches(9, 1), inches(3, 2), inches(3, 4))
    };
    let section = Section {
        rip: inches(3, 2),
        thickness: inches(3, 4),
    };
    assert_eq!(
        count(&dressed, &[section], inches(9, 1)),
        1,
        "too short to rip, but it need not be"
    );
    let narrower = Section {
        rip: inches(1, 1),
        ..section
    };
    assert_eq!(
        count(&dressed, &[narrower], inches(9, 1)),
        0,
        "too short for the rip saw"
    );
    assert_eq!(count(&dressed, &[narrower, section], inches(9, 1)), 1);
}

#[test]
fn scraps_are_as_wide_as_they_are_thick_on_edge_and_as_wide_as_they_are_laid_flat() {
    let board = Piece {
        count: 2,
        ..piece(inches(18, 1), inches(7, 2), inches(7, 8))
    };
    let stock = [board];
    let shop = Shop::default();
    let scrap = |width, count| Scrap {
        species: "hard maple".to_owned(),
        width,
        count,
    };
    let on_edge = scraps_on_edge(&stock, inches(13, 8), Length::ZERO, inches(17, 1), &shop);
    assert_eq!(on_edge, [scrap(inches(7, 8), 4)]);
    let flat = scraps_laid_flat(&stock, inches(3, 4), inches(1, 64), inches(17, 1), &shop);
    assert_eq!(
        flat,
        [scrap(inches(7, 2) - inches(1, 16) - inches(1, 32), 2)]
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn the_match_finds_at_least_what_is_counted(
        sizes in (150..900_i64, 20..200_i64, 15..40_i64),
        strip in (100..450_i64, 10..60_i64, 10..30_i64),
        bad in proptest::option::of((0..600_i64, 5..80_i64)),
        trims in (any::<bool>(), any::<bool>()),
    ) {
        let mm = Length::from_mm;
        let board = Piece {
            unusable: bad
                .map(|(from, long)| Stretch { from: mm(from.min(sizes.0 - 1)), to: mm((from + long).min(sizes.0)) })
                .into_iter()
                .filter(|stretch| stretch.from < stretch.to)
                .collect(),
            square_ends: trims.0,
            straight_edges: trims.1,
            ..piece(mm(sizes.0), mm(sizes.1), mm(sizes.2))
        };
        let section = Section { rip: mm(strip.1), thickness: mm(strip.2) };
        let counted = count(&board, &[section], mm(strip.0));
        prop_assume!(counted > 0);
        let request = Request {
            stock: vec![board],
            buy: Vec::new(),
            strips: vec![Strip {
                id: "strip".to_owned(),
                species: vec!["hard maple".to_owned()],
                count: counted as u32,
                length: mm(strip.0),
                sections: vec![section],
            }],
            shop: Shop::default(),
        };
        let problem = Problem::new(request).expect("no flaws");
        let outcome = solve(&problem, &Budget::of_steps(100_000), &|_| {});
        prop_assert!(outcome.bound.covered as usize >= counted);
        if outcome.proven {
            prop_assert_eq!(outcome.covered as usize, counted);
        }
    }
}
