//! The search: decide, propagate, learn from conflicts, restart.

use super::activity::Activity;
use super::clauses::{Clauses, Falsified, Literal};
use super::cumulative::{Conflict, Cumulative};
use super::moved::Moved;
use super::tardiness::Tardiness;
use super::trail::{Change, Crossed, Fact, NONE, Reason, Trail};

/// "The value of side `to` is at least that of side `from` plus `distance`."
#[derive(Clone, Copy, Debug)]
pub struct Link {
    pub from: usize,
    pub to: usize,
    pub distance: i64,
}

/// How a run of the search ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// All variables are fixed and keep all rules; read them before the next run.
    Solved,
    /// Not all assumptions can hold. With none of them: there is no solution at all.
    Impossible,
    /// The permitted conflicts are used up.
    Limit,
}

/// How the next decision is chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Choice {
    /// The task that can start first starts then.
    Earliest,
    /// What took part in recent conflicts.
    Active,
}

#[derive(Clone, Debug)]
pub struct Engine {
    pub trail: Trail,
    clauses: Clauses,
    activity: Activity,
    links: Vec<Link>,
    links_from: Vec<Vec<usize>>,
    cumulatives: Vec<Cumulative>,
    /// The cumulatives in which a variable occurs.
    uses: Vec<Vec<usize>>,
    dirty: Vec<usize>,
    is_dirty: Vec<bool>,
    tardiness: Tardiness,
    moved: Moved,
    goals_dirty: bool,
    /// Whether a variable counts for a goal.
    counts: Vec<bool>,
    next_change: usize,
    /// Variables to branch on.
    branching: usize,
    /// Values of the last solution, or hoped-for ones: decisions go towards them.
    pub phase: Vec<i64>,
    pub conflicts: u64,
    /// There is no solution, whatever is assumed.
    pub impossible: bool,
    /// Scratch of conflict analysis: place and value that each side must have.
    needed: Vec<(usize, i64)>,
    needed_sides: Vec<usize>,
    facts: Vec<Fact>,
    /// Scratch of propagation: atoms that a change decides.
    decided: Vec<u32>,
}

/// Clauses that are kept before the less useful half is forgotten; it grows with each time.
const FIRST_CLAUSES: usize = 8_000;

impl Engine {
    /// Of `trail`'s variables the first `branching` are decided; the others follow from them.
    pub fn new(
        trail: Trail,
        links: Vec<Link>,
        cumulatives: Vec<Cumulative>,
        (tardiness, moved): (Tardiness, Moved),
        branching: usize,
    ) -> Engine {
        let count = trail.variables();
        let mut links_from = vec![Vec::new(); 2 * count];
        for (index, link) in links.iter().enumerate() {
            links_from[link.from].push(index);
        }
        let mut uses = vec![Vec::new(); count];
        for (index, cumulative) in cumulatives.iter().enumerate() {
            for span in cumulative.spans() {
                uses[span.start].push(index);
                uses[span.end].push(index);
            }
        }
        for list in &mut uses {
            list.sort_unstable();
            list.dedup();
        }
        let mut counts = vec![false; count];
        counts[tardiness.total] = true;
        counts[moved.total] = true;
        let costly = tardiness.costs.iter().map(|cost| cost.variable);
        for variable in costly.chain(moved.preferred.iter().map(|&(variable, _)| variable)) {
            counts[variable] = true;
        }
        let mut engine = Engine {
            clauses: Clauses::new(count),
            activity: Activity::new(),
            dirty: (0..cumulatives.len()).collect(),
            is_dirty: vec![true; cumulatives.len()],
            goals_dirty: true,
            phase: (0..count).map(|variable| trail.lower(variable)).collect(),
            needed: vec![(NONE, 0); 2 * count],
            needed_sides: Vec::new(),
            facts: Vec::new(),
            decided: Vec::new(),
            next_change: 0,
            conflicts: 0,
            impossible: false,
            branching,
            trail,
            links,
            links_from,
            cumulatives,
            uses,
            tardiness,
            moved,
            counts,
        };
        engine.impossible = engine.follow_links().is_err();
        engine
    }

