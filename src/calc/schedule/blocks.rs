//! Blocks: the smallest groups of jobs that have to be placed together.
//!
//! A hold ties its first job to its last one and a largest gap ties the earlier job to the later
//! one, in addition to the links that tie the later to the earlier. A block is a strongly connected
//! component of these ties: between blocks only smallest gaps remain.

use super::problem::Problem;

#[derive(Clone, Debug)]
pub(super) struct Blocks {
    /// The jobs of each block, each after those that it comes after.
    pub jobs: Vec<Vec<usize>>,
    pub block_of: Vec<usize>,
    /// The blocks that each block comes after.
    pub after: Vec<Vec<usize>>,
}

impl Blocks {
    /// Expects a problem without a circle of links.
    pub fn new(problem: &Problem) -> Blocks {
        let jobs = &problem.jobs;
        let mut ties: Vec<Vec<usize>> = vec![Vec::new(); jobs.len()];
        for (job, entry) in jobs.iter().enumerate() {
            for link in &entry.after {
                ties[link.job].push(job);
                if link.max_gap.is_some() {
                    ties[job].push(link.job);
                }
            }
        }
        for hold in &problem.holds {
            ties[hold.to].push(hold.from);
        }
        let block_of = components(&ties);
        let count = block_of.iter().max().map_or(0, |last| last + 1);
        let mut blocks = vec![Vec::new(); count];
        for job in topological_order(problem).expect("circles are found before") {
            blocks[block_of[job]].push(job);
        }
        let mut after: Vec<Vec<usize>> = vec![Vec::new(); count];
        for (job, entry) in jobs.iter().enumerate() {
            for link in &entry.after {
                if block_of[link.job] != block_of[job] {
                    after[block_of[job]].push(block_of[link.job]);
                }
            }
        }
        for list in &mut after {
            list.sort_unstable();
            list.dedup();
        }
        Blocks {
            jobs: blocks,
            block_of,
            after,
        }
    }

    /// Groups of blocks that links connect, and the group of each block.
    pub fn groups(&self) -> (Vec<Vec<usize>>, Vec<usize>) {
        let count = self.jobs.len();
        let mut linked = vec![Vec::new(); count];
        for (block, after) in self.after.iter().enumerate() {
            for &other in after {
                linked[block].push(other);
                linked[other].push(block);
            }
        }
        let mut group_of = vec![usize::MAX; count];
        let mut groups = Vec::new();
        for root in 0..count {
            if group_of[root] != usize::MAX {
                continue;
            }
            let mut members = vec![root];
            group_of[root] = groups.len();
            let mut next = 0;
            while next < members.len() {
                for &other in &linked[members[next]] {
                    if group_of[other] == usize::MAX {
                        group_of[other] = groups.len();
                        members.push(other);
                    }
                }
                next += 1;
            }
            groups.push(members);
        }
        (groups, group_of)
    }
}

/// Every job after those that it comes after, or `None` where links form a circle.
pub(super) fn topological_order(problem: &Problem) -> Option<Vec<usize>> {
    let mut open: Vec<usize> = problem.jobs.iter().map(|job| job.after.len()).collect();
    let mut order: Vec<usize> = (0..open.len()).filter(|&job| open[job] == 0).collect();
    let mut next = 0;
    while next < order.len() {
        for link in &problem.jobs[order[next]].before {
            open[link.job] -= 1;
            if open[link.job] == 0 {
                order.push(link.job);
            }
        }
        next += 1;
    }
    (order.len() == open.len()).then_some(order)
}

/// The number of each node's strongly connected component (Tarjan 1972, without recursion).
pub(super) fn components(ties: &[Vec<usize>]) -> Vec<usize> {
    const NEW: usize = usize::MAX;
    let mut number = vec![NEW; ties.len()];
    let mut low = vec![0; ties.len()];
    let mut component = vec![NEW; ties.len()];
    let mut stack = Vec::new();
    let mut path: Vec<(usize, usize)> = Vec::new();
    let (mut visited, mut found) = (0, 0);
    for root in 0..ties.len() {
        if number[root] != NEW {
            continue;
        }
        path.push((root, 0));
        while let Some((node, tie)) = path.pop() {
            if tie == 0 {
                number[node] = visited;
                low[node] = visited;
                visited += 1;
                stack.push(node);
            }
            if let Some(&other) = ties[node].get(tie) {
                path.push((node, tie + 1));
                if number[other] == NEW {
                    path.push((other, 0));
                } else if component[other] == NEW {
                    low[node] = low[node].min(number[other]);
                }
                continue;
            }
            if low[node] == number[node] {
                while let Some(member) = stack.pop() {
                    component[member] = found;
                    if member == node {
                        break;
                    }
                }
                found += 1;
            }
            if let Some(&(parent, _)) = path.last() {
                low[parent] = low[parent].min(low[node]);
            }
        }
    }
    component
}
