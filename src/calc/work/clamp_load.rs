//! Which glue-ups of a plan could share one set of clamps.
//!
//! Panels lie side by side in one set of clamps, with separators, glue only in their own seams; the rules are
//! those of [`crate::calc::gluing::LoadRules`]. Two more things count in a plan: all lines of a load are spread within one open
//! time, and no glue-up may wait, through any chain of steps, for another of its own load. Whether sharing makes a
//! plan better is for the plan to tell: it is made with and without.

use super::needs::{Needs, Panel};
use super::plan::{ClampLoad, Job, Lends, Planning};
use super::practice::Practice;
use super::step::{ClampAsk, Step, StepKind};
use crate::calc::gluing::{LoadPanel, LoadRules, share_clamps, shared_loads};
use crate::units::{Length, Minutes, Newtons};

/// A glue-up that could share its clamps.
struct Candidate<'a> {
    job: usize,
    step: usize,
    panel: &'a Panel,
    load: LoadPanel,
    /// That its number of clamps was reckoned with.
    least_force: Newtons,
    practice: &'a Practice,
}

/// Loads of two or more glue-ups each, none of which is given or in a load of `planning` already.
///
/// `projects` are the needs of the planning's jobs, in their order, with how each is made. The clamps of the
/// longest reach decide how wide a load may be.
pub fn clamp_loads(planning: &Planning, projects: &[(&Needs, &Practice)]) -> Vec<ClampLoad> {
    let clamps = planning.lent.iter().filter_map(|lent| match lent.what {
        Lends::Clamps { reach, .. } if lent.count > 0 => Some(reach),
        Lends::Clamps { .. } | Lends::Station(_) => None,
    });
    let Some(reach) = clamps.max() else {
        return Vec::new();
    };
    let candidates = candidates(planning, projects);
    let panels: Vec<LoadPanel> = candidates.iter().map(|candidate| candidate.load).collect();
    let deepest = candidates
        .iter()
        .map(|candidate| cauls(candidate.practice))
        .max();
    let rules = LoadRules::usual(deepest.unwrap_or(Length::ZERO), reach);
    let mut loads = planning.loads.clone();
    let known = loads.len();
    for group in shared_loads(&panels, &rules) {
        // A load takes each panel of the group that still fits; the rest may make loads of their own.
        let mut left = group;
        left.sort_unstable();
        while left.len() > 1 {
            let mut together: Vec<usize> = Vec::new();
            for &candidate in &left {
                together.push(candidate);
                let tried = load_of(&together, &candidates, planning, &rules);
                let fits = tried.is_some_and(|load| {
                    loads.push(load);
                    let fits = can_run(planning, &loads);
                    loads.pop();
                    fits
                });
                if !fits {
                    together.pop();
                }
            }
            if together.is_empty() {
                break;
            }
            left.retain(|candidate| !together.contains(candidate));
            if together.len() > 1 {
                loads.extend(load_of(&together, &candidates, planning, &rules));
            }
        }
    }
    loads.split_off(known)
}

/// What stands between jaws and panels, on both sides.
fn cauls(practice: &Practice) -> Length {
    (practice.clamping.caul_depth + practice.clamping.pad) * 2
}

fn candidates<'a>(
    planning: &'a Planning,
    projects: &[(&'a Needs, &'a Practice)],
) -> Vec<Candidate<'a>> {
    let mut candidates = Vec::new();
    for (job, (of, (needs, practice))) in planning.jobs.iter().zip(projects).enumerate() {
        for (step, glue_up) in of.steps.iter().enumerate() {
            let is_taken = of.given.iter().any(|given| given.key == glue_up.key)
                || planning.loads.iter().any(|load| {
                    load.members
                        .iter()
                        .any(|(other, key)| *other == job && *key == glue_up.key)
                });
            let panel = glue_up.panel.and_then(|panel| needs.panels.get(panel));
            // Clamps of unlike force that press one panel together are counted out for it alone.
            let (Some(panel), [clamps], false) = (panel, glue_up.clamps(), is_taken) else {
                continue;
            };
            // A ring that is pressed onto a base lies in its clamps another way.
            let is_flat = glue_up.kind == StepKind::GlueUp && panel.width > panel.height;
            if let (true, Some(clamp_time)) = (is_flat, clamp_time(of, glue_up)) {
                candidates.push(Candidate {
                    job,
                    step,
                    panel,
                    load: LoadPanel {
                        length: panel.length,
                        width: panel.width,
                        height: panel.height,
                        clamp_time,
                        pressure: panel.need.pressure,
                        clamps: i64::from(clamps.number),
                    },
                    least_force: clamps.least_force,
                    practice,
                });
            }
        }
    }
    candidates
}