    /// Every link once: later only changed sides are looked at.
    fn follow_links(&mut self) -> Result<(), Crossed> {
        for index in 0..self.links.len() {
            let Link { from, to, distance } = self.links[index];
            let least = self.trail.bound(from) + distance;
            self.trail
                .raise(Fact { side: to, least }, Reason::Link(index))?;
        }
        Ok(())
    }

    /// Makes a fact true for ever; false where that leaves no solution.
    pub fn settle(&mut self, fact: Fact) -> bool {
        self.back_to(0);
        if self.trail.raise(fact, Reason::Decision).is_err() {
            self.impossible = true;
        }
        self.propagate_root()
    }

    /// Propagates without any decision; false where there is no solution.
    pub fn propagate_root(&mut self) -> bool {
        self.back_to(0);
        self.impossible = self.impossible || self.propagate().is_err();
        if !self.impossible {
            self.trail.settle_root();
            self.next_change = 0;
        }
        !self.impossible
    }

    /// Searches below the assumptions until a solution, a proof, `limit` conflicts, or until
    /// `stop` says so.
    ///
    /// All assumptions are made together at the first level, so a conflict there means that they
    /// cannot all hold; what is learnt deeper down holds without them.
    pub fn run(
        &mut self,
        assumptions: &[Fact],
        choice: Choice,
        limit: u64,
        stop: &dyn Fn() -> bool,
    ) -> Ended {
        self.back_to(0);
        let end = self.conflicts + limit;
        let mut turns = 0_u32;
        loop {
            if self.trail.level() == 0 {
                if !self.propagate_root() {
                    return Ended::Impossible;
                }
                self.tidy();
                self.trail.open_level();
                for &fact in assumptions {
                    if self.trail.raise(fact, Reason::Decision).is_err() {
                        return Ended::Impossible;
                    }
                }
            }
            turns += 1;
            if turns.is_multiple_of(64) && stop() {
                return Ended::Limit;
            }
            match self.propagate() {
                Err(conflict) => {
                    self.conflicts += 1;
                    if !self.learn(conflict) {
                        return Ended::Impossible;
                    }
                    if self.conflicts >= end {
                        return Ended::Limit;
                    }
                }
                Ok(()) => {
                    let Some(decision) = self.decide(choice) else {
                        return Ended::Solved;
                    };
                    self.trail.open_level();
                    self.trail
                        .raise(decision, Reason::Decision)
                        .expect("what is decided is not yet false");
                }
            }
        }
    }

    fn tidy(&mut self) {
        if self.clauses.count() > FIRST_CLAUSES + (self.conflicts as usize) / 20 {
            self.clauses.forget_half(&self.trail);
        }
    }

    fn decide(&mut self, choice: Choice) -> Option<Fact> {
        if choice == Choice::Active {
            while let Some(atom) = self.activity.pop() {
                if self.clauses.is_undecided(&self.trail, atom) {
                    let (variable, value) = self.clauses.atom(atom);
                    return Some(if self.phase[variable] >= value {
                        Fact::at_least(variable, value)
                    } else {
                        Fact::at_most(variable, value - 1)
                    });
                }
            }
        }
        let open = (0..self.branching).filter(|&variable| !self.trail.is_fixed(variable));
        let first = open.min_by_key(|&v| (self.trail.lower(v), self.trail.upper(v)))?;
        Some(Fact::at_most(first, self.trail.lower(first)))
    }

    pub fn back_to(&mut self, level: usize) {
        let (clauses, activity) = (&self.clauses, &mut self.activity);
        self.trail.back_to(level, |change| {
            for &(_, atom) in clauses.atoms_between(change.side, change.old, change.new) {
                activity.insert(atom);
            }
        });
        self.next_change = self.next_change.min(self.trail.changes.len());
    }

    fn propagate(&mut self) -> Result<(), Conflict> {
        let result = self.propagate_all();
        if result.is_err() {
            for index in self.dirty.drain(..) {
                self.is_dirty[index] = false;
            }
            self.goals_dirty = false;
            self.next_change = self.trail.changes.len();
        }
        result
    }

