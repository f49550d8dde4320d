//! Heads and tails: the earliest and the latest start of each task by links, calendars, given
//! starts and what others use.

use std::collections::VecDeque;

use super::problem::{Problem, StartIntervals};
use super::profile::Profile;
use crate::calc::budget::Budget;

/// The first permitted start at or after `from`.
pub(super) fn next_start(starts: &StartIntervals, from: i64) -> Option<i64> {
    let place = starts.partition_point(|&(_, last)| last < from);
    starts.get(place).map(|&(first, _)| first.max(from))
}

/// The last permitted start at or before `until`.
pub(super) fn previous_start(starts: &StartIntervals, until: i64) -> Option<i64> {
    let place = starts.partition_point(|&(first, _)| first <= until);
    place.checked_sub(1).map(|place| starts[place].1.min(until))
}

/// Earliest and latest starts, or why there are none.
#[derive(Clone, Debug)]
pub(super) struct Heads {
    pub earliest: Vec<i64>,
    pub latest: Vec<i64>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoHeads {
    /// This job has no start left.
    Empty(usize),
    Spent,
}

/// What others use, with the jobs that are given a start, of each resource.
pub(super) fn base_profiles(problem: &Problem) -> Vec<Profile> {
    let mut profiles = vec![Profile::new(); problem.capacity.len()];
    for busy in &problem.busy {
        profiles[busy.resource].add(busy.from, busy.to, busy.amount);
    }
    profiles
}

/// The first start at or after `from` at which what others use leaves room for the job.
fn next_with_room(problem: &Problem, busy: &[Profile], job: usize, from: i64) -> Option<i64> {
    let minutes = problem.jobs[job].minutes;
    let mut at = next_start(problem.starts_of(job), from)?;
    'again: loop {
        for &(resource, amount) in &problem.jobs[job].needs {
            let most = problem.capacity[resource] - amount;
            if let Some(end) = busy[resource].last_above(at, at + minutes, most) {
                at = next_start(problem.starts_of(job), end)?;
                continue 'again;
            }
        }
        return Some(at);
    }
}

/// The last start at or before `until` at which what others use leaves room for the job.
fn previous_with_room(problem: &Problem, busy: &[Profile], job: usize, until: i64) -> Option<i64> {
    let minutes = problem.jobs[job].minutes;
    let mut at = previous_start(problem.starts_of(job), until)?;
    'again: loop {
        for &(resource, amount) in &problem.jobs[job].needs {
            let most = problem.capacity[resource] - amount;
            if let Some(start) = busy[resource].first_above(at, at + minutes, most) {
                at = previous_start(problem.starts_of(job), start - minutes)?;
                continue 'again;
            }
        }
        return Some(at);
    }
}

impl Heads {
    /// Spreads the bounds along the links until nothing changes.
    pub fn new(problem: &Problem, budget: &Budget<'_>) -> Result<Heads, NoHeads> {
        let busy = base_profiles(problem);
        let count = problem.jobs.len();
        let mut heads = Heads {
            earliest: vec![0; count],
            latest: vec![0; count],
        };
        for job in 0..count {
            let starts = problem.starts_of(job);
            let (Some(first), Some(last)) = (starts.first(), starts.last()) else {
                return Err(NoHeads::Empty(job));
            };
            let earliest = next_with_room(problem, &busy, job, first.0);
            let latest = previous_with_room(problem, &busy, job, last.1);
            let (Some(earliest), Some(latest)) = (earliest, latest) else {
                return Err(NoHeads::Empty(job));
            };
            (heads.earliest[job], heads.latest[job]) = (earliest, latest);
        }
        let mut queued = vec![true; count];
        let mut queue: VecDeque<usize> = (0..count).collect();
        let mut turns = 0_u64;
        while let Some(job) = queue.pop_front() {
            queued[job] = false;
            turns += 1;
            // Long largest gaps may move bounds minute by minute. What takes a few turns for each
            // job is done in any case: without heads there is no schedule at all.
            if turns > 64 * count as u64 && turns.is_multiple_of(4096) && budget.is_spent() {
                return Err(NoHeads::Spent);
            }
            let (earliest, latest) = (heads.earliest[job], heads.latest[job]);
            let minutes = problem.jobs[job].minutes;
            // Each link bounds the other job's start: from below by the first, from above by the second.
            let later = problem.jobs[job].before.iter().map(|link| {
                let most = link.max_gap.map(|gap| latest + minutes + gap);
                (link.job, Some(earliest + minutes + link.min_gap), most)
            });
            let earlier = problem.jobs[job].after.iter().map(|link| {
                let other = problem.jobs[link.job].minutes;
                let least = link.max_gap.map(|gap| earliest - gap - other);
                (link.job, least, Some(latest - link.min_gap - other))
            });
            for (other, least, most) in later.chain(earlier) {
                let mut changed = false;
                if let Some(least) = least
                    && least > heads.earliest[other]
                {
                    heads.earliest[other] = next_with_room(problem, &busy, other, least)
                        .ok_or(NoHeads::Empty(other))?;
                    changed = true;
                }
                if let Some(most) = most
                    && most < heads.latest[other]
                {
                    heads.latest[other] = previous_with_room(problem, &busy, other, most)
                        .ok_or(NoHeads::Empty(other))?;
                    changed = true;
                }
                if heads.earliest[other] > heads.latest[other] {
                    return Err(NoHeads::Empty(other));
                }
                if changed && !queued[other] {
                    queued[other] = true;
                    queue.push_back(other);
                }
            }
        }
        Ok(heads)
    }
}
