//! Arrangements that the bins can give right now, the better looking first.
//!
//! Looks are judged by four stated rules, each from 0 to 1, added with fixed weights:
//!
//! | rule | 1 means | weight |
//! | --- | --- | --- |
//! | symmetry | the board reads the same from both sides | 0.35 |
//! | neighbours | no two neighbours are of one species | 0.25 |
//! | contrast | neighbours differ in lightness by 0.4 or more on average | 0.25 |
//! | balance | every species has the same share of the width | 0.15 |
//!
//! The rules and weights are this program's own choice; they order proposals and forbid nothing.

use std::collections::BTreeSet;

use super::arrangement::{Arrangement, BoardStrip};
use super::rule::{Rule, scatter};
use crate::units::Length;

/// How many strips of one species the bins could give, all of the wanted width and length.
#[derive(Clone, Debug, PartialEq)]
pub struct Available {
    pub species: String,
    /// From 0, black, to 1, white.
    pub lightness: f64,
    pub count: usize,
}

/// What the board should be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wanted {
    pub strips: usize,
    pub strip_width: Length,
    /// For the scattered forms.
    pub seed: u64,
    /// At most so many proposals.
    pub most: usize,
}

/// The plan behind a proposal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Form {
    /// Two species in turns.
    Alternating,
    /// Three species as in `A B C B A B C B A`.
    Banded,
    /// Dark at both edges, lighter towards the centre.
    LightCentre,
    /// Light at both edges, darker towards the centre.
    DarkCentre,
    /// One species with an accent strip at the centre and one on either side of it.
    Accented,
    /// From dark to light.
    Graded,
    /// No order at all, but no equal neighbours.
    Scattered,
    /// A scattered half, mirrored.
    ScatteredMirrored,
}

/// How an arrangement does under the four rules.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    pub symmetric: bool,
    pub equal_neighbours: usize,
    /// Mean difference of lightness between neighbours, from 0 to 1.
    pub contrast: f64,
    /// From 0, one species has all, to 1, equal shares of the width.
    pub balance: f64,
    /// The weighted sum, from 0 to 1.
    pub score: f64,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    pub form: Form,
    pub arrangement: Arrangement,
    pub look: Look,
}

/// Judges an arrangement by the four rules of this module.
pub fn look(board: &Arrangement, lightness: impl Fn(&str) -> f64) -> Look {
    let pairs = board.strips.len().saturating_sub(1);
    let symmetric = board.is_symmetric();
    let equal_neighbours = board.equal_neighbours();
    let difference: f64 = board
        .strips
        .windows(2)
        .map(|pair| (lightness(&pair[0].species) - lightness(&pair[1].species)).abs())
        .sum();
    let contrast = if pairs == 0 {
        0.0
    } else {
        difference / pairs as f64
    };
    let balance = evenness(board);
    let apart = if pairs == 0 {
        1.0
    } else {
        1.0 - equal_neighbours as f64 / pairs as f64
    };
    let symmetry = if symmetric { 1.0 } else { 0.0 };
    let score = 0.35 * symmetry + 0.25 * apart + 0.25 * (contrast / 0.4).min(1.0) + 0.15 * balance;
    Look {
        symmetric,
        equal_neighbours,
        contrast,
        balance,
        score,
    }
}

/// Entropy of the species' shares of the width over the largest that so many species can have
/// (Pielou's evenness); 0 for a single species.
fn evenness(board: &Arrangement) -> f64 {
    let species = board.species();
    let total = board.width().mm();
    if species.len() < 2 || total <= 0.0 {
        return 0.0;
    }
    let entropy: f64 = species
        .iter()
        .map(|name| {
            let own: Length = board
                .strips
                .iter()
                .filter(|strip| strip.species == *name)
                .map(|strip| strip.width)
                .sum();
            let share = own.mm() / total;
            -share * share.ln()
        })
        .sum();
    entropy / (species.len() as f64).ln()
}

