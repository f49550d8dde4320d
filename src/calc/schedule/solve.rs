//! The phases of a solve: contradictions, heads, a first search that is the same on every machine,
//! then all threads until the proof or the end of the budget, then one answer out of many equal
//! ones.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use super::blocks::Blocks;
use super::canonical;
use super::check::{check, figures};
use super::conflict;
use super::descent::Descent;
use super::generate::Cost;
use super::heads::{Heads, NoHeads};
use super::incumbent::{Incumbent, cost_of};
use super::neighbourhood::Neighbourhoods;
use super::outcome::{Bound, Outcome, Progress, Solution, Statistics};
use super::problem::Problem;
use super::proof::{EASY_JOBS, Proof, Standing};
use super::request::Tardiness;
use super::search::Search;
use super::tighten::tighten;
use crate::calc::budget::Budget;

/// Rounds of local and exact search before further threads begin: up to here every solve takes the
/// same way.
const FIRST_ROUNDS: u64 = 8;
/// Conflicts of the exact search in each of these rounds, for problems of up to `EASY_JOBS` jobs.
const CONFLICTS_OF_ROUND: usize = 400;
/// Jobs that are placed in the schedules of each of these rounds, all together: large problems get
/// fewer schedules for the same time.
const PLACED_IN_ROUND: usize = 25_000;
/// Runs of the exact search near the best schedule for each one without restriction, for problems of
/// up to `EASY_JOBS` jobs.
const NEAR_RUNS: usize = 4;
/// The same for larger problems: there the search without restriction seldom gets to its end.
const NEAR_RUNS_OF_MANY: usize = 12;
/// Runs of a descent between two looks at what the others have found.
const DESCENTS_AT_ONCE: usize = 4;
/// Schedules of the local search between two looks at what the others have found.
const SCHEDULES_AT_ONCE: usize = 64;
/// Jobs above which only the local search is used: the exact one would take long and much memory to set up.
const MOST_EXACT_JOBS: usize = 6_000;
/// The share of its time that a solve keeps for the preferred starts, where there are any.
const SHARE_TO_KEEP_STARTS: f64 = 0.3;
/// Conflicts of each trial whether a part of an impossible problem is impossible.
const TRIAL_CONFLICTS: u64 = 2_000;

/// Finds the best schedule that the budget allows, and the bound that no schedule beats.
///
/// An answer that is proven depends on the request alone. A budget of steps counts runs of the
/// exact search and batches of the local one.
pub fn solve(
    problem: &Problem,
    budget: &Budget<'_>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Outcome {
    canonical::solved(problem, |problem| solve_in_order(problem, budget, progress))
}

fn solve_in_order(
    problem: &Problem,
    budget: &Budget<'_>,
    progress: &(dyn Fn(Progress) + Sync),
) -> Outcome {
    if let Some(conflict) = conflict::contradictions(problem) {
        return Outcome::NoSchedule(conflict);
    }
    let heads = match Heads::new(problem, budget) {
        Ok(heads) => heads,
        Err(NoHeads::Empty(job)) => {
            return Outcome::NoSchedule(conflict::of_links(problem, job, budget));
        }
        Err(NoHeads::Spent) => return Outcome::NotFoundInTime,
    };
    if problem.jobs.is_empty() {
        return Outcome::Scheduled(nothing_to_do(problem));
    }
    let blocks = Blocks::new(problem);
    Solve {
        problem,
        heads: &heads,
        blocks: &blocks,
        budget,
        progress,
        shared: Mutex::new(Incumbent::none(problem, &heads)),
        over: AtomicBool::new(false),
        impossible: AtomicBool::new(false),
        prefers: problem.jobs.iter().any(|job| job.prefer.is_some()),
        schedules: AtomicU64::new(0),
        conflicts: AtomicU64::new(0),
    }
    .run()
}

fn nothing_to_do(problem: &Problem) -> Solution {
    let from = problem.request.from;
    Solution {
        starts: Vec::new(),
        tardiness: Tardiness(0),
        finish: from,
        moved: 0,
        bound: Bound {
            tardiness: Tardiness(0),
            finish: from,
        },
        proven: true,
        statistics: Statistics::default(),
    }
}

struct Solve<'a> {
    problem: &'a Problem,
    heads: &'a Heads,
    blocks: &'a Blocks,
    budget: &'a Budget<'a>,
    progress: &'a (dyn Fn(Progress) + Sync),
    /// The best that any thread has found.
    shared: Mutex<Incumbent>,
    /// Proven or impossible: every thread ends.
    over: AtomicBool,
    impossible: AtomicBool,
    /// Whether the request prefers starts.
    prefers: bool,
    schedules: AtomicU64,
    conflicts: AtomicU64,
}

