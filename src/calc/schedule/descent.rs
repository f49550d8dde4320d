//! Descent by parts to a schedule that no part improves, and from there aside and down again
//! (iterated local search, Lourenço, Martin and Stützle 2003).

use super::blocks::Blocks;
use super::heads::Heads;
use super::incumbent::Incumbent;
use super::neighbourhood::Neighbourhoods;
use super::problem::Problem;
use super::proof::Proof;

/// Parts in a row that bring nothing until the descent begins elsewhere.
const PATIENCE: usize = 40;
/// Jobs for each step aside: with fewer steps a descent ends where the one before it did.
const JOBS_OF_STEP: usize = 18;
/// From descent to descent the steps aside are a quarter of those before, and after so many descents as many as at
/// first: some better schedules lie near the best one and others far.
const NEARNESSES: usize = 3;
/// The most that a schedule from which a descent begins may be late, as a multiple of the best.
const LATER: i64 = 2;

/// A search of its own for less tardiness, which may stand at a schedule worse than the best.
pub(super) struct Descent<'a> {
    proof: Proof<'a>,
    parts: Neighbourhoods,
    stands: Incumbent,
    fruitless: usize,
    /// Descents that have ended.
    ended: usize,
}

impl<'a> Descent<'a> {
    pub fn new(
        problem: &'a Problem,
        heads: &Heads,
        blocks: &Blocks,
        best: &Incumbent,
    ) -> Descent<'a> {
        Descent {
            proof: Proof::new(problem, heads),
            parts: Neighbourhoods::new(problem, blocks, 3),
            stands: best.clone(),
            fruitless: 0,
            ended: 0,
        }
    }

    pub fn conflicts(&self) -> u64 {
        self.proof.conflicts()
    }

    /// Where the search stands.
    pub fn stands(&self) -> &Incumbent {
        &self.stands
    }

    /// One run on a part; `best` is the best schedule of all searches.
    pub fn advance(&mut self, best: &Incumbent, stop: &dyn Fn() -> bool) {
        self.stands.least_tardiness = best.least_tardiness;
        let before = self.stands.cost;
        self.proof
            .advance_near(&mut self.stands, &mut self.parts, stop);
        if self.stands.cost < before {
            self.fruitless = 0;
            return;
        }
        self.fruitless += 1;
        if self.fruitless < PATIENCE {
            return;
        }
        self.fruitless = 0;
        self.parts.was_fruitful();
        self.stands.clone_from(best);
        let most = best.cost.tardiness * LATER;
        let far = self.stands.starts.len().div_ceil(JOBS_OF_STEP);
        let steps = far >> (2 * (self.ended % NEARNESSES));
        self.ended += 1;
        for _ in 0..steps.max(1) {
            self.proof
                .step_aside(&mut self.stands, &mut self.parts, most, stop);
        }
    }
}
