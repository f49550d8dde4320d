//! Clamp loads: panels of several projects side by side in one set of clamps, glue only in their
//! own seams.

use super::planning::Ground;
use crate::calc::work::{ClampLoad, Lends, StepKind};
use crate::units::{Length, Minutes};

/// Panels whose lengths differ by more than this press each other askew.
const MOST_LENGTH_DIFFERENCE: Length = Length::from_inches(3, 1);
/// Glue lines whose heights differ by more than this cannot share cauls.
const MOST_HEIGHT_DIFFERENCE: Length = Length::from_inches(1, 4);

/// A glue-up that could share its clamps.
struct Candidate {
    job: usize,
    key: String,
    length: Length,
    height: Length,
    width: Length,
    /// Time in the clamps.
    held: Minutes,
}

/// Pairs of glue-ups of different projects that may share clamps by the shop's rules: nearly as
/// long, nearly as high, as long in the clamps, and within the reach of some clamps together.
///
/// Each glue-up is in at most one pair; the most alike go together. Whether sharing makes a plan
/// better is for the plan to tell.
pub(super) fn candidates(ground: &Ground) -> Vec<ClampLoad> {
    let planning = &ground.planning;
    let longest_reach = planning
        .lent
        .iter()
        .filter(|lent| lent.count > 0)
        .filter_map(|lent| match lent.what {
            Lends::Clamps { reach } => Some(reach),
            Lends::Station(_) => None,
        });
    let Some(longest_reach) = longest_reach.max() else {
        return Vec::new();
    };
    let mut open = free_glue_ups(ground);
    open.sort_by_key(|candidate| (candidate.length, candidate.width, candidate.job));
    let mut loads = Vec::new();
    let mut taken = vec![false; open.len()];
    for first in 0..open.len() {
        if taken[first] {
            continue;
        }
        for second in first + 1..open.len() {
            let (one, other) = (&open[first], &open[second]);
            let is_alike = !taken[second]
                && one.job != other.job
                && one.held == other.held
                && (one.length - other.length).abs() <= MOST_LENGTH_DIFFERENCE
                && (one.height - other.height).abs() <= MOST_HEIGHT_DIFFERENCE;
            if !is_alike {
                continue;
            }
            let members = vec![(one.job, one.key.clone()), (other.job, other.key.clone())];
            let Some(clamps) = ground.clamps_for(&members) else {
                continue;
            };
            if clamps.least_reach <= longest_reach {
                loads.push(ClampLoad { members, clamps });
                taken[first] = true;
                taken[second] = true;
                break;
            }
        }
    }
    loads
}

/// Glue-ups that are not given and in no load yet.
fn free_glue_ups(ground: &Ground) -> Vec<Candidate> {
    let mut open = Vec::new();
    for (position, job) in ground.planning.jobs.iter().enumerate() {
        for step in job
            .steps
            .iter()
            .filter(|step| step.kind == StepKind::GlueUp)
        {
            let is_given = job.given.iter().any(|given| given.key == step.key);
            let is_loaded = ground
                .planning
                .loads
                .iter()
                .any(|load| load.members.contains(&(position, step.key.clone())));
            let panel = step
                .panel
                .and_then(|panel| ground.needs[position].panels.get(panel));
            let held = step.hold.as_ref().and_then(|hold| {
                let until = job.steps.iter().find(|other| other.key == hold.until)?;
                until
                    .after
                    .iter()
                    .find(|after| after.key == step.key)
                    .map(|after| after.min_gap)
            });
            if let (false, false, Some(panel), Some(held)) = (is_given, is_loaded, panel, held) {
                open.push(Candidate {
                    job: position,
                    key: step.key.clone(),
                    length: panel.length,
                    height: panel.height,
                    width: panel.width,
                    held,
                });
            }
        }
    }
    open
}