impl Solve<'_> {
    fn run(&self) -> Outcome {
        let mut incumbent = self.exchange(None);
        let stop = || self.budget.is_spent();
        let mut search = Search::new(self.problem, self.heads, self.blocks, 1, &stop);
        self.share(&search, &mut incumbent);
        if !self.is_exact() {
            let first = incumbent.clone();
            while !self.must_end() && !incumbent.is_proven() {
                self.improve(&mut search);
                self.share(&search, &mut incumbent);
            }
            self.schedules
                .fetch_add(search.schedules(), Ordering::Relaxed);
            return self.conclude(&first, None);
        }
        let mut proof = Proof::new(self.problem, self.heads);
        let mut parts = Neighbourhoods::new(self.problem, self.blocks, 2);
        let jobs = self.problem.jobs.len();
        let batches = (PLACED_IN_ROUND / jobs / SCHEDULES_AT_ONCE).clamp(1, 4);
        // The time between two conflicts grows with the square of the jobs.
        let conflicts = CONFLICTS_OF_ROUND * EASY_JOBS.pow(2) / jobs.max(EASY_JOBS).pow(2);
        for round in 1..=FIRST_ROUNDS {
            for _ in 0..batches {
                if self.must_end() || (incumbent.is_proven() && !self.prefers) {
                    break;
                }
                self.improve(&mut search);
            }
            self.share(&search, &mut incumbent);
            while proof.conflicts() < round * conflicts.max(4) as u64 && !self.must_end() {
                self.prove(&mut proof, &mut parts, &mut incumbent);
            }
        }
        let first = incumbent.clone();
        let seed = proof.clone();
        if !self.must_end() {
            self.go_on_with_all_threads(search, proof, parts, incumbent);
        } else {
            self.schedules
                .fetch_add(search.schedules(), Ordering::Relaxed);
            self.conflicts
                .fetch_add(proof.conflicts(), Ordering::Relaxed);
        }
        self.conclude(&first, Some(seed))
    }

    /// Whether there is room and time for the exact search, which takes a while to set up.
    fn is_exact(&self) -> bool {
        self.problem.jobs.len() <= MOST_EXACT_JOBS && !self.budget.is_spent()
    }

    /// A batch of the local search.
    fn improve(&self, search: &mut Search<'_>) {
        for schedule in 0..SCHEDULES_AT_ONCE {
            // One schedule of a large problem takes most of a second.
            if schedule > 0 && self.must_end() {
                break;
            }
            search.advance();
        }
        self.budget.take(1);
    }

    /// Tells the others what the local search has found, and takes what is better.
    fn share(&self, search: &Search<'_>, incumbent: &mut Incumbent) {
        incumbent.offer(search.best_cost(), search.best_starts());
        *incumbent = self.exchange(Some(incumbent));
    }

    /// Whether the search for tardiness and finish is over.
    fn must_end(&self) -> bool {
        self.over.load(Ordering::Relaxed)
            || self.budget.is_spent()
            || (self.prefers && self.budget.spent_share() > 1.0 - SHARE_TO_KEEP_STARTS)
    }

    /// Exchanges what a thread has found for the best of all.
    fn exchange(&self, own: Option<&Incumbent>) -> Incumbent {
        let mut shared = self
            .shared
            .lock()
            .expect("no thread panics while it holds the lock");
        if let Some(own) = own {
            let better = shared.offer(own.cost, &own.starts);
            let raised = own.least_tardiness > shared.least_tardiness;
            shared.least_tardiness = shared.least_tardiness.max(own.least_tardiness);
            shared.least_finish = shared.least_finish.max(own.least_finish);
            if shared.is_found() && (better || raised) {
                (self.progress)(Progress {
                    tardiness: self.tardiness(shared.cost.tardiness),
                    finish: self.problem.wall(shared.cost.finish),
                    bound: self.tardiness(shared.least_tardiness),
                });
            }
        }
        shared.clone()
    }

    fn tardiness(&self, units: i64) -> Tardiness {
        Tardiness(i128::from(units) * i128::from(self.problem.weight_unit))
    }

    /// One free run of the exact search and a few near the best schedule.
    fn prove(&self, proof: &mut Proof<'_>, parts: &mut Neighbourhoods, incumbent: &mut Incumbent) {
        let stop = || self.must_end();
        let near = if incumbent.is_found() && !incumbent.is_tardiness_proven() {
            if self.problem.jobs.len() > EASY_JOBS {
                NEAR_RUNS_OF_MANY
            } else {
                NEAR_RUNS
            }
        } else {
            0
        };
        for run in 0..=near {
            if self.must_end() {
                return;
            }
            let standing = if run == 0 {
                proof.advance(incumbent, &stop)
            } else {
                proof.advance_near(incumbent, parts, &stop)
            };
            *incumbent = self.exchange(Some(incumbent));
            self.budget.take(1);
            match standing {
                Standing::Open => {}
                Standing::Proven => return self.over.store(true, Ordering::Relaxed),
                Standing::Impossible => {
                    self.impossible.store(true, Ordering::Relaxed);
                    return self.over.store(true, Ordering::Relaxed);
                }
            }
        }
    }

    fn go_on_with_all_threads(
        &self,
        search: Search<'_>,
        proof: Proof<'_>,
        parts: Neighbourhoods,
        incumbent: Incumbent,
    ) {
        let mut improver = Improver {
            search,
            descent: None,
            incumbent: incumbent.clone(),
        };
        let mut prover = Prover {
            proof,
            parts,
            incumbent,
        };
        if self.budget.threads() > 1 {
            std::thread::scope(|scope| {
                scope.spawn(|| {
                    while !self.must_end() {
                        improver.advance(self);
                    }
                });
                while !self.must_end() {
                    prover.advance(self);
                }
            });
        } else {
            // The two get about the same time.
            while !self.must_end() {
                let began = self.budget.elapsed();
                prover.advance(self);
                let half = self.budget.elapsed();
                improver.advance(self);
                while !self.must_end() && self.budget.elapsed() - half < half - began {
                    improver.advance(self);
                }
            }
        }
        let conflicts = prover.proof.conflicts()
            + improver
                .descent
                .as_ref()
                .map_or(0, |descent| descent.conflicts());
        self.conflicts.fetch_add(conflicts, Ordering::Relaxed);
        self.schedules
            .fetch_add(improver.search.schedules(), Ordering::Relaxed);
    }

    fn conclude(&self, first: &Incumbent, seed: Option<Proof<'_>>) -> Outcome {
        let mut incumbent = self.exchange(None);
        if self.impossible.load(Ordering::Relaxed) {
            return Outcome::NoSchedule(self.explain_impossible());
        }
        if !incumbent.is_found() {
            return Outcome::NotFoundInTime;
        }
        let same = (first.cost.tardiness, first.cost.finish)
            == (incumbent.cost.tardiness, incumbent.cost.finish);
        if incumbent.is_proven() && !same {
            match seed.and_then(|seed| self.settle_on_one(first, seed, incumbent.cost)) {
                Some(starts) => incumbent.starts = starts,
                // Without the one answer nothing may be called proven.
                None => incumbent.least_finish = incumbent.cost.finish - 1,
            }
        } else if incumbent.is_proven() {
            incumbent.starts.clone_from(&first.starts);
        }
        if self.prefers && self.is_exact() {
            incumbent.cost = cost_of(self.problem, &incumbent.starts);
            let mut keeper = Proof::new(self.problem, self.heads);
            keeper.keep_preferred(&mut incumbent, &|| self.budget.is_spent());
        }
        Outcome::Scheduled(self.solution(&incumbent))
    }

    /// The same schedule of the best cost each time: the exact search goes on from where every
    /// solve has been, now with the best cost as a rule.
    fn settle_on_one(
        &self,
        first: &Incumbent,
        mut seed: Proof<'_>,
        best: Cost,
    ) -> Option<Vec<i64>> {
        seed.find(first, best, &|| self.budget.is_spent())
    }

    fn solution(&self, incumbent: &Incumbent) -> Solution {
        let problem = self.problem;
        let starts = tighten(problem, self.heads, &incumbent.starts);
        let cost = cost_of(problem, &starts);
        let starts: Vec<_> = starts.into_iter().map(|at| problem.wall(at)).collect();
        debug_assert_eq!(check(&problem.request, &starts).err(), None);
        let figures = figures(&problem.request, &starts);
        let bound = Bound {
            tardiness: self.tardiness(incumbent.least_tardiness),
            finish: problem.wall(incumbent.least_finish),
        };
        Solution {
            tardiness: figures.tardiness,
            finish: figures.finish,
            moved: cost.moved,
            bound,
            proven: bound.tardiness == figures.tardiness && bound.finish == figures.finish,
            statistics: Statistics {
                schedules: self.schedules.load(Ordering::Relaxed),
                conflicts: self.conflicts.load(Ordering::Relaxed),
            },
            starts,
        }
    }

    fn explain_impossible(&self) -> super::outcome::Conflict {
        let impossible = |part: &Problem| match Heads::new(part, self.budget) {
            Err(NoHeads::Empty(_)) => true,
            Err(NoHeads::Spent) => false,
            Ok(heads) => Proof::new(part, &heads).is_impossible_within(TRIAL_CONFLICTS),
        };
        conflict::of_resources(self.problem, self.budget, &impossible)
    }
}

/// The thread that proves: the exact search, free and near the best schedule.
struct Prover<'a> {
    proof: Proof<'a>,
    parts: Neighbourhoods,
    incumbent: Incumbent,
}

impl Prover<'_> {
    fn advance(&mut self, solve: &Solve<'_>) {
        solve.prove(&mut self.proof, &mut self.parts, &mut self.incumbent);
    }
}

/// The thread that improves: the local search, and where dates are missed a descent by parts.
struct Improver<'a> {
    search: Search<'a>,
    descent: Option<Descent<'a>>,
    incumbent: Incumbent,
}

impl<'a> Improver<'a> {
    fn advance(&mut self, solve: &Solve<'a>) {
        if self.incumbent.is_found() && !self.incumbent.is_tardiness_proven() {
            let descent = self.descent.get_or_insert_with(|| {
                Descent::new(solve.problem, solve.heads, solve.blocks, &self.incumbent)
            });
            for _ in 0..DESCENTS_AT_ONCE {
                descent.advance(&self.incumbent, &|| solve.must_end());
                self.incumbent = solve.exchange(Some(descent.stands()));
                solve.budget.take(1);
            }
            return;
        }
        solve.improve(&mut self.search);
        solve.share(&self.search, &mut self.incumbent);
    }
}