    fn propagate_all(&mut self) -> Result<(), Conflict> {
        loop {
            while self.next_change < self.trail.changes.len() {
                let change = self.trail.changes[self.next_change];
                self.next_change += 1;
                self.follow(&change)?;
            }
            if self.goals_dirty {
                self.goals_dirty = false;
                self.tardiness.propagate(&mut self.trail)?;
                self.moved.propagate(&mut self.trail)?;
            } else if let Some(index) = self.dirty.pop() {
                self.is_dirty[index] = false;
                self.cumulatives[index].propagate(&mut self.trail)?;
            } else {
                return Ok(());
            }
        }
    }

    /// Clauses, links and marks that follow from one change.
    fn follow(&mut self, change: &Change) -> Result<(), Conflict> {
        let Change { side, old, new, .. } = *change;
        self.decided.clear();
        self.decided.extend(
            self.clauses
                .atoms_between(side, old, new)
                .iter()
                .map(|entry| entry.1),
        );
        for place in 0..self.decided.len() {
            let atom = self.decided[place];
            // A raised lower bound makes the opposite literals false.
            let literal: Literal = 2 * atom + u32::from(side.is_multiple_of(2));
            let force = |trail: &mut Trail, fact: Fact, clause: usize| {
                trail.raise(fact, Reason::Clause(clause)).is_ok()
            };
            if let Err(Falsified(clause)) = self.clauses.visit(&mut self.trail, literal, force) {
                self.clauses.bump(clause);
                let literals = self.clauses.literals_of(clause);
                return Err(literals.iter().map(|&l| self.clauses.fact(l ^ 1)).collect());
            }
        }
        for place in 0..self.links_from[side].len() {
            let index = self.links_from[side][place];
            let Link { to, distance, .. } = self.links[index];
            // The change may be an old one that a later one has passed: use the present bound.
            let least = self.trail.bound(side) + distance;
            let fact = Fact { side: to, least };
            if let Err(Crossed) = self.trail.raise(fact, Reason::Link(index)) {
                let cause = Fact {
                    side,
                    least: least - distance,
                };
                return Err(vec![cause, fact.not()]);
            }
        }
        let variable = side / 2;
        for &index in &self.uses[variable] {
            if !self.is_dirty[index] {
                self.is_dirty[index] = true;
                self.dirty.push(index);
            }
        }
        self.goals_dirty |= self.counts[variable];
        Ok(())
    }

    /// The facts that made `fact` true by the change at `place`.
    fn explain(&mut self, place: usize, fact: Fact) {
        self.facts.clear();
        match self.trail.changes[place].reason {
            Reason::Decision => {}
            Reason::Clause(clause) => {
                self.clauses.bump(clause);
                let literals = self.clauses.literals_of(clause);
                // The first literal is the one that the clause made true.
                self.facts
                    .extend(literals[1..].iter().map(|&l| self.clauses.fact(l ^ 1)));
            }
            Reason::Link(index) => {
                let Link { from, distance, .. } = self.links[index];
                let least = self.trail.weakest(fact).least - distance;
                self.facts.push(Fact { side: from, least });
            }
            Reason::Stored { from, to } => {
                self.facts.extend_from_slice(self.trail.stored(from, to));
            }
        }
    }

    /// Notes that `fact` is needed; counts those that need a change of the present level.
    fn need(&mut self, fact: Fact, level_start: usize, count: &mut usize) {
        if self.trail.is_root(fact) {
            return;
        }
        let fact = self.trail.strongest(fact);
        let place = self
            .trail
            .cause(fact)
            .expect("what holds at the root was left out");
        let entry = &mut self.needed[fact.side];
        if entry.0 == NONE {
            self.needed_sides.push(fact.side);
            *entry = (place, fact.least);
            *count += usize::from(place >= level_start);
        } else if fact.least > entry.1 {
            *count += usize::from(place >= level_start);
            *count -= usize::from(entry.0 >= level_start);
            *entry = (place, fact.least);
        }
    }