/// From the glue-up to the step that takes the clamps off.
fn clamp_time(job: &Job, glue_up: &Step) -> Option<Minutes> {
    let hold = glue_up.hold.as_ref()?;
    let until = job.steps.iter().find(|step| step.key == hold.until)?;
    let after = until.after.iter().find(|after| after.key == glue_up.key)?;
    Some(after.min_gap)
}

/// The load of these candidates, if they may lie together and all lines fit into one open time.
fn load_of(
    together: &[usize],
    candidates: &[Candidate<'_>],
    planning: &Planning,
    rules: &LoadRules,
) -> Option<ClampLoad> {
    let members = || together.iter().map(|&place| &candidates[place]);
    let panels: Vec<LoadPanel> = members().map(|member| member.load).collect();
    let shared = share_clamps(&panels, rules).ok()?;
    let spread: u64 = members()
        .map(|member| {
            let lines = member.panel.glue_lines() as u64;
            lines * u64::from(member.practice.gluing.seconds_a_line)
        })
        .sum();
    let open_time = members()
        .map(|member| member.practice.gluing.open_time)
        .min()?;
    if spread > open_time.0.max(0) as u64 * 60 {
        return None;
    }
    Some(ClampLoad {
        members: members()
            .map(|member| {
                let key = &planning.jobs[member.job].steps[member.step].key;
                (member.job, key.clone())
            })
            .collect(),
        clamps: ClampAsk {
            number: u32::try_from(shared.clamps).ok()?,
            least_reach: shared.reach,
            least_force: members()
                .map(|member| member.least_force)
                .max()
                .unwrap_or_default(),
        },
    })
}

/// Whether the steps, with those of a load run as one, wait for each other in no circle.
fn can_run(planning: &Planning, loads: &[ClampLoad]) -> bool {
    let mut first: Vec<usize> = Vec::new();
    let mut steps = 0;
    for job in &planning.jobs {
        first.push(steps);
        steps += job.steps.len();
    }
    let place = |job: usize, key: &str| {
        let step = planning.jobs[job]
            .steps
            .iter()
            .position(|step| step.key == key)?;
        Some(first[job] + step)
    };
    // The run of each step: itself, or the first member of its load; unclamping runs as one too.
    let mut run: Vec<usize> = (0..steps).collect();
    for load in loads {
        let glue_ups = load
            .members
            .iter()
            .filter_map(|(job, key)| place(*job, key));
        let unclamps = load.members.iter().filter_map(|(job, key)| {
            let glue_up = planning.jobs[*job]
                .steps
                .iter()
                .find(|step| step.key == *key)?;
            place(*job, &glue_up.hold.as_ref()?.until)
        });
        for together in [glue_ups.collect::<Vec<_>>(), unclamps.collect()] {
            for &step in &together {
                run[step] = together[0];
            }
        }
    }
    let mut waits: Vec<Vec<usize>> = vec![Vec::new(); steps];
    let mut open: Vec<usize> = vec![0; steps];
    for (job, of) in planning.jobs.iter().enumerate() {
        for (step, later) in of.steps.iter().enumerate() {
            for earlier in later
                .after
                .iter()
                .filter_map(|after| place(job, &after.key))
            {
                waits[run[earlier]].push(run[first[job] + step]);
                open[run[first[job] + step]] += 1;
            }
        }
    }
    let mut ready: Vec<usize> = (0..steps).filter(|&step| open[step] == 0).collect();
    let mut n_run = 0;
    while let Some(step) = ready.pop() {
        n_run += 1;
        for &later in &waits[step] {
            open[later] -= 1;
            if open[later] == 0 {
                ready.push(later);
            }
        }
    }
    n_run == steps
}
