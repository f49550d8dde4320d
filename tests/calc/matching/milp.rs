//! Matching against a general solver: an integer program for microlp.
//!
//! Dressed pieces whose whole width is the strips' rip are cut along one line, and nothing is credited. With `x_pi`
//! strips of kind `i` from piece `p`, which is cut where `y_p` is 1, `u_i` missing ones, and a kerf `k` after each strip that may
//! run off the end:
//! minimise `M sum u_i + sum V_p y_p`, `sum_p x_pi + u_i = d_i`, `sum_i (l_i + k) x_pi <= (L_p + k) y_p`.

use microlp::{ComparisonOp, OptimizationDirection, Problem};
use scrapwright::calc::matching::{KeepCredit, Piece, Request, Section, Shop, Strip};

use super::brute::{Random, mm};
use super::solved;

const WIDTH: i64 = 30;
const THICKNESS: i64 = 20;
/// A missing strip outweighs all the wood there is.
const MISSING: f64 = 1e8;

struct Line {
    kerf: i64,
    pieces: Vec<i64>,
    /// Length and how many.
    strips: Vec<(i64, u32)>,
}

fn line(random: &mut Random) -> Line {
    let mut from = |low: i64, high: i64| low + random.below((high - low + 1) as u64);
    let kerf = from(0, 3);
    let pieces = (0..from(3, 7)).map(|_| from(40, 140)).collect();
    let strips = (0..from(2, 4))
        .map(|_| (from(12, 60), from(1, 4) as u32))
        .collect();
    Line {
        kerf,
        pieces,
        strips,
    }
}

fn request(line: &Line) -> Request {
    Request {
        stock: (0_u32..)
            .zip(&line.pieces)
            .map(|(place, length)| Piece {
                id: format!("A{place}"),
                species: "hard maple".to_owned(),
                length: mm(*length),
                width: mm(WIDTH),
                thickness: mm(THICKNESS),
                count: 1,
                unusable: Vec::new(),
                square_ends: true,
                straight_edges: true,
                preference: 0,
            })
            .collect(),
        strips: (0_u32..)
            .zip(&line.strips)
            .map(|(place, (length, count))| Strip {
                id: format!("s{place}"),
                species: vec!["hard maple".to_owned()],
                count: *count,
                length: mm(*length),
                sections: vec![Section {
                    rip: mm(WIDTH),
                    thickness: mm(THICKNESS),
                }],
            })
            .collect(),
        shop: Shop {
            crosscut_kerf: mm(line.kerf),
            keep_credit: KeepCredit::from_billionths(0).expect("a share"),
            ..Shop::default()
        },
        ..Request::default()
    }
}

/// Strips covered and mm3 of wood cut, as the general solver finds them.
fn by_integer_program(line: &Line) -> (u32, f64) {
    let mut program = Problem::new(OptimizationDirection::Minimize);
    let volume = |length: i64| (length * WIDTH * THICKNESS) as f64;
    let cuts: Vec<_> = line
        .pieces
        .iter()
        .map(|length| program.add_binary_var(volume(*length)))
        .collect();
    let missing: Vec<_> = line
        .strips
        .iter()
        .map(|(_, count)| program.add_integer_var(MISSING, (0, *count as i32)))
        .collect();
    let mut made = vec![Vec::new(); line.strips.len()];
    for (length, cut) in line.pieces.iter().zip(&cuts) {
        let mut used = vec![(*cut, -((length + line.kerf) as f64))];
        for (kind, (strip, count)) in line.strips.iter().enumerate() {
            let strips = program.add_integer_var(0.0, (0, *count as i32));
            used.push((strips, (strip + line.kerf) as f64));
            made[kind].push((strips, 1.0));
        }
        program.add_constraint(&used, ComparisonOp::Le, 0.0);
    }
    for ((made, missing), (_, count)) in made.iter_mut().zip(&missing).zip(&line.strips) {
        made.push((*missing, 1.0));
        program.add_constraint(made.as_slice(), ComparisonOp::Eq, f64::from(*count));
    }
    let solution = program
        .solve()
        .expect("there is always an answer: all strips missing")
        .into_solution()
        .expect("no limit ends it early");
    let wanted: u32 = line.strips.iter().map(|(_, count)| count).sum();
    let short: f64 = missing
        .iter()
        .map(|variable| solution.var_value(*variable).round())
        .sum();
    let wood = line
        .pieces
        .iter()
        .zip(&cuts)
        .map(|(length, cut)| volume(*length) * solution.var_value(*cut).round())
        .sum();
    (wanted - short as u32, wood)
}

#[test]
fn cuts_along_a_line_are_those_of_a_general_integer_program() {
    let mut random = Random(0x5eed_0009);
    for _ in 0..80 {
        let line = line(&mut random);
        let outcome = solved(&request(&line));
        assert!(outcome.proven);
        assert_eq!(
            (outcome.covered, outcome.net_wood.mm3()),
            by_integer_program(&line),
            "{:?} with a kerf of {} mm for {:?}",
            line.pieces,
            line.kerf,
            line.strips
        );
    }
}
