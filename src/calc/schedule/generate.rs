//! The serial generation scheme: blocks are placed one after the other, each as early as it fits.
//!
//! Inside a block the jobs are placed in turn. Where a hold finds its resource in use by others, or
//! a largest gap is exceeded, the job at its beginning is moved later and the block goes on from
//! there.

use super::blocks::Blocks;
use super::heads::{Heads, base_profiles, next_start};
use super::problem::Problem;
use super::profile::Profile;

/// How good a schedule is: lower is better, the first field first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Cost {
    /// Jobs that found no place.
    pub unplaced: usize,
    /// In units of the problem's weights.
    pub tardiness: i64,
    /// Minutes after the request's `from`.
    pub finish: i64,
    /// Preferred starts that were not kept.
    pub moved: usize,
}

impl Cost {
    pub const WORST: Cost = Cost {
        unplaced: usize::MAX,
        tardiness: i64::MAX,
        finish: i64::MAX,
        moved: usize::MAX,
    };
}

impl Cost {
    /// A cost that is worse than this one.
    pub fn just_above(self) -> Cost {
        Cost {
            finish: self.finish.saturating_add(1),
            ..self
        }
    }
}

/// The start of a job that has none.
const NOWHERE: i64 = i64::MIN;

/// What decides a schedule.
#[derive(Clone, Debug)]
pub(super) struct Genome {
    /// All blocks; one is placed at its turn, its forerunners just before it.
    pub order: Vec<usize>,
    /// The jobs of each block in the order in which they are placed.
    pub inside: Vec<Vec<usize>>,
    /// No job starts before its release. Most are at the beginning; a later one delays on purpose.
    pub release: Vec<i64>,
}

#[derive(Clone)]
pub(super) struct Generator<'a> {
    problem: &'a Problem,
    heads: &'a Heads,
    blocks: &'a Blocks,
    base: Vec<Profile>,
    profiles: Vec<Profile>,
    /// What must be free for how long when a job starts: its needs, and the least of its holds.
    opening: Vec<Vec<(usize, i64, i64)>>,
    /// Holds between given starts: they are part of the base.
    settled: Vec<bool>,
    starts: Vec<i64>,
    tried: Vec<bool>,
    floor: Vec<i64>,
    cost: Cost,
    /// Generation ends early once the cost is above this.
    limit: Cost,
}

