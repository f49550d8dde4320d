//! Learnt clauses over atoms "variable is at least value", with two watched literals each.

use super::trail::{Fact, Trail};

/// "`variable` is at least `value`"; atoms are made where a learnt clause needs them.
#[derive(Clone, Copy, Debug)]
pub struct Atom {
    variable: usize,
    value: i64,
    /// Minus the last value of the domain below `value`.
    negated_least: i64,
}

/// An atom or its opposite: twice the atom's number, plus one for the opposite.
pub type Literal = u32;

#[derive(Clone, Debug)]
struct Clause {
    from: usize,
    length: usize,
    /// Levels that the clause joined when it was learnt.
    levels: usize,
    activity: f64,
}

#[derive(Clone, Copy, Debug)]
struct Watch {
    clause: usize,
    /// Another literal: where it is true the clause need not be looked at.
    blocker: Literal,
}

/// All literals of the clause are false.
pub struct Falsified(pub usize);

#[derive(Clone, Debug, Default)]
pub struct Clauses {
    pub atoms: Vec<Atom>,
    /// Atoms of each variable in order of their values.
    by_variable: Vec<Vec<(i64, u32)>>,
    literals: Vec<Literal>,
    clauses: Vec<Clause>,
    watches: Vec<Vec<Watch>>,
    increment: f64,
}

impl Clauses {
    pub fn new(variables: usize) -> Clauses {
        Clauses {
            by_variable: vec![Vec::new(); variables],
            increment: 1.0,
            ..Clauses::default()
        }
    }

    /// The literal that says the same as `fact`, which must not hold or fail for every value.
    pub fn literal(&mut self, trail: &Trail, fact: Fact) -> Literal {
        let variable = fact.side / 2;
        let opposite = fact.side % 2 == 1;
        // "At most m" is the opposite of "at least m + 1".
        let value = if opposite { 1 - fact.least } else { fact.least };
        let value = trail.strongest(Fact::at_least(variable, value)).least;
        let list = &mut self.by_variable[variable];
        let place = list.partition_point(|&(other, _)| other < value);
        let atom = match list.get(place) {
            Some(&(other, atom)) if other == value => atom,
            _ => {
                let atom = self.atoms.len() as u32;
                list.insert(place, (value, atom));
                let below = trail.strongest(Fact::at_most(variable, value - 1));
                self.atoms.push(Atom {
                    variable,
                    value,
                    negated_least: below.least,
                });
                self.watches.push(Vec::new());
                self.watches.push(Vec::new());
                atom
            }
        };
        2 * atom + u32::from(opposite)
    }

    pub fn fact(&self, literal: Literal) -> Fact {
        let atom = &self.atoms[literal as usize / 2];
        if literal.is_multiple_of(2) {
            Fact {
                side: 2 * atom.variable,
                least: atom.value,
            }
        } else {
            Fact {
                side: 2 * atom.variable + 1,
                least: atom.negated_least,
            }
        }
    }

    pub fn atom(&self, atom: u32) -> (usize, i64) {
        let atom = &self.atoms[atom as usize];
        (atom.variable, atom.value)
    }

    pub fn is_undecided(&self, trail: &Trail, atom: u32) -> bool {
        let atom = &self.atoms[atom as usize];
        trail.lower(atom.variable) < atom.value && trail.upper(atom.variable) >= atom.value
    }

    fn is_true(&self, trail: &Trail, literal: Literal) -> bool {
        trail.holds(self.fact(literal))
    }

    fn is_false(&self, trail: &Trail, literal: Literal) -> bool {
        self.is_true(trail, literal ^ 1)
    }

    /// Atoms whose truth a change of `side` from `old` to `new` decides.
    pub fn atoms_between(&self, side: usize, old: i64, new: i64) -> &[(i64, u32)] {
        let list = &self.by_variable[side / 2];
        let (above, upto) = if side.is_multiple_of(2) {
            (old, new)
        } else {
            (-new, -old)
        };
        let from = list.partition_point(|&(value, _)| value <= above);
        let to = from + list[from..].partition_point(|&(value, _)| value <= upto);
        &list[from..to]
    }

    /// Adds a clause of at least two literals of which the first two are watched.
    pub fn add(&mut self, literals: &[Literal], levels: usize) -> usize {
        let clause = self.clauses.len();
        let from = self.literals.len();
        self.literals.extend_from_slice(literals);
        self.clauses.push(Clause {
            from,
            length: literals.len(),
            levels,
            activity: self.increment,
        });
        self.watches[literals[0] as usize].push(Watch {
            clause,
            blocker: literals[1],
        });
        self.watches[literals[1] as usize].push(Watch {
            clause,
            blocker: literals[0],
        });
        clause
    }

