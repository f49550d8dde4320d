//! Local search over the order in which blocks are placed, by late acceptance.

use super::blocks::Blocks;
use super::generate::{Cost, Generator, Genome};
use super::heads::{Heads, next_start};
use super::justify::justified;
use super::problem::Problem;
use super::random::Random;

/// How many steps back the cost lies that a new schedule has to meet.
const HISTORY: usize = 400;

pub(super) struct Search<'a> {
    problem: &'a Problem,
    heads: &'a Heads,
    blocks: &'a Blocks,
    generator: Generator<'a>,
    random: Random,
    current: Genome,
    current_cost: Cost,
    /// Starts of the schedule of `current`.
    current_starts: Vec<i64>,
    history: Vec<Cost>,
    step: usize,
    candidate: Genome,
    /// Blocks of each group of linked jobs.
    groups: Vec<Vec<usize>>,
    group_of: Vec<usize>,
    best_cost: Cost,
    best_starts: Vec<i64>,
    schedules: u64,
    /// Whether blocks are single jobs, so that schedules can be justified.
    single: bool,
}

impl<'a> Search<'a> {
    /// Starts from the best of a few simple orders.
    pub fn new(
        problem: &'a Problem,
        heads: &'a Heads,
        blocks: &'a Blocks,
        seed: u64,
        stop: &dyn Fn() -> bool,
    ) -> Search<'a> {
        let (groups, group_of) = blocks.groups();
        let genome = Genome {
            order: (0..blocks.jobs.len()).collect(),
            inside: blocks.jobs.clone(),
            release: vec![i64::MIN; problem.jobs.len()],
        };
        let mut search = Search {
            problem,
            heads,
            blocks,
            generator: Generator::new(problem, heads, blocks),
            random: Random::new(seed),
            candidate: genome.clone(),
            current: genome,
            current_cost: Cost::WORST,
            current_starts: Vec::new(),
            history: Vec::new(),
            step: 0,
            groups,
            group_of,
            best_cost: Cost::WORST,
            best_starts: Vec::new(),
            schedules: 0,
            single: blocks.jobs.iter().all(|jobs| jobs.len() == 1),
        };
        for key in 0..3 {
            if key > 0 && stop() {
                break;
            }
            search.candidate.order = search.first_order(key);
            let cost = search.evaluate(Cost::WORST);
            if cost < search.current_cost || search.current_starts.is_empty() {
                search.accept(cost);
            }
        }
        search.history = vec![search.current_cost; HISTORY];
        search
    }

    pub fn best_cost(&self) -> Cost {
        self.best_cost
    }

    pub fn best_starts(&self) -> &[i64] {
        &self.best_starts
    }

    pub fn schedules(&self) -> u64 {
        self.schedules
    }

    /// Blocks by least slack before their dates, by latest start, or by earliest start.
    fn first_order(&self, key: usize) -> Vec<usize> {
        let urgency = urgency(self.problem);
        let mut order: Vec<usize> = (0..self.blocks.jobs.len()).collect();
        order.sort_by_key(|&block| {
            let jobs = &self.blocks.jobs[block];
            let least = |value: &dyn Fn(usize) -> i64| jobs.iter().map(|&job| value(job)).min();
            match key {
                0 => least(&|job| urgency[job]),
                1 => least(&|job| self.heads.latest[job]),
                _ => least(&|job| self.heads.earliest[job]),
            }
        });
        order
    }

    fn evaluate(&mut self, limit: Cost) -> Cost {
        self.schedules += 1;
        self.generator.generate(&self.candidate, limit)
    }

    /// Evaluates the candidate after it has been moved as late as possible and placed anew.
    fn evaluate_justified(&mut self, limit: Cost) -> Cost {
        // A schedule that is far worse will not become good enough.
        let hope = Cost {
            finish: limit.finish.saturating_add(limit.finish / 16),
            ..limit
        };
        let first = self.evaluate(hope);
        if first > hope || first.unplaced > 0 {
            return first.max(limit.just_above());
        }
        let late = justified(self.problem, &self.heads.latest, self.generator.starts());
        let blocks = self.blocks;
        self.candidate
            .order
            .sort_by_key(|&block| late[blocks.jobs[block][0]]);
        self.candidate.release.fill(i64::MIN);
        self.evaluate(limit)
    }

    fn accept(&mut self, cost: Cost) {
        std::mem::swap(&mut self.current, &mut self.candidate);
        self.current_cost = cost;
        self.current_starts.clear();
        self.current_starts
            .extend_from_slice(self.generator.starts());
        if cost < self.best_cost {
            self.best_cost = cost;
            self.best_starts.clone_from(&self.current_starts);
        }
    }

    /// Tries one changed order; true if it is better than all before.
    pub fn advance(&mut self) -> bool {
        let place = self.step % HISTORY;
        self.step += 1;
        let limit = self.history[place].max(self.current_cost);
        self.candidate.order.clone_from(&self.current.order);
        self.candidate.release.clone_from(&self.current.release);
        let inside_block = self.change();
        let before = self.best_cost;
        let cost = if self.single {
            self.evaluate_justified(limit)
        } else {
            self.evaluate(limit)
        };
        if cost <= limit {
            self.accept(cost);
            if let Some(block) = inside_block {
                let jobs = self.current.inside[block].clone();
                self.candidate.inside[block] = jobs;
            }
        } else if let Some(block) = inside_block {
            let jobs = self.current.inside[block].clone();
            self.candidate.inside[block] = jobs;
        }
        if self.current_cost < self.history[place] {
            self.history[place] = self.current_cost;
        }
        self.best_cost < before
    }

    /// Changes the candidate; tells the block whose inner order was changed.
    fn change(&mut self) -> Option<usize> {
        let count = self.candidate.order.len();
        match self.random.below(100) {
            0..45 => {
                let from = self.random.below(count);
                let to = self.near(from, count);
                let block = self.candidate.order.remove(from);
                self.candidate.order.insert(to, block);
            }
            45..65 => {
                let from = self.random.below(count);
                let to = self.near(from, count);
                self.candidate.order.swap(from, to);
            }
            65..78 => self.move_group(count),
            78..94 => self.change_release(),
            _ => return self.change_inside(),
        }
        None
    }

    /// A place most often near `from`.
    fn near(&mut self, from: usize, count: usize) -> usize {
        let reach = match self.random.below(10) {
            0..5 => 8,
            5..8 => 40,
            _ => count,
        };
        let low = from.saturating_sub(reach);
        let high = (from + reach + 1).min(count);
        low + self.random.below(high - low)
    }

    /// Moves all blocks of a group of linked jobs by the same number of places.
    fn move_group(&mut self, count: usize) {
        let group = self.random.below(self.groups.len());
        let members = self.groups[group].len();
        let reach = 1 + self.random.below(count.min(4 * members + 1));
        let earlier = self.random.one_in(2);
        let mut keyed: Vec<(usize, usize, usize)> = Vec::with_capacity(count);
        for (place, &block) in self.candidate.order.iter().enumerate() {
            let moved = self.group_of[block] == group;
            let key = match (moved, earlier) {
                (false, _) => place,
                (true, true) => place.saturating_sub(reach),
                (true, false) => place + reach,
            };
            keyed.push((key, if moved == earlier { 0 } else { 1 }, block));
        }
        keyed.sort_by_key(|&(key, tie, _)| (key, tie));
        for (place, (_, _, block)) in keyed.into_iter().enumerate() {
            self.candidate.order[place] = block;
        }
    }

    fn change_release(&mut self) {
        let jobs = &self.problem.jobs;
        let job = self.random.below(jobs.len());
        let none = i64::MIN;
        let at = self.current_starts[job];
        if self.candidate.release[job] != none && !self.random.one_in(4) {
            self.candidate.release[job] = none;
            return;
        }
        if at < 0 {
            return;
        }
        self.candidate.release[job] = match self.random.below(3) {
            // As late as those that follow allow.
            0 => {
                let follow = jobs[job].before.iter().map(|link| {
                    self.current_starts[link.job].max(at) - link.min_gap - jobs[job].minutes
                });
                follow.min().unwrap_or(none).min(self.heads.latest[job])
            }
            // When another job ends.
            1 => {
                let other = self.random.below(jobs.len());
                let end = self.current_starts[other].saturating_add(jobs[other].minutes);
                if end > at && end <= self.heads.latest[job] {
                    end
                } else {
                    none
                }
            }
            // When the next window opens.
            _ => {
                let set = self.problem.starts_of(job);
                let place = set.partition_point(|&(_, last)| last <= at);
                let next = set.get(place).map_or(none, |&(first, _)| first);
                next_start(set, next)
                    .unwrap_or(none)
                    .min(self.heads.latest[job])
            }
        };
    }

    fn change_inside(&mut self) -> Option<usize> {
        let block = self.random.below(self.blocks.jobs.len());
        let count = self.candidate.inside[block].len();
        if count < 3 {
            return None;
        }
        let from = self.random.below(count);
        let to = self.random.below(count);
        // The job passes others until one that it must not pass.
        let mut place = from;
        while place != to {
            let next = if to > place { place + 1 } else { place - 1 };
            let jobs = &self.candidate.inside[block];
            let (first, second) = (jobs[place.min(next)], jobs[place.max(next)]);
            if self.problem.jobs[second]
                .after
                .iter()
                .any(|link| link.job == first)
            {
                break;
            }
            self.candidate.inside[block].swap(place, next);
            place = next;
        }
        (place != from).then_some(block)
    }
}

/// The latest start of each job that keeps the dates that depend on it, links alone considered.
fn urgency(problem: &Problem) -> Vec<i64> {
    let order = super::blocks::topological_order(problem).expect("circles are found before");
    let mut latest = vec![i64::MAX / 4; problem.jobs.len()];
    for &job in order.iter().rev() {
        let entry = &problem.jobs[job];
        let due = entry.due.iter().map(|&(by, _)| by - entry.minutes);
        let follow = entry
            .before
            .iter()
            .map(|link| latest[link.job] - link.min_gap - entry.minutes);
        latest[job] = due.chain(follow).min().unwrap_or(i64::MAX / 4);
    }
    latest
}
