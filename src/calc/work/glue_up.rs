//! The steps around a glue-up, and flattening.

use super::limits::LEAST_PLANED;
use super::needs::Panel;
use super::panel::GluedPlan;
use super::practice::{FlatteningTool, Practice};
use super::step::{Amount, Hold, Presence, Station, Step, StepKind, Steps, after, step};
use crate::units::{Area, Length};

/// Glue-ups of sub-panels, their flattening, and the glue-up of the whole, after the steps `milled`, of which
/// there is at least one. Gives the key of the last step: the last of `milled` where there is nothing to glue.
pub(super) fn add_glued(
    steps: &mut Steps,
    plan: &GluedPlan,
    milled: &[String],
    practice: &Practice,
) -> String {
    let joined = |suffix: String| {
        let words = [plan.suffix.as_str(), suffix.as_str()];
        words
            .into_iter()
            .filter(|word| !word.is_empty())
            .collect::<Vec<_>>()
            .join("-")
    };
    let mut ready = milled.to_vec();
    let mut number = 0;
    for (round, panels) in plan.rounds.iter().enumerate() {
        let is_last = round + 1 == plan.rounds.len();
        let mut unclamped = Vec::new();
        for panel in panels {
            let place = plan.first_panel + number;
            number += 1;
            let suffix = joined(if is_last {
                String::new()
            } else {
                format!("part-{number}")
            });
            unclamped.push(add_glue_up(
                steps,
                &suffix,
                (place, panel),
                &ready,
                practice,
            ));
        }
        ready = unclamped;
        if !is_last {
            let sizes: Vec<(Length, Length)> = panels
                .iter()
                .map(|panel| (panel.length, panel.width))
                .collect();
            let kind = if plan.is_end_grain {
                StepKind::FlattenEndGrain
            } else {
                StepKind::FlattenPanel
            };
            let mut flat = flatten(kind, &sizes, practice);
            flat.key = joined(format!("flatten-parts-{}", round + 1));
            flat.name = "Flatten sub-panels and joint their edges".to_owned();
            flat.after = ready.iter().map(|key| after(key)).collect();
            ready = vec![steps.start(flat)];
        }
    }
    ready
        .pop()
        .expect("each round has a panel, and the step before them is there")
}

/// The steps that glue one panel, its index among all panels given with it: dry fit, glue-up within
/// the glue's time since each of the steps `milled`, and unclamping after the clamped hold. Gives the key
/// of unclamping.
pub(super) fn add_glue_up(
    steps: &mut Steps,
    suffix: &str,
    panel: (usize, &Panel),
    milled: &[String],
    practice: &Practice,
) -> String {
    let (place, panel) = panel;
    let named = |kind: StepKind| {
        let mut step = step(kind, Amount::Job, practice);
        if !suffix.is_empty() {
            step.key = format!("{}-{suffix}", step.key);
            step.name = format!("{}: {}", step.name, panel.name);
        }
        step
    };
    let unclamp_key = named(StepKind::Unclamp).key;
    let mut dry_fit = named(StepKind::DryFit);
    dry_fit.after = milled.iter().map(|key| after(key)).collect();
    let fitted = steps.start(dry_fit);
    let mut glue_up = named(StepKind::GlueUp);
    glue_up.after = vec![after(&fitted)];
    for key in milled {
        let mut fresh = after(key);
        fresh.max_gap = Some(practice.gluing.after_milling);
        glue_up.after.push(fresh);
    }
    glue_up.panel = Some(place);
    glue_up.hold = Some(Hold {
        until: unclamp_key,
        clamps: panel.clamps.clone(),
        stations: Vec::new(),
    });
    let glued = steps.start(glue_up);
    let mut unclamp = named(StepKind::Unclamp);
    let mut hold = after(&glued);
    hold.min_gap = practice.gluing.clamped;
    unclamp.after = vec![hold];
    steps.start(unclamp)
}

/// Flattening both faces of panels, each `length` by `width`, with the workshop's tool, or with a
/// sander where a panel must not go through the workshop's machine.
pub(super) fn flatten(kind: StepKind, panels: &[(Length, Length)], practice: &Practice) -> Step {
    let faces = panels
        .iter()
        .map(|(length, width)| Area::of(*length, *width) * 2)
        .sum();
    let mut step = step(kind, Amount::Faces(faces), practice);
    let passes = panels.iter().all(|(length, width)| {
        practice
            .flattening
            .pass_width
            .is_none_or(|most| *width <= most)
            && *length >= LEAST_PLANED
    });
    // End grain never meets a planer: it can shatter.
    let tool = match (practice.flattening.tool, kind) {
        (FlatteningTool::Planer, StepKind::FlattenEndGrain) => FlatteningTool::RouterSled,
        (FlatteningTool::Planer | FlatteningTool::DrumSander, _) if !passes => {
            FlatteningTool::Sander
        }
        (tool, _) => tool,
    };
    let (station, presence) = match tool {
        FlatteningTool::Sander => (Station::Sander, Presence::Member),
        FlatteningTool::DrumSander => (Station::DrumSander, Presence::Machine),
        FlatteningTool::Planer => (Station::Planer, Presence::Machine),
        FlatteningTool::RouterSled => (Station::Router, Presence::Member),
    };
    step.cautions.extend(match tool {
        FlatteningTool::Sander | FlatteningTool::DrumSander => ["sanding"].as_slice(),
        FlatteningTool::Planer => &["any machine", "planing"],
        FlatteningTool::RouterSled => &["any machine", "routing"],
    });
    step.stations = vec![(station, 1)];
    step.presence = presence;
    step
}
