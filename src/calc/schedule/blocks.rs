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
