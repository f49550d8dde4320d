//! Moves single jobs earlier while all others stay, until none can.

use super::heads::{Heads, base_profiles, next_start};
use super::problem::Problem;
use super::profile::Profile;

/// The starts of a complete schedule with the use of every resource that follows from them.
pub(super) struct Placed<'a> {
    pub problem: &'a Problem,
    pub starts: Vec<i64>,
    pub profiles: Vec<Profile>,
}

impl<'a> Placed<'a> {
    pub fn new(problem: &'a Problem, starts: &[i64]) -> Placed<'a> {
        let mut placed = Placed {
            problem,
            starts: starts.to_vec(),
            profiles: base_profiles(problem),
        };
        for job in 0..starts.len() {
            placed.use_own(job, 1);
        }
        for hold in 0..problem.holds.len() {
            placed.use_hold(hold, 1);
        }
        placed
    }

    fn use_own(&mut self, job: usize, sign: i64) {
        let entry = &self.problem.jobs[job];
        let at = self.starts[job];
        for &(resource, amount) in &entry.needs {
            self.profiles[resource].add(at, at + entry.minutes, sign * amount);
        }
    }

    fn use_hold(&mut self, hold: usize, sign: i64) {
        let hold = &self.problem.holds[hold];
        let from = self.starts[hold.from];
        let to = self.starts[hold.to] + self.problem.jobs[hold.to].minutes;
        for &(resource, amount) in &hold.needs {
            self.profiles[resource].add(from, to, sign * amount);
        }
    }

    /// Adds (1) or takes away (-1) what the job and its holds use.
    pub fn use_all(&mut self, job: usize, sign: i64) {
        self.use_own(job, sign);
        for &hold in &self.problem.jobs[job].holds {
            self.use_hold(hold, sign);
        }
    }

    /// The earliest start of the job that the links allow while all others stay.
    pub fn least_by_links(&self, job: usize) -> i64 {
        let jobs = &self.problem.jobs;
        let entry = &jobs[job];
        let from_earlier = entry
            .after
            .iter()
            .map(|link| self.starts[link.job] + jobs[link.job].minutes + link.min_gap);
        let from_later = entry
            .before
            .iter()
            .filter_map(|link| Some(self.starts[link.job] - link.max_gap? - entry.minutes));
        from_earlier.chain(from_later).max().unwrap_or(0).max(0)
    }

    /// The earliest start before its present one that the job could have while all others stay.
    /// What it uses must have been taken away.
    fn earlier(&mut self, job: usize) -> Option<i64> {
        let set = self.problem.starts_of(job);
        let present = self.starts[job];
        let mut next = next_start(set, self.least_by_links(job));
        let mut found = None;
        while let Some(at) = next.filter(|&at| at < present) {
            self.starts[job] = at;
            match self.last_conflict(job) {
                None => {
                    found = next;
                    break;
                }
                Some(end) => next = next_start(set, end.max(at + 1)),
            }
        }
        self.starts[job] = present;
        found
    }

    /// A moment before which the job cannot start, if what it and its holds use does not fit.
    fn last_conflict(&mut self, job: usize) -> Option<i64> {
        let problem = self.problem;
        let entry = &problem.jobs[job];
        let at = self.starts[job];
        // The holds and the job itself may meet on one resource, so they are added in turn.
        let mut found = None;
        let mut added = Vec::new();
        let spans = entry.holds.iter().map(|&hold| {
            let hold = &problem.holds[hold];
            let to = self.starts[hold.to] + problem.jobs[hold.to].minutes;
            (self.starts[hold.from], to, &hold.needs)
        });
        let own = std::iter::once((at, at + entry.minutes, &entry.needs));
        let spans: Vec<_> = own.chain(spans).collect();
        'spans: for (from, to, needs) in spans {
            for &(resource, amount) in needs {
                let most = problem.capacity[resource] - amount;
                if let Some(end) = self.profiles[resource].last_above(from, to, most) {
                    // Of a hold that ends with the job, the conflict may lie before the job.
                    found = Some(if from == at { end } else { at + 1 });
                    break 'spans;
                }
                self.profiles[resource].add(from, to, amount);
                added.push((resource, from, to, amount));
            }
        }
        for (resource, from, to, amount) in added {
            self.profiles[resource].add(from, to, -amount);
        }
        found
    }
}

/// Moves jobs earlier until the schedule is tight. Neither tardiness nor finish grows. Jobs that
/// start as preferred stay.
pub(super) fn tighten(problem: &Problem, heads: &Heads, starts: &[i64]) -> Vec<i64> {
    let mut placed = Placed::new(problem, starts);
    let mut order: Vec<usize> = (0..starts.len()).collect();
    loop {
        order.sort_by_key(|&job| (placed.starts[job], job));
        let mut changed = false;
        for &job in &order {
            let entry = &problem.jobs[job];
            let stays = entry.fixed || entry.prefer == Some(placed.starts[job]);
            if stays || placed.starts[job] <= heads.earliest[job] {
                continue;
            }
            placed.use_all(job, -1);
            if let Some(at) = placed.earlier(job) {
                placed.starts[job] = at;
                changed = true;
            }
            placed.use_all(job, 1);
        }
        if !changed {
            return placed.starts;
        }
    }
}
