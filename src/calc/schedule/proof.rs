//! The exact search as a sequence of short runs: first for less tardiness than the best schedule
//! has, then, with the tardiness proven, for an earlier finish.

use super::exact::{Choice, Ended, Fact, Model};
use super::generate::Cost;
use super::heads::Heads;
use super::incumbent::{Incumbent, cost_of};
use super::neighbourhood::Neighbourhoods;
use super::problem::Problem;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    Open,
    Proven,
    /// There is no schedule.
    Impossible,
}

#[derive(Clone)]
pub(super) struct Proof<'a> {
    problem: &'a Problem,
    model: Model,
    runs: u64,
    /// The tardiness above which everything is excluded for good.
    settled: Option<i64>,
}

/// Jobs up to which runs have their full length; in larger problems each conflict takes longer.
pub(super) const EASY_JOBS: usize = 150;
/// Conflicts of the shortest run.
const SHORTEST_RUN: u64 = 100;
/// Conflicts that are spent on keeping preferred starts.
const PREFER_CONFLICTS: u64 = 20_000;

impl<'a> Proof<'a> {
    pub fn new(problem: &'a Problem, heads: &Heads) -> Proof<'a> {
        let mut model = Model::new(problem, heads);
        model.engine.propagate_root();
        Proof {
            problem,
            model,
            runs: 0,
            settled: None,
        }
    }

    pub fn conflicts(&self) -> u64 {
        self.model.engine.conflicts
    }

    /// One run between two restarts.
    pub fn advance(&mut self, incumbent: &mut Incumbent, stop: &dyn Fn() -> bool) -> Standing {
        if self.model.engine.impossible && self.settled.is_none() {
            return Standing::Impossible;
        }
        let Some(goal) = self.next_goal(incumbent) else {
            return Standing::Proven;
        };
        self.runs += 1;
        let found = incumbent.is_found();
        let choice = if !found && self.runs % 2 == 1 {
            Choice::Earliest
        } else {
            Choice::Active
        };
        let jobs = self.problem.jobs.len().max(EASY_JOBS);
        let shortest = (SHORTEST_RUN * EASY_JOBS as u64 / jobs as u64).max(5);
        let limit = shortest * luby(self.runs);
        let assumptions: Vec<Fact> = goal.into_iter().collect();
        match self.model.engine.run(&assumptions, choice, limit, stop) {
            Ended::Limit => Standing::Open,
            Ended::Solved => {
                self.offer(incumbent);
                Standing::Open
            }
            Ended::Impossible if !found => Standing::Impossible,
            Ended::Impossible if incumbent.is_tardiness_proven() => {
                incumbent.least_finish = incumbent.cost.finish;
                Standing::Proven
            }
            Ended::Impossible => {
                incumbent.least_tardiness = incumbent.cost.tardiness;
                Standing::Open
            }
        }
    }

    /// One run in which only some jobs of the best schedule may move.
    pub fn advance_near(
        &mut self,
        incumbent: &mut Incumbent,
        parts: &mut Neighbourhoods,
        stop: &dyn Fn() -> bool,
    ) -> Standing {
        let Some(goal) = self.next_goal(incumbent) else {
            return Standing::Proven;
        };
        let free = parts.choose(self.problem, incumbent);
        let mut assumptions: Vec<Fact> = goal.into_iter().collect();
        assumptions.extend(kept(&incumbent.starts, &free));
        let limit = parts.conflicts();
        match self
            .model
            .engine
            .run(&assumptions, Choice::Active, limit, stop)
        {
            Ended::Limit => parts.was_hard(),
            Ended::Solved => {
                parts.was_fruitful();
                self.offer(incumbent);
            }
            Ended::Impossible => parts.was_easy(),
        }
        Standing::Open
    }

    /// Takes another schedule in which only some jobs have moved, and which may be as late as
    /// `most`.
    pub fn step_aside(
        &mut self,
        incumbent: &mut Incumbent,
        parts: &mut Neighbourhoods,
        most: i64,
        stop: &dyn Fn() -> bool,
    ) {
        let free = parts.choose(self.problem, incumbent);
        let mut assumptions = vec![Fact::at_most(self.model.tardiness, most)];
        assumptions.extend(kept(&incumbent.starts, &free));
        let engine = &mut self.model.engine;
        engine.back_to(0);
        for (job, &start) in incumbent.starts.iter().enumerate() {
            engine.phase[job] = if free[job] {
                parts.shifted(start)
            } else {
                start
            };
        }
        let limit = parts.conflicts();
        if engine.run(&assumptions, Choice::Active, limit, stop) == Ended::Solved {
            incumbent.starts = self.model.starts();
            incumbent.cost = cost_of(self.problem, &incumbent.starts);
        }
    }

    /// A schedule that costs what is proven to be the best, always the same one.
    pub fn find(
        &mut self,
        first: &Incumbent,
        best: Cost,
        stop: &dyn Fn() -> bool,
    ) -> Option<Vec<i64>> {
        let Model {
            engine,
            tardiness,
            finish,
            ..
        } = &mut self.model;
        engine.settle(Fact::at_most(*tardiness, best.tardiness));
        engine.settle(Fact::at_most(*finish, best.finish));
        if first.is_found() {
            engine.phase[..first.starts.len()].copy_from_slice(&first.starts);
        }
        loop {
            self.runs += 1;
            let limit = SHORTEST_RUN * luby(self.runs);
            match self.model.engine.run(&[], Choice::Active, limit, stop) {
                Ended::Solved => return Some(self.model.starts()),
                Ended::Impossible => return None,
                Ended::Limit if stop() => return None,
                Ended::Limit => {}
            }
        }
    }

    /// Moves as few preferred starts as possible while tardiness and finish stay as they are.
    pub fn keep_preferred(&mut self, incumbent: &mut Incumbent, stop: &dyn Fn() -> bool) {
        let Model {
            engine,
            tardiness,
            finish,
            moved,
            ..
        } = &mut self.model;
        let moved = *moved;
        engine.settle(Fact::at_most(*tardiness, incumbent.cost.tardiness));
        engine.settle(Fact::at_most(*finish, incumbent.cost.finish));
        let end = engine.conflicts + PREFER_CONFLICTS;
        while self.conflicts() < end && !stop() {
            let kept = |job: usize| self.problem.jobs[job].prefer;
            let engine = &mut self.model.engine;
            for (job, &start) in incumbent.starts.iter().enumerate() {
                engine.phase[job] = kept(job).unwrap_or(start);
            }
            self.runs += 1;
            let limit = SHORTEST_RUN * luby(self.runs);
            // Preferred starts that are impossible anyway are not counted by the engine.
            let possible = incumbent.cost.moved as i64 - self.model.lost_preferences as i64;
            let fewer = Fact::at_most(moved, possible - 1);
            match engine.run(&[fewer], Choice::Active, limit, stop) {
                Ended::Solved => self.offer(incumbent),
                Ended::Impossible => return,
                Ended::Limit => {}
            }
        }
    }

    /// Whether it takes at most `conflicts` to prove that there is no schedule.
    pub fn is_impossible_within(&mut self, conflicts: u64) -> bool {
        self.model
            .engine
            .run(&[], Choice::Active, conflicts, &|| false)
            == Ended::Impossible
    }

    fn offer(&mut self, incumbent: &mut Incumbent) {
        let starts = self.model.starts();
        incumbent.offer(cost_of(self.problem, &starts), &starts);
    }

    /// What a better schedule has; `Some(None)` where any schedule will do and `None` where there
    /// is no better one.
    fn next_goal(&mut self, incumbent: &mut Incumbent) -> Option<Option<Fact>> {
        if incumbent.is_proven() {
            return None;
        }
        let Model {
            engine,
            tardiness,
            finish,
            ..
        } = &mut self.model;
        engine.back_to(0);
        incumbent.least_tardiness = incumbent
            .least_tardiness
            .max(engine.trail.lower(*tardiness));
        if !incumbent.is_found() {
            return Some(None);
        }
        engine.phase[..incumbent.starts.len()].copy_from_slice(&incumbent.starts);
        if !incumbent.is_tardiness_proven() {
            return Some(Some(Fact::at_most(
                *tardiness,
                incumbent.cost.tardiness - 1,
            )));
        }
        if self.settled.is_none() {
            // Everything later than the proven tardiness is excluded for good.
            self.settled = Some(incumbent.cost.tardiness);
            engine.settle(Fact::at_most(*tardiness, incumbent.cost.tardiness));
        }
        incumbent.least_finish = incumbent.least_finish.max(engine.trail.lower(*finish));
        (!incumbent.is_proven()).then(|| Some(Fact::at_most(*finish, incumbent.cost.finish - 1)))
    }
}

/// That all jobs but the free ones start when they do.
fn kept(starts: &[i64], free: &[bool]) -> impl Iterator<Item = Fact> {
    let jobs = starts.iter().zip(free).enumerate();
    jobs.filter(|(_, (_, free))| !**free)
        .flat_map(|(job, (&start, _))| [Fact::at_least(job, start), Fact::at_most(job, start)])
}

/// The sequence 1 1 2 1 1 2 4 1 1 2 1 1 2 4 8 ... (Luby, Sinclair and Zuckerman 1993), from 1.
fn luby(mut place: u64) -> u64 {
    loop {
        let bits = 64 - place.leading_zeros();
        if place == (1 << bits) - 1 {
            return 1 << (bits - 1);
        }
        place -= (1 << (bits - 1)) - 1;
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_lengths_of_runs_follow_luby() {
        let lengths: Vec<u64> = (1..=15).map(super::luby).collect();
        assert_eq!(lengths, [1, 1, 2, 1, 1, 2, 4, 1, 1, 2, 1, 1, 2, 4, 8]);
    }
}
