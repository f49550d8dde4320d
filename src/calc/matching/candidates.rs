//! What to branch on: both sides of a few candidates are looked at before one is chosen.

use std::collections::BTreeMap;

use super::branching::Interval;
use super::pool::{Pool, WHOLE};
use super::simplex::End;

/// Candidates that are looked at, by how thorough a search is.
const QUICK: usize = 1;
const THOROUGH: usize = 4;
const PROVING: usize = 8;
/// Pivots of a look.
const LOOK: u64 = 30;
/// A side that costs nothing counts as this share of what is left to the limit.
const NOTHING: f64 = 1e-4;

/// Two sets of bounds, of which every choice keeps one, in the order to try them.
pub(super) struct Sides {
    pub first: Side,
    pub second: Side,
}

pub(super) struct Side {
    pub bounds: Vec<(usize, Interval)>,
    /// What the choices on this side cost at least.
    pub cost: f64,
}

pub(super) enum Choice {
    Branch(Sides),
    /// Nothing below costs no more than the limit.
    Closed,
    /// All is whole.
    Whole,
    /// The numbers went bad.
    Unknown,
}

impl Pool<'_> {
    /// The candidate whose sides promise most; sides that turn out to cost more than `limit` are left out at once.
    pub(super) fn choose(&mut self, limit: f64) -> Choice {
        let most = match (self.is_whole, self.is_thorough) {
            (true, _) => PROVING,
            (false, true) => THOROUGH,
            (false, false) => QUICK,
        };
        'anew: loop {
            let mut candidates = self.candidates(most);
            if most == QUICK {
                return candidates.pop().map_or(Choice::Whole, Choice::Branch);
            }
            let before = self.value();
            let nothing = NOTHING * (limit - before);
            let mut best: Option<(f64, Sides)> = None;
            for mut sides in candidates {
                let costs = (
                    self.look(&sides.first, limit),
                    self.look(&sides.second, limit),
                );
                let only = match costs {
                    (None, None) => return Choice::Closed,
                    (None, Some(_)) => sides.second,
                    (Some(_), None) => sides.first,
                    (Some(first), Some(second)) => {
                        let score = (first - before).max(nothing) * (second - before).max(nothing);
                        if best.as_ref().is_none_or(|best| score > best.0) {
                            (sides.first.cost, sides.second.cost) = (first, second);
                            best = Some((score, sides.cheaper_first()));
                        }
                        continue;
                    }
                };
                self.set_all(&only);
                let mut end = self.resolve_within(limit);
                if end == End::Optimal {
                    end = self.tighten(limit);
                }
                match end {
                    End::Optimal => continue 'anew,
                    End::Infeasible => return Choice::Closed,
                    End::Stopped => return Choice::Unknown,
                }
            }
            return best.map_or(Choice::Whole, |(_, sides)| Choice::Branch(sides));
        }
    }

    /// What a side costs at least; `None` where that is more than `limit`.
    fn look(&mut self, side: &Side, limit: f64) -> Option<f64> {
        let before = self.lp.point();
        let mark = self.trail.len();
        self.set_all(side);
        self.leave_out_too_large();
        let end = self.lp.dual(LOOK, limit / self.unit);
        let cost = self.value();
        self.undo(mark);
        self.lp.go_back(&before);
        match end {
            End::Infeasible => None,
            End::Optimal => (cost <= limit).then_some(cost),
            End::Stopped => Some(cost.clamp(side.cost, limit)),
        }
    }

    pub(super) fn set_all(&mut self, side: &Side) {
        for &(variable, bounds) in &side.bounds {
            self.set(variable, bounds);
        }
    }

    /// What is not whole: how often pieces are used, which says more than how they are cut, then columns.
    fn candidates(&mut self, most: usize) -> Vec<Sides> {
        let cost = self.value();
        let mut pieces: Vec<(f64, usize)> = Vec::new();
        for place in 0..self.pieces.len() {
            if self.columns_of[place].len() < 2 {
                continue;
            }
            let used = self.used(place);
            let off = (used - used.round()).abs();
            if off > 10.0 * WHOLE {
                pieces.push((off, place));
            }
        }
        pieces.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let mut found = Vec::new();
        for (_, place) in pieces.into_iter().take(most) {
            let used = self.used(place);
            let logical = match self.rows[place] {
                Some((_, logical)) => logical,
                None => self.add_piece_row(place),
            };
            let cap = f64::from(self.pieces[place].1);
            let (lower, upper) = self.lp.bounds(logical);
            let more = (lower, cap - used.ceil());
            let less = (cap - used.floor(), upper);
            let is_more = used - used.floor() >= 0.5;
            found.push(Sides::new(
                vec![(logical, if is_more { more } else { less })],
                vec![(logical, if is_more { less } else { more })],
                cost,
            ));
        }
        if most > QUICK {
            self.splits(most - found.len(), cost, &mut found);
        }
        let mut columns: Vec<(f64, usize)> = Vec::new();
        for &variable in &self.variables {
            let value = self.lp.value(variable);
            if (value - value.round()).abs() > 10.0 * WHOLE {
                let part = value - value.floor();
                let is_quick = most == QUICK;
                columns.push((if is_quick { part } else { part.min(1.0 - part) }, variable));
            }
        }
        columns.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        for (_, variable) in columns.into_iter().take(most - found.len()) {
            let value = self.lp.value(variable);
            let (lower, upper) = self.lp.bounds(variable);
            found.push(Sides::new(
                vec![(variable, (value.ceil(), upper))],
                vec![(variable, (lower, value.floor()))],
                cost,
            ));
        }
        found
    }

    /// Pieces that are cut in several ways: whether they give a class of strips.
    fn splits(&mut self, most: usize, cost: f64, found: &mut Vec<Sides>) {
        let mut splits: Vec<(f64, usize, u16)> = Vec::new();
        for (place, &(_, cap)) in self.pieces.iter().enumerate() {
            let used = self.used(place);
            if cap != 1 || (used - 1.0).abs() > 10.0 * WHOLE {
                continue;
            }
            let mut given: BTreeMap<u16, f64> = BTreeMap::new();
            for &column in &self.columns_of[place] {
                let weight = self.lp.value(self.variables[column]);
                if weight > WHOLE {
                    for &(class, _) in &self.columns[column].takes {
                        *given.entry(class).or_default() += weight;
                    }
                }
            }
            let best = given
                .into_iter()
                .map(|(class, weight)| (weight.min(1.0 - weight), place, class))
                .max_by(|a, b| a.0.total_cmp(&b.0).then(b.2.cmp(&a.2)));
            splits.extend(best.filter(|best| best.0 > 10.0 * WHOLE));
        }
        splits.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        for (_, place, class) in splits.into_iter().take(most) {
            let logical = match self.rows[place] {
                Some((_, logical)) => logical,
                None => self.add_piece_row(place),
            };
            let mut with = vec![(logical, (0.0, 0.0))];
            let mut without = Vec::new();
            for &column in &self.columns_of[place] {
                let variable = self.variables[column];
                let (lower, upper) = self.lp.bounds(variable);
                if lower == upper {
                    continue;
                }
                let takes = &self.columns[column].takes;
                if takes.iter().any(|take| take.0 == class) {
                    without.push((variable, (lower, lower)));
                } else {
                    with.push((variable, (lower, lower)));
                }
            }
            found.push(Sides::new(with, without, cost));
        }
    }
}

impl Sides {
    fn new(first: Vec<(usize, Interval)>, second: Vec<(usize, Interval)>, cost: f64) -> Sides {
        let side = |bounds| Side { bounds, cost };
        Sides {
            first: side(first),
            second: side(second),
        }
    }

    fn cheaper_first(self) -> Sides {
        if self.first.cost <= self.second.cost {
            return self;
        }
        Sides {
            first: self.second,
            second: self.first,
        }
    }
}