/// Species considered at once: the most plentiful ones. Six give at most 120 threesomes.
const MOST_SPECIES: usize = 6;

/// Several arrangements of exactly the wanted number of strips, none asking for more strips of a
/// species than there are, the best of each form before the second best of any.
pub fn propose(have: &[Available], wanted: Wanted) -> Vec<Proposal> {
    let mut plenty: Vec<&Available> = have.iter().filter(|species| species.count > 0).collect();
    plenty.sort_by(|left, right| {
        right
            .count
            .cmp(&left.count)
            .then_with(|| left.species.cmp(&right.species))
    });
    plenty.truncate(MOST_SPECIES);
    let lightness = |name: &str| {
        have.iter()
            .find(|species| species.species == name)
            .map_or(0.5, |species| species.lightness)
    };
    let mut seen = BTreeSet::new();
    let mut candidates: Vec<Proposal> = Vec::new();
    for (form, names) in candidate_orders(&plenty, wanted) {
        let arrangement = Arrangement::new(
            names
                .iter()
                .map(|name| BoardStrip::new(name, wanted.strip_width))
                .collect(),
        );
        let possible = plenty.iter().all(|species| {
            names
                .iter()
                .filter(|name| **name == species.species)
                .count()
                <= species.count
        });
        if possible && names.len() == wanted.strips && seen.insert(names) {
            let look = look(&arrangement, lightness);
            candidates.push(Proposal {
                form,
                arrangement,
                look,
            });
        }
    }
    candidates.sort_by(|left, right| {
        right
            .look
            .score
            .total_cmp(&left.look.score)
            .then_with(|| left.form.cmp(&right.form))
            .then_with(|| left.arrangement.strips.cmp(&right.arrangement.strips))
    });
    pick_varied(candidates, wanted.most)
}

/// The best of each form first, then the second best of each, and so on.
fn pick_varied(candidates: Vec<Proposal>, most: usize) -> Vec<Proposal> {
    let mut ranked: Vec<(usize, usize, Proposal)> = Vec::new();
    for (place, candidate) in candidates.into_iter().enumerate() {
        let rank = ranked
            .iter()
            .filter(|(_, _, earlier)| earlier.form == candidate.form)
            .count();
        ranked.push((rank, place, candidate));
    }
    ranked.sort_by_key(|(rank, place, _)| (*rank, *place));
    ranked
        .into_iter()
        .take(most)
        .map(|(_, _, candidate)| candidate)
        .collect()
}