    pub fn literals_of(&self, clause: usize) -> &[Literal] {
        let entry = &self.clauses[clause];
        &self.literals[entry.from..entry.from + entry.length]
    }

    /// Visits the clauses that watch `literal`, which has become false. Each clause that has only
    /// one literal left is given to `force`.
    pub fn visit(
        &mut self,
        trail: &mut Trail,
        literal: Literal,
        mut force: impl FnMut(&mut Trail, Fact, usize) -> bool,
    ) -> Result<(), Falsified> {
        let mut watches = std::mem::take(&mut self.watches[literal as usize]);
        let mut kept = 0;
        let mut next = 0;
        let mut result = Ok(());
        'watches: while next < watches.len() {
            let watch = watches[next];
            next += 1;
            if self.is_true(trail, watch.blocker) {
                watches[kept] = watch;
                kept += 1;
                continue;
            }
            let entry = &self.clauses[watch.clause];
            let (from, to) = (entry.from, entry.from + entry.length);
            if self.literals[from] == literal {
                self.literals.swap(from, from + 1);
            }
            let first = self.literals[from];
            if first != watch.blocker && self.is_true(trail, first) {
                watches[kept] = Watch {
                    blocker: first,
                    ..watch
                };
                kept += 1;
                continue;
            }
            for place in from + 2..to {
                let other = self.literals[place];
                if !self.is_false(trail, other) {
                    self.literals.swap(from + 1, place);
                    self.watches[other as usize].push(Watch {
                        blocker: first,
                        ..watch
                    });
                    continue 'watches;
                }
            }
            watches[kept] = Watch {
                blocker: first,
                ..watch
            };
            kept += 1;
            if self.is_false(trail, first) || !force(trail, self.fact(first), watch.clause) {
                result = Err(Falsified(watch.clause));
                break;
            }
        }
        while next < watches.len() {
            watches[kept] = watches[next];
            kept += 1;
            next += 1;
        }
        watches.truncate(kept);
        self.watches[literal as usize] = watches;
        result
    }

    pub fn bump(&mut self, clause: usize) {
        self.clauses[clause].activity += self.increment;
        if self.clauses[clause].activity > 1e100 {
            for entry in &mut self.clauses {
                entry.activity *= 1e-100;
            }
            self.increment *= 1e-100;
        }
    }

    pub fn decay(&mut self) {
        self.increment /= 0.999;
    }

    pub fn count(&self) -> usize {
        self.clauses.len()
    }

    /// Forgets the less useful half of the long clauses, and those that hold at the root. Only at
    /// level zero, where no clause is a reason.
    pub fn forget_half(&mut self, trail: &Trail) {
        let mut order: Vec<usize> = (0..self.clauses.len()).collect();
        let entry = |clause: usize| &self.clauses[clause];
        order.sort_by(|&a, &b| {
            let (a, b) = (entry(a), entry(b));
            let short = |clause: &Clause| clause.levels > 2;
            (short(a).cmp(&short(b))).then(b.activity.total_cmp(&a.activity))
        });
        let keep = order.len() / 2;
        let mut kept: Vec<usize> = order
            .iter()
            .enumerate()
            .filter(|&(rank, &clause)| rank < keep || self.clauses[clause].levels <= 2)
            .map(|(_, &clause)| clause)
            .collect();
        kept.sort_unstable();
        let old_literals = std::mem::take(&mut self.literals);
        let old_clauses = std::mem::take(&mut self.clauses);
        for list in &mut self.watches {
            list.clear();
        }
        for clause in kept {
            let old = &old_clauses[clause];
            let literals = &old_literals[old.from..old.from + old.length];
            let satisfied = literals
                .iter()
                .any(|&literal| trail.is_root(self.fact(literal)));
            if satisfied {
                continue;
            }
            // The root is at rest, so at least two literals of a clause that does not hold there
            // are undecided.
            let left: Vec<Literal> = literals
                .iter()
                .copied()
                .filter(|&literal| !trail.is_root(self.fact(literal ^ 1)))
                .collect();
            let place = self.add(&left, old.levels);
            self.clauses[place].activity = old.activity;
        }
    }
}
