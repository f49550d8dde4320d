//! Which jobs may move while all others keep their starts: parts of a schedule that the exact
//! search can improve in a moment.

use super::blocks::Blocks;
use super::incumbent::Incumbent;
use super::problem::Problem;
use super::random::Random;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    /// A few groups of linked jobs.
    Groups,
    /// What starts within a span of time.
    Span,
    /// A group, and what competes with it.
    Rivals,
}

const KINDS: [Kind; 3] = [Kind::Groups, Kind::Span, Kind::Rivals];

/// Conflicts of a run on a part.
const PART_RUN: u64 = 200;
/// Parts in a row that bring nothing until runs may take twice as many conflicts.
const DOUBLED_AFTER: u64 = 100;

/// Chooses parts and learns for each kind how large a part may be.
#[derive(Clone, Debug)]
pub(super) struct Neighbourhoods {
    random: Random,
    groups: Vec<Vec<usize>>,
    group_of: Vec<usize>,
    /// Jobs of a part of each kind.
    sizes: [f64; KINDS.len()],
    last: usize,
    /// Parts in a row that were searched and brought nothing.
    fruitless: u64,
}

impl Neighbourhoods {
    pub fn new(problem: &Problem, blocks: &Blocks, seed: u64) -> Neighbourhoods {
        let (of_blocks, group_of_block) = blocks.groups();
        let groups: Vec<Vec<usize>> = of_blocks
            .iter()
            .map(|group| {
                group
                    .iter()
                    .flat_map(|&block| blocks.jobs[block].iter().copied())
                    .collect()
            })
            .collect();
        let group_of = (0..problem.jobs.len())
            .map(|job| group_of_block[blocks.block_of[job]])
            .collect();
        let size = (problem.jobs.len() as f64 / 3.0).clamp(10.0, 60.0);
        Neighbourhoods {
            random: Random::new(seed),
            groups,
            group_of,
            sizes: [size; KINDS.len()],
            last: 0,
            fruitless: 0,
        }
    }

    /// The jobs that are free to move.
    pub fn choose(&mut self, problem: &Problem, incumbent: &Incumbent) -> Vec<bool> {
        self.last = self.random.below(KINDS.len());
        let size = (self.sizes[self.last] as usize).clamp(1, problem.jobs.len());
        let mut free = vec![false; problem.jobs.len()];
        let starts = &incumbent.starts;
        match KINDS[self.last] {
            Kind::Groups => {
                let mut count = 0;
                while count < size {
                    let group = self.late_group(problem, starts);
                    for &job in &self.groups[group] {
                        count += 1;
                        free[job] = true;
                    }
                }
            }
            Kind::Span => {
                let mut order: Vec<usize> = (0..starts.len()).collect();
                order.sort_unstable_by_key(|&job| (starts[job], job));
                let from = self.random.below(order.len() - size + 1);
                for &job in &order[from..from + size] {
                    free[job] = true;
                }
            }
            Kind::Rivals => {
                let group = self.late_group(problem, starts);
                let mut count = self.groups[group].len();
                for &job in &self.groups[group] {
                    free[job] = true;
                }
                let mut tries = 0;
                while count < size && tries < 20 * size {
                    tries += 1;
                    let members = &self.groups[group];
                    let job = members[self.random.below(members.len())];
                    let rival = self.random.below(starts.len());
                    if free[rival] || !self.compete(problem, starts, job, rival) {
                        continue;
                    }
                    // With a rival the jobs after it may move too.
                    let rivals = &self.groups[self.group_of[rival]];
                    for &other in rivals
                        .iter()
                        .filter(|&&other| starts[other] >= starts[rival])
                    {
                        count += usize::from(!free[other]);
                        free[other] = true;
                    }
                }
            }
        }
        free
    }

    /// A group, most often one that is late.
    fn late_group(&mut self, problem: &Problem, starts: &[i64]) -> usize {
        for _ in 0..4 {
            let group = self.random.below(self.groups.len());
            let late = self.groups[group].iter().any(|&job| {
                let entry = &problem.jobs[job];
                entry
                    .due
                    .iter()
                    .any(|&(by, _)| starts[job] + entry.minutes > by)
            });
            if late {
                return group;
            }
        }
        self.random.below(self.groups.len())
    }

    /// Whether two jobs use the same resource at nearly the same time.
    fn compete(&self, problem: &Problem, starts: &[i64], job: usize, rival: usize) -> bool {
        const NEAR: i64 = 3 * 1440;
        let resources = |job: usize| {
            let entry = &problem.jobs[job];
            let holds = entry
                .holds
                .iter()
                .flat_map(|&hold| &problem.holds[hold].needs);
            entry.needs.iter().chain(holds).map(|need| need.0)
        };
        starts[job].abs_diff(starts[rival]) <= NEAR as u64
            && resources(job).any(|resource| resources(rival).any(|other| other == resource))
    }

    /// The conflicts that a run on the chosen part may take: more, the longer no part brings
    /// anything.
    pub fn conflicts(&self) -> u64 {
        PART_RUN + PART_RUN * self.fruitless / DOUBLED_AFTER
    }

    /// A minute within two days of `start`.
    pub fn shifted(&mut self, start: i64) -> i64 {
        const DAYS: i64 = 2 * 1440;
        start - DAYS + self.random.below(2 * DAYS as usize + 1) as i64
    }

    /// The part gave a better schedule.
    pub fn was_fruitful(&mut self) {
        self.fruitless = 0;
    }

    /// The part was searched to its end: the next ones may be larger.
    pub fn was_easy(&mut self) {
        self.fruitless += 1;
        self.sizes[self.last] *= 1.03;
    }

    /// The part was too much for its time: the next ones must be smaller.
    pub fn was_hard(&mut self) {
        self.fruitless += 1;
        self.sizes[self.last] = (self.sizes[self.last] * 0.95).max(4.0);
    }
}