    /// Learns a clause from facts that cannot all hold and goes back to where it decides
    /// something. False where the facts hold by the assumptions alone.
    fn learn(&mut self, conflict: Conflict) -> bool {
        // The conflict may lie wholly below the present level.
        let deepest = conflict
            .iter()
            .filter(|&&fact| !self.trail.is_root(fact))
            .filter_map(|&fact| self.trail.cause(fact))
            .max();
        let level = deepest.map_or(0, |place| self.trail.level_of(place));
        if level < 2 {
            self.impossible |= level == 0;
            return false;
        }
        self.back_to(level);
        let level_start = self.trail.start_of_level();
        let mut count = 0;
        for fact in conflict {
            self.need(fact, level_start, &mut count);
        }
        let mut place = self.trail.changes.len();
        let asserting = loop {
            place -= 1;
            let side = self.trail.changes[place].side;
            let (at, least) = self.needed[side];
            if at != place {
                continue;
            }
            let fact = Fact { side, least };
            if count == 1 {
                break fact;
            }
            self.needed[side].0 = NONE;
            count -= 1;
            self.explain(place, fact);
            let facts = std::mem::take(&mut self.facts);
            for &fact in &facts {
                self.need(fact, level_start, &mut count);
            }
            self.facts = facts;
        };
        self.add_learnt(asserting);
        true
    }

    fn add_learnt(&mut self, asserting: Fact) {
        let mut sides = std::mem::take(&mut self.needed_sides);
        sides.retain(|&side| self.needed[side].0 != NONE && side != asserting.side);
        sides.sort_unstable();
        sides.dedup();
        let redundant: Vec<bool> = sides.iter().map(|&side| self.is_redundant(side)).collect();
        let mut facts: Vec<(usize, Fact)> = Vec::with_capacity(sides.len());
        for (&side, redundant) in sides.iter().zip(redundant) {
            let (place, least) = self.needed[side];
            if !redundant {
                facts.push((place, Fact { side, least }));
            }
        }
        for &side in &sides {
            self.needed[side].0 = NONE;
        }
        self.needed[asserting.side].0 = NONE;
        sides.clear();
        self.needed_sides = sides;

        facts.sort_unstable_by_key(|&(place, _)| std::cmp::Reverse(place));
        let mut levels: Vec<usize> = facts
            .iter()
            .map(|&(place, _)| self.trail.level_of(place))
            .collect();
        let back = levels.first().copied().unwrap_or(0);
        levels.dedup();
        let opposite = asserting.not();
        if facts.is_empty() {
            self.back_to(0);
            self.trail
                .raise(opposite, Reason::Decision)
                .expect("the asserted fact is open at the root");
        } else {
            let mut literals: Vec<Literal> = Vec::with_capacity(facts.len() + 1);
            literals.push(self.clauses.literal(&self.trail, opposite));
            for &(_, fact) in &facts {
                literals.push(self.clauses.literal(&self.trail, fact.not()));
            }
            self.activity.grow(self.clauses.atoms.len());
            for &literal in &literals {
                self.activity.bump(literal / 2);
            }
            self.back_to(back);
            let clause = self.clauses.add(&literals, levels.len() + 1);
            self.trail
                .raise(self.clauses.fact(literals[0]), Reason::Clause(clause))
                .expect("the asserted fact is open at its level");
        }
        self.activity.decay();
        self.clauses.decay();
    }

    /// Whether the needed fact of a side follows from the other needed facts.
    fn is_redundant(&mut self, side: usize) -> bool {
        let (place, least) = self.needed[side];
        if self.trail.changes[place].reason == Reason::Decision {
            return false;
        }
        self.explain(place, Fact { side, least });
        self.facts.iter().all(|&fact| {
            if self.trail.is_root(fact) {
                return true;
            }
            let (at, needed) = self.needed[fact.side];
            // Only what came before counts, or two facts could each rest on the other.
            at < place && needed >= self.trail.strongest(fact).least
        })
    }
}
