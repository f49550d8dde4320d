//! One-dimensional cutting stock problems with published optima, given as matching problems.

use std::time::{Duration, Instant};

use scrapwright::calc::budget::Budget;
use scrapwright::calc::matching::{
    Board, KeepCredit, Outcome, Problem, Request, Section, Shop, Strip, check, solve,
};
use scrapwright::units::{Length, Money};
use scrapwright::wire;

fn line(capacity: i64, items: &[(i64, u32)]) -> Request {
    let width = Length::from_mm(20);
    let species = "beech".to_owned();
    let strips = items.iter().map(|&(length, count)| Strip {
        id: format!("{length}"),
        species: vec![species.clone()],
        count,
        length: Length::from_mm(length),
        sections: vec![Section {
            rip: width,
            thickness: width,
        }],
    });
    Request {
        stock: Vec::new(),
        buy: vec![Board {
            id: "bar".to_owned(),
            species: species.clone(),
            length: Length::from_mm(capacity),
            width,
            thickness: width,
            unusable: Vec::new(),
            square_ends: true,
            straight_edges: true,
            price: Money::from_cents(100),
        }],
        strips: strips.collect(),
        shop: Shop {
            rip_kerf: Length::ZERO,
            crosscut_kerf: Length::ZERO,
            edge_trim: Length::ZERO,
            end_trim: Length::ZERO,
            min_rip_length: Length::ZERO,
            keep_length: Length::LONGEST,
            keep_width: width,
            keep_credit: KeepCredit::from_billionths(0).expect("zero is a share"),
        },
    }
}

fn solved(request: &Request, budget: &Budget<'_>) -> Outcome {
    let problem = Problem::new(request.clone()).expect("the request has no flaws");
    let outcome = solve(&problem, budget, &|_| {});
    check(request, &outcome).expect("the answer keeps all rules");
    outcome
}

/// The paper mill with 5600 mm rolls and thirteen widths: at least 73 rolls. It is the worked
/// example of many texts on cutting stock; its figures are from memory.
#[test]
fn the_paper_mill_needs_seventy_three_rolls() {
    let request = line(
        5600,
        &[
            (1380, 22),
            (1520, 25),
            (1560, 12),
            (1710, 14),
            (1820, 18),
            (1880, 18),
            (1930, 20),
            (2000, 10),
            (2050, 12),
            (2100, 14),
            (2140, 16),
            (2150, 18),
            (2200, 20),
        ],
    );
    let outcome = solved(&request, &Budget::of_steps(5_000));
    assert_eq!((outcome.touched, outcome.proven), (73, true));
}

/// Triplets as Falkenauer (1996) makes them: each bar is filled by three items without waste, the first from
/// 380 to 490 of 1000, the second at least 250. Any answer with a third of the items is the best.
#[test]
fn triplets_fill_their_bars() {
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut below = |most: i64| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as i64 % most
    };
    let mut lengths: Vec<i64> = Vec::new();
    for _ in 0..20 {
        let first = 380 + below(111);
        let second = 250 + below((1000 - first) / 2 - 249);
        lengths.extend([first, second, 1000 - first - second]);
    }
    let mut items = std::collections::BTreeMap::new();
    for length in lengths {
        *items.entry(length).or_insert(0) += 1;
    }
    let items: Vec<(i64, u32)> = items.into_iter().collect();
    let outcome = solved(&line(1000, &items), &Budget::of_steps(20_000));
    assert_eq!((outcome.touched, outcome.proven), (20, true));
}

/// The sets of Falkenauer (1996), Scholl, Klein and Jürgens (1997), Schwerin and Wäscher (1997),
/// Wäscher and Gau (1996) and Schoenfield (2002), as collected by Delorme, Iori and Martello,
/// BPPLIB, Optimization Letters 12(2), 2018. An answer may stay unproven on a slow machine, but
/// no bound may pass the optimum and no answer may beat it.
#[test]
fn published_optima_are_neither_beaten_nor_excluded() {
    #[expect(
        clippy::disallowed_methods,
        reason = "a test may be told where the published problems are"
    )]
    let Some(folder) = std::env::var_os("SCRAPWRIGHT_BENCHMARKS") else {
        println!("skipped: SCRAPWRIGHT_BENCHMARKS names no folder");
        return;
    };
    let folder = std::path::Path::new(&folder).join("cutting_stock");
    let table = std::fs::read_to_string(folder.join("optima.csv")).expect("the table of optima");
    let mut proven = 0;
    for row in table.lines().skip(1) {
        let fields: Vec<&str> = row.split(',').collect();
        let optimum: i64 = fields[4].parse().expect("the optimum");
        let body = std::fs::read(folder.join(format!("{}.json", fields[0]))).expect("the request");
        let (problem, _) = wire::matching::parse(&body).expect("a request");
        let begun = Instant::now();
        let budget = Budget::until(Duration::from_millis(400), move || begun.elapsed());
        let outcome = solved(problem.request(), &budget);
        let is_beaten = outcome.uncovered.is_empty() && outcome.spend.cents() < 100 * optimum;
        assert!(!is_beaten, "{}", fields[0]);
        assert!(
            outcome.bound.spend.cents() <= 100 * optimum,
            "{}",
            fields[0]
        );
        proven += u32::from(outcome.proven);
    }
    assert!(proven > 0, "not one of them was proven");
}
