//! Bounds of the variables, the trail of their changes, and why each change was made.
//!
//! Every variable `x` has two sides: side `2x` is `x` itself and side `2x + 1` is `-x`. Only lower
//! bounds are kept, so the upper bound of `x` is minus the bound of the other side. A fact is
//! "side is at least value"; each rule is written once and holds for both directions.

use super::domain::Domain;

/// "The value of `side` is at least `least`."
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fact {
    pub side: usize,
    pub least: i64,
}

impl Fact {
    pub fn at_least(variable: usize, least: i64) -> Fact {
        Fact {
            side: 2 * variable,
            least,
        }
    }

    pub fn at_most(variable: usize, most: i64) -> Fact {
        Fact {
            side: 2 * variable + 1,
            least: -most,
        }
    }

    pub fn not(self) -> Fact {
        Fact {
            side: self.side ^ 1,
            least: 1 - self.least,
        }
    }
}

/// Why a bound was raised.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    Decision,
    /// All other literals of this clause are false.
    Clause(usize),
    /// The bound of another side, by this link.
    Link(usize),
    /// The facts at this place among the stored ones.
    Stored {
        from: usize,
        to: usize,
    },
}

#[derive(Clone, Copy, Debug)]
pub struct Change {
    pub side: usize,
    pub old: i64,
    pub new: i64,
    /// The change of the same side before this one.
    pub previous: usize,
    pub reason: Reason,
}

pub const NONE: usize = usize::MAX;

#[derive(Clone, Debug)]
pub struct Trail {
    domains: Vec<Domain>,
    bounds: Vec<i64>,
    /// Bounds that hold without any decision.
    root: Vec<i64>,
    pub changes: Vec<Change>,
    last: Vec<usize>,
    level_starts: Vec<(usize, usize)>,
    stored: Vec<Fact>,
}

/// A bound passed the one of the other side.
#[derive(Clone, Copy, Debug)]
pub struct Crossed;

impl Trail {
    pub fn new(domains: Vec<Domain>) -> Trail {
        let bounds: Vec<i64> = domains
            .iter()
            .flat_map(|domain| [domain.first(), -domain.last()])
            .collect();
        Trail {
            root: bounds.clone(),
            last: vec![NONE; bounds.len()],
            bounds,
            domains,
            changes: Vec::new(),
            level_starts: Vec::new(),
            stored: Vec::new(),
        }
    }

    pub fn bound(&self, side: usize) -> i64 {
        self.bounds[side]
    }

    pub fn lower(&self, variable: usize) -> i64 {
        self.bounds[2 * variable]
    }

    pub fn upper(&self, variable: usize) -> i64 {
        -self.bounds[2 * variable + 1]
    }

    pub fn is_fixed(&self, variable: usize) -> bool {
        self.bounds[2 * variable] == -self.bounds[2 * variable + 1]
    }

    pub fn variables(&self) -> usize {
        self.domains.len()
    }

    pub fn holds(&self, fact: Fact) -> bool {
        self.bounds[fact.side] >= fact.least
    }

    pub fn is_root(&self, fact: Fact) -> bool {
        self.root[fact.side] >= fact.least
    }

    pub fn level(&self) -> usize {
        self.level_starts.len()
    }

    /// The level at which the change at `place` was made.
    pub fn level_of(&self, place: usize) -> usize {
        self.level_starts
            .partition_point(|&(start, _)| start <= place)
    }

    pub fn start_of_level(&self) -> usize {
        self.level_starts.last().map_or(0, |&(start, _)| start)
    }

    /// The same fact with the greatest value that means the same: domains have holes.
    pub fn strongest(&self, fact: Fact) -> Fact {
        let least = self.domains[fact.side / 2].strongest(fact.side % 2 == 1, fact.least);
        Fact { least, ..fact }
    }

    /// The least value that means the same.
    pub fn weakest(&self, fact: Fact) -> Fact {
        let least = self.domains[fact.side / 2].weakest(fact.side % 2 == 1, fact.least);
        Fact { least, ..fact }
    }

    pub fn open_level(&mut self) {
        self.level_starts
            .push((self.changes.len(), self.stored.len()));
    }

    pub fn store(&mut self, facts: &[Fact]) -> Reason {
        let from = self.stored.len();
        self.stored.extend_from_slice(facts);
        Reason::Stored {
            from,
            to: self.stored.len(),
        }
    }

    pub fn stored(&self, from: usize, to: usize) -> &[Fact] {
        &self.stored[from..to]
    }

    /// Makes the fact true. Where it contradicts the other side nothing is changed.
    pub fn raise(&mut self, fact: Fact, reason: Reason) -> Result<bool, Crossed> {
        if self.holds(fact) {
            return Ok(false);
        }
        let Fact { side, least } = self.strongest(fact);
        if least > -self.bounds[side ^ 1] {
            return Err(Crossed);
        }
        self.changes.push(Change {
            side,
            old: self.bounds[side],
            new: least,
            previous: self.last[side],
            reason,
        });
        self.last[side] = self.changes.len() - 1;
        self.bounds[side] = least;
        Ok(true)
    }

    /// The change that made a true fact true; `None` where it holds at the root.
    pub fn cause(&self, fact: Fact) -> Option<usize> {
        debug_assert!(self.holds(fact));
        let mut place = self.last[fact.side];
        while place != NONE {
            let change = &self.changes[place];
            if change.old < fact.least {
                return Some(place);
            }
            place = change.previous;
        }
        None
    }

    /// Takes back all changes above `level`; `seen` is told each.
    pub fn back_to(&mut self, level: usize, mut seen: impl FnMut(&Change)) {
        if self.level() <= level {
            return;
        }
        let (start, stored) = self.level_starts[level];
        for place in (start..self.changes.len()).rev() {
            let change = self.changes[place];
            seen(&change);
            self.bounds[change.side] = change.old;
            self.last[change.side] = change.previous;
        }
        self.changes.truncate(start);
        self.stored.truncate(stored);
        self.level_starts.truncate(level);
    }

    /// At level zero: what holds now holds for ever.
    pub fn settle_root(&mut self) {
        debug_assert_eq!(self.level(), 0);
        for change in self.changes.drain(..) {
            self.last[change.side] = NONE;
        }
        self.stored.clear();
        self.root.clone_from(&self.bounds);
    }
}