fn candidate_orders(plenty: &[&Available], wanted: Wanted) -> Vec<(Form, Vec<String>)> {
    let count = wanted.strips;
    let mut orders: Vec<(Form, Vec<String>)> = Vec::new();
    let mut add = |form: Form, pick: &dyn Fn(usize) -> String| {
        orders.push((form, (0..count).map(pick).collect()));
    };
    for first in plenty {
        for second in plenty.iter().filter(|other| other.species != first.species) {
            let (one, two) = (&first.species, &second.species);
            add(Form::Alternating, &|place| {
                if place % 2 == 0 { one } else { two }.clone()
            });
            let centre = count / 2;
            let accents: Vec<usize> = if count % 2 == 1 && count >= 9 {
                vec![centre - count / 4, centre, centre + count / 4]
            } else if count % 2 == 1 {
                vec![centre]
            } else {
                vec![centre.saturating_sub(1 + count / 4), centre + count / 4]
            };
            add(Form::Accented, &|place| {
                if accents.contains(&place) { two } else { one }.clone()
            });
            for third in plenty {
                let three = &third.species;
                if three == one || three == two {
                    continue;
                }
                // Counted from the nearer edge, so that every banded board is symmetric.
                let bands = [one, two, three, two];
                add(Form::Banded, &|place| {
                    bands[place.min(count - 1 - place) % 4].clone()
                });
            }
        }
    }
    let dark_first = spread_evenly(plenty, count);
    if dark_first.len() == count {
        orders.push((Form::Graded, dark_first.clone()));
        let half = spread_evenly_in_pairs(plenty, count);
        if let Some(half) = half {
            let mirrored = |half: &[String]| -> Vec<String> {
                (0..count)
                    .map(|place| half[place.min(count - 1 - place)].clone())
                    .collect()
            };
            orders.push((Form::LightCentre, mirrored(&half)));
            let lighter_first: Vec<String> = half.iter().rev().cloned().collect();
            if count.is_multiple_of(2) {
                orders.push((Form::DarkCentre, mirrored(&lighter_first)));
            }
            for round in 0..4 {
                let board = Arrangement::new(
                    half.iter()
                        .map(|name| BoardStrip::new(name, wanted.strip_width))
                        .collect(),
                );
                let shuffled: Vec<String> = scatter(&board, wanted.seed.wrapping_add(round))
                    .strips
                    .into_iter()
                    .map(|strip| strip.species)
                    .collect();
                orders.push((Form::ScatteredMirrored, mirrored(&shuffled)));
            }
        }
        for round in 0..4 {
            let board = Arrangement::new(
                dark_first
                    .iter()
                    .map(|name| BoardStrip::new(name, wanted.strip_width))
                    .collect(),
            );
            let rule = Rule::Scatter {
                seed: wanted.seed.wrapping_add(round),
            };
            let shuffled = rule.arrange(&board, |_| 0.5);
            orders.push((
                Form::Scattered,
                shuffled
                    .strips
                    .into_iter()
                    .map(|strip| strip.species)
                    .collect(),
            ));
        }
    }
    orders
}

/// `count` strips shared among the species as evenly as their numbers allow, dark to light; fewer
/// where there are not enough.
fn spread_evenly(plenty: &[&Available], count: usize) -> Vec<String> {
    let limits: Vec<usize> = plenty.iter().map(|species| species.count).collect();
    dark_to_light(plenty, &share_out(&limits, count))
}

/// The left half, centre strip included and last, of a symmetric board; `None` where the numbers
/// do not allow one. Each strip of the half but the centre one is needed twice.
fn spread_evenly_in_pairs(plenty: &[&Available], count: usize) -> Option<Vec<String>> {
    let centre = count % 2;
    let limits: Vec<usize> = plenty.iter().map(|species| species.count / 2).collect();
    let mut shares = share_out(&limits, count / 2);
    if shares.iter().sum::<usize>() < count / 2 {
        return None;
    }
    let mut half = dark_to_light(plenty, &shares);
    if centre == 1 {
        let lightest = (0..plenty.len())
            .filter(|&place| plenty[place].count > 2 * shares[place])
            .max_by(|&left, &right| plenty[left].lightness.total_cmp(&plenty[right].lightness))?;
        shares[lightest] += 1;
        half.push(plenty[lightest].species.clone());
    }
    Some(half)
}

fn share_out(limits: &[usize], count: usize) -> Vec<usize> {
    let mut shares = vec![0; limits.len()];
    let mut left = count;
    while left > 0 {
        let before = left;
        for (share, limit) in shares.iter_mut().zip(limits) {
            if left > 0 && *share < *limit {
                *share += 1;
                left -= 1;
            }
        }
        if left == before {
            break;
        }
    }
    shares
}

fn dark_to_light(plenty: &[&Available], shares: &[usize]) -> Vec<String> {
    let mut order: Vec<usize> = (0..plenty.len()).collect();
    order.sort_by(|&left, &right| {
        plenty[left]
            .lightness
            .total_cmp(&plenty[right].lightness)
            .then_with(|| plenty[left].species.cmp(&plenty[right].species))
    });
    order
        .into_iter()
        .flat_map(|place| std::iter::repeat_n(plenty[place].species.clone(), shares[place]))
        .collect()
}