impl<'a> Generator<'a> {
    pub fn new(problem: &'a Problem, heads: &'a Heads, blocks: &'a Blocks) -> Generator<'a> {
        let jobs = &problem.jobs;
        let mut base = base_profiles(problem);
        for (job, entry) in jobs.iter().enumerate().filter(|(_, entry)| entry.fixed) {
            for &(resource, amount) in &entry.needs {
                let at = heads.earliest[job];
                base[resource].add(at, at + entry.minutes, amount);
            }
        }
        let mut opening: Vec<Vec<(usize, i64, i64)>> = jobs
            .iter()
            .map(|job| {
                job.needs
                    .iter()
                    .map(|&(r, amount)| (r, amount, job.minutes))
                    .collect()
            })
            .collect();
        let mut settled = vec![false; problem.holds.len()];
        let mut room = vec![NOWHERE; jobs.len()];
        for (index, hold) in problem.holds.iter().enumerate() {
            let end = jobs[hold.to].minutes;
            if jobs[hold.from].fixed && jobs[hold.to].fixed {
                settled[index] = true;
                for &(resource, amount) in &hold.needs {
                    let (from, to) = (heads.earliest[hold.from], heads.earliest[hold.to] + end);
                    base[resource].add(from, to, amount);
                }
            } else {
                let least = least_length(problem, blocks, &mut room, hold.from, hold.to);
                opening[hold.from].extend(hold.needs.iter().map(|&(r, amount)| (r, amount, least)));
            }
        }
        Generator {
            problem,
            heads,
            blocks,
            profiles: base.clone(),
            base,
            opening,
            settled,
            starts: vec![NOWHERE; jobs.len()],
            tried: vec![false; blocks.jobs.len()],
            floor: vec![0; jobs.len()],
            cost: Cost::WORST,
            limit: Cost::WORST,
        }
    }

    /// Starts of the last generated schedule.
    pub fn starts(&self) -> &[i64] {
        &self.starts
    }

    /// Generates the schedule of `genome`. A cost above `limit` may be less than the whole.
    pub fn generate(&mut self, genome: &Genome, limit: Cost) -> Cost {
        for (profile, base) in self.profiles.iter_mut().zip(&self.base) {
            profile.copy_from(base);
        }
        self.starts.fill(NOWHERE);
        self.tried.fill(false);
        self.limit = limit;
        self.cost = Cost {
            unplaced: 0,
            tardiness: 0,
            finish: 0,
            moved: 0,
        };
        for &block in &genome.order {
            self.place_with_forerunners(block, genome);
            if self.cost > limit {
                break;
            }
        }
        self.cost
    }

    fn place_with_forerunners(&mut self, block: usize, genome: &Genome) {
        if self.tried[block] {
            return;
        }
        self.tried[block] = true;
        let mut path = vec![(block, 0)];
        while let Some((block, next)) = path.pop() {
            match self.blocks.after[block].get(next) {
                Some(&forerunner) => {
                    path.push((block, next + 1));
                    if !self.tried[forerunner] {
                        self.tried[forerunner] = true;
                        path.push((forerunner, 0));
                    }
                }
                None => self.place_and_count(block, genome),
            }
        }
    }

    fn place_and_count(&mut self, block: usize, genome: &Genome) {
        let jobs = &genome.inside[block];
        if !self.place(jobs, &genome.release) {
            self.cost.unplaced += jobs.len();
            return;
        }
        for &job in jobs {
            let entry = &self.problem.jobs[job];
            let end = self.starts[job] + entry.minutes;
            self.cost.finish = self.cost.finish.max(end);
            for &(by, weight) in &entry.due {
                self.cost.tardiness += weight * (end - by).max(0);
            }
            if entry.prefer.is_some_and(|at| at != self.starts[job]) {
                self.cost.moved += 1;
            }
        }
    }

    /// Places all jobs of a block, or none.
    fn place(&mut self, jobs: &[usize], release: &[i64]) -> bool {
        for &job in jobs {
            let mut floor = release[job].max(self.heads.earliest[job]);
            for link in &self.problem.jobs[job].after {
                if self.blocks.block_of[link.job] != self.blocks.block_of[job] {
                    if self.starts[link.job] == NOWHERE {
                        return false;
                    }
                    floor = floor.max(
                        self.starts[link.job] + self.problem.jobs[link.job].minutes + link.min_gap,
                    );
                }
            }
            self.floor[job] = floor;
        }
        let mut repairs = 0;
        let mut next = 0;
        while next < jobs.len() {
            let job = jobs[next];
            match self.try_to_place(job) {
                Ok(()) => next += 1,
                Err(Some((earlier, least))) if repairs < 50 * jobs.len() => {
                    repairs += 1;
                    self.floor[earlier] = least;
                    while next > 0 {
                        next -= 1;
                        self.remove(jobs[next]);
                        if jobs[next] == earlier {
                            break;
                        }
                    }
                }
                Err(_) => {
                    for &placed in jobs[..next].iter().rev() {
                        self.remove(placed);
                    }
                    return false;
                }
            }
        }
        true
    }

    /// Places a job, or tells which job of the block has to start at which later time, or that
    /// there is no place at all.
    fn try_to_place(&mut self, job: usize) -> Result<(), Option<(usize, i64)>> {
        let problem = self.problem;
        let entry = &problem.jobs[job];
        let inside = |other: usize| self.blocks.block_of[other] == self.blocks.block_of[job];
        let mut least = self.floor[job];
        for link in entry.after.iter().filter(|link| inside(link.job)) {
            least =
                least.max(self.starts[link.job] + problem.jobs[link.job].minutes + link.min_gap);
        }
        let at = self.first_fit(job, least).ok_or(None)?;
        for link in &entry.after {
            if let Some(most) = link.max_gap {
                let earliest = at - most - problem.jobs[link.job].minutes;
                if self.starts[link.job] < earliest {
                    return Err(Some((link.job, earliest)));
                }
            }
        }
        self.set(job, at);
        // The holds that end here now have their whole length.
        for &index in &entry.holds {
            let hold = &problem.holds[index];
            if hold.to != job || self.settled[index] {
                continue;
            }
            let (from, to) = (self.starts[hold.from], at + entry.minutes);
            for &(resource, amount) in &hold.needs {
                let most = problem.capacity[resource] - amount;
                if let Some(end) = self.profiles[resource].last_above(from, to, most) {
                    self.remove_before_hold(job, index);
                    return Err(Some((hold.from, end)));
                }
            }
            for &(resource, amount) in &hold.needs {
                self.profiles[resource].add(from, to, amount);
            }
        }
        Ok(())
    }

    /// Takes back a job of which the holds before `open` are in place and that one is not.
    fn remove_before_hold(&mut self, job: usize, open: usize) {
        let problem = self.problem;
        let until = self.starts[job] + problem.jobs[job].minutes;
        for &index in problem.jobs[job]
            .holds
            .iter()
            .take_while(|&&index| index != open)
        {
            let hold = &problem.holds[index];
            if hold.to == job && !self.settled[index] {
                for &(resource, amount) in &hold.needs {
                    self.profiles[resource].add(self.starts[hold.from], until, -amount);
                }
            }
        }
        self.unset(job);
    }

    fn remove(&mut self, job: usize) {
        self.remove_before_hold(job, usize::MAX);
    }

    fn set(&mut self, job: usize, at: i64) {
        self.starts[job] = at;
        let entry = &self.problem.jobs[job];
        if !entry.fixed {
            for &(resource, amount) in &entry.needs {
                self.profiles[resource].add(at, at + entry.minutes, amount);
            }
        }
    }

    fn unset(&mut self, job: usize) {
        let at = self.starts[job];
        self.starts[job] = NOWHERE;
        let entry = &self.problem.jobs[job];
        if !entry.fixed {
            for &(resource, amount) in &entry.needs {
                self.profiles[resource].add(at, at + entry.minutes, -amount);
            }
        }
    }

    /// The first start from `least` on at which everything that the job opens fits.
    fn first_fit(&self, job: usize, least: i64) -> Option<i64> {
        let starts = self.problem.starts_of(job);
        let latest = self.heads.latest[job];
        let mut at = next_start(starts, least)?;
        if self.problem.jobs[job].fixed {
            return Some(at);
        }
        'again: while at <= latest {
            for &(resource, amount, length) in &self.opening[job] {
                let most = self.problem.capacity[resource] - amount;
                if let Some(end) = self.profiles[resource].last_above(at, at + length, most) {
                    at = next_start(starts, end)?;
                    continue 'again;
                }
            }
            return Some(at);
        }
        None
    }
}

/// The least time from the start of `from` to the end of `to`, calendars left aside.
/// `start` is room for a number for each job.
fn least_length(
    problem: &Problem,
    blocks: &Blocks,
    start: &mut [i64],
    from: usize,
    to: usize,
) -> i64 {
    let jobs = &blocks.jobs[blocks.block_of[from]];
    for &job in jobs {
        start[job] = NOWHERE;
    }
    for &job in jobs {
        let follows = problem.jobs[job]
            .after
            .iter()
            .filter(|link| start[link.job] != NOWHERE);
        let least = follows
            .map(|link| start[link.job] + problem.jobs[link.job].minutes + link.min_gap)
            .max();
        start[job] = if job == from {
            0
        } else {
            least.unwrap_or(NOWHERE)
        };
    }
    start[to] + problem.jobs[to].minutes
}
