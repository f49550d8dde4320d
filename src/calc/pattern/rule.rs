//! Arrangements by rule.

use super::arrangement::{Arrangement, BoardStrip, MOST_STRIPS};
use super::seed::Choices;
use crate::units::Length;

/// A rule that puts a board's strips into an order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Rule {
    /// The species take turns in the order of their first appearance, as long as each has strips left.
    Alternate,
    /// The left half, centre included, is kept and mirrored onto the right: the number of strips
    /// stays, the strips on the right may change.
    MirrorAboutCentre,
    DarkToLight,
    LightToDark,
    /// The strip at the place becomes the accent; all others stay.
    Accent {
        at: usize,
        strip: BoardStrip,
    },
    /// In an order drawn from the seed in which neighbours differ in species wherever that is possible.
    Scatter {
        seed: u64,
    },
}

impl Rule {
    /// The strips in the order of the rule. `lightness` gives each species a number from 0, black,
    /// to 1, white. An accent beyond the last strip changes nothing.
    pub fn arrange(&self, board: &Arrangement, lightness: impl Fn(&str) -> f64) -> Arrangement {
        let mut strips = board.strips.clone();
        match self {
            Rule::Alternate => return alternate(board),
            Rule::MirrorAboutCentre => {
                let count = strips.len();
                for place in 0..count / 2 {
                    strips[count - 1 - place] = strips[place].clone();
                }
            }
            Rule::DarkToLight => strips.sort_by(|left, right| {
                lightness(&left.species)
                    .total_cmp(&lightness(&right.species))
                    .then_with(|| left.species.cmp(&right.species))
            }),
            Rule::LightToDark => strips.sort_by(|left, right| {
                lightness(&right.species)
                    .total_cmp(&lightness(&left.species))
                    .then_with(|| left.species.cmp(&right.species))
            }),
            Rule::Accent { at, strip } => {
                if let Some(place) = strips.get_mut(*at) {
                    *place = strip.clone();
                }
            }
            Rule::Scatter { seed } => return scatter(board, *seed),
        }
        Arrangement { strips }
    }
}

/// Repeats the unit from its start until one more strip would exceed `width`.
///
/// Two numbers of strips are worth offering where the width is not met exactly: this many, and one more.
/// A unit without width gives no strips.
pub fn fill(unit: &[BoardStrip], width: Length) -> Arrangement {
    let mut strips = Vec::new();
    let mut total = Length::ZERO;
    for strip in unit.iter().cycle() {
        if !strip.width.is_positive() {
            return Arrangement::default();
        }
        total += strip.width;
        if total > width || strips.len() == MOST_STRIPS {
            break;
        }
        strips.push(strip.clone());
    }
    Arrangement { strips }
}

/// The strips by species in the order of first appearance, each group in its order.
fn by_species(board: &Arrangement) -> Vec<Vec<BoardStrip>> {
    board
        .species()
        .into_iter()
        .map(|species| {
            board
                .strips
                .iter()
                .filter(|strip| strip.species == species)
                .cloned()
                .collect()
        })
        .collect()
}

fn alternate(board: &Arrangement) -> Arrangement {
    let groups = by_species(board);
    let rounds = groups.iter().map(Vec::len).max().unwrap_or(0);
    let strips = (0..rounds)
        .flat_map(|round| groups.iter().filter_map(move |group| group.get(round)))
        .cloned()
        .collect();
    Arrangement { strips }
}

/// The same strips in an order drawn from the seed, with as few equal neighbours as can be.
///
/// At each place any species may come next that leaves the rest separable: with `left` strips still
/// to place, no species may have more than half of them, rounded up, and the species just placed no
/// more than half, rounded down. Where no order separates all (one species has more than all
/// others and one), that species takes every second place for as long as others last.
pub fn scatter(board: &Arrangement, seed: u64) -> Arrangement {
    let mut choices = Choices::from_seed(seed);
    let mut groups = by_species(board);
    let mut strips: Vec<BoardStrip> = Vec::with_capacity(board.strips.len());
    let mut last: Option<usize> = None;
    for left in (1..=board.strips.len()).rev() {
        let separable = |next: usize| {
            let rest = left - 1;
            last != Some(next)
                && groups.iter().enumerate().all(|(group, members)| {
                    let count = members.len() - usize::from(group == next);
                    if group == next {
                        count <= rest / 2
                    } else {
                        count <= rest.div_ceil(2)
                    }
                })
        };
        let open: Vec<usize> = (0..groups.len())
            .filter(|&group| !groups[group].is_empty())
            .collect();
        let mut allowed: Vec<usize> = open
            .iter()
            .copied()
            .filter(|&next| separable(next))
            .collect();
        if allowed.is_empty() {
            let most = open
                .iter()
                .copied()
                .max_by_key(|&group| groups[group].len());
            allowed = if most != last {
                most.into_iter().collect()
            } else {
                open.iter()
                    .copied()
                    .filter(|&group| Some(group) != last)
                    .collect()
            };
        }
        if allowed.is_empty() {
            allowed = open;
        }
        // Weighted by what is left, so that a species is not used up early.
        let weight: usize = allowed.iter().map(|&group| groups[group].len()).sum();
        let mut ticket = choices.below(weight);
        let next = allowed
            .iter()
            .copied()
            .find(|&group| {
                let here = groups[group].len();
                if ticket < here {
                    true
                } else {
                    ticket -= here;
                    false
                }
            })
            .expect("the ticket is below the sum of the weights");
        let member = choices.below(groups[next].len());
        strips.push(groups[next].swap_remove(member));
        last = Some(next);
    }
    Arrangement { strips }
}
