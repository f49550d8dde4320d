//! Panels: how many clamps, whether the glue stays open long enough, and the steps around the clamps.

use super::limits::LEAST_PLANED;
use super::needs::{Panel, PanelPart, Warning, WarningKind};
use super::practice::{Clamping, FlatteningTool, Practice};
use super::sentence::say;
use super::step::{Amount, ClampAsk, Hold, Presence, Station, Step, StepKind, Steps, after, step};
use crate::units::{Area, Length, Minutes};

/// Clamps for glue lines `length` by `height`, `width` apart from first to last face.
///
/// The larger of two numbers: the force that the wood's lowest pressure asks over one line (strips
/// edge to edge share the force), by what one clamp gives; and the clamps whose pressure, spread 45 degrees
/// each way through caul and outer part, covers the length. Never below two.
pub(super) fn clamps_for(
    length: Length,
    width: Length,
    height: Length,
    outer_part: Length,
    softest: f64,
    clamping: Clamping,
) -> ClampAsk {
    let low_kpa = match softest {
        gravity if gravity < 0.45 => 690.0,
        gravity if gravity <= 0.60 => 860.0,
        _ => 1200.0,
    };
    let force = low_kpa / 1000.0 * length.mm() * height.mm();
    let by_force = (force / clamping.force.newtons()).ceil();
    let spread = 2.0 * (clamping.caul_depth + outer_part).mm();
    let by_spread = (length.mm() / spread).ceil();
    ClampAsk {
        number: by_force.max(by_spread).max(2.0) as u32,
        least_reach: width + clamping.caul_depth * 2,
    }
}

/// How the strips of a board are shared out to glue-ups.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Split {
    /// Consecutive strips of each sub-panel; one group where the board is glued at one go.
    pub groups: Vec<Vec<usize>>,
    /// Even so, some glue-up has more lines than can be spread in the open time.
    pub too_many_lines: bool,
    /// Even so, some sub-panel is too wide for the machine that flattens it.
    pub too_wide: bool,
}

/// The most glue lines that can be spread within the open time.
pub(super) fn most_lines(practice: &Practice) -> usize {
    let seconds = practice.gluing.open_time.0.max(0) as u64 * 60;
    (seconds / u64::from(practice.gluing.seconds_a_line.max(1))) as usize
}

/// As few sub-panels as let every glue-up fit the open time and every sub-panel pass the machine
/// that flattens it, where its width has a limit.
pub(super) fn split(widths: &[Length], practice: &Practice) -> Split {
    let lines = most_lines(practice);
    let total: Length = widths.iter().copied().sum();
    let pass_width = match practice.flattening.tool {
        FlatteningTool::Planer | FlatteningTool::DrumSander => practice.flattening.pass_width,
        FlatteningTool::Sander | FlatteningTool::RouterSled => None,
    };
    let fits = |groups: &[Vec<usize>]| {
        let lines_fit = groups.len() - 1 <= lines
            && groups
                .iter()
                .all(|group| group.len().saturating_sub(1) <= lines);
        let width_fits = pass_width.is_none_or(|most| {
            groups
                .iter()
                .all(|group| group.iter().map(|&strip| widths[strip]).sum::<Length>() <= most)
        });
        (lines_fit, width_fits)
    };
    let at_one_go = vec![(0..widths.len()).collect::<Vec<usize>>()];
    let mut best = Split {
        groups: at_one_go,
        too_many_lines: true,
        too_wide: true,
    };
    for count in 1..=widths.len().max(1) {
        let groups = shared_by_width(widths, total, count);
        let (lines_fit, width_fits) = fits(&groups);
        if lines_fit && width_fits {
            return Split {
                groups,
                too_many_lines: false,
                too_wide: false,
            };
        }
        // Rather a board that is glued in time than one that passes a machine.
        if lines_fit && best.too_many_lines {
            best = Split {
                groups,
                too_many_lines: false,
                too_wide: true,
            };
        }
    }
    best
}

/// Consecutive groups whose widths are as equal as cutting at equal steps makes them, none empty.
fn shared_by_width(widths: &[Length], total: Length, count: usize) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); count];
    let mut before = Length::ZERO;
    for (strip, width) in widths.iter().enumerate() {
        // The group in whose share of the width the strip's middle lies.
        let middle = i128::from(before.nm()) * 2 + i128::from(width.nm());
        let whole = i128::from(total.nm()).max(1) * 2;
        let group = (middle * count as i128 / whole) as usize;
        groups[group.min(count - 1)].push(strip);
        before += *width;
    }
    groups.retain(|group| !group.is_empty());
    if groups.is_empty() {
        vec![Vec::new()]
    } else {
        groups
    }
}

/// Panels for the strips of one board: the sub-panels, where there are any, and last the whole.
///
/// `first` is the index that the first of these panels will have among all panels.
pub(super) fn panels(
    names: (&str, &str),
    (length, height): (Length, Length),
    widths: &[Length],
    split: &Split,
    first: usize,
    softest: f64,
    clamping: Clamping,
) -> Vec<Panel> {
    let (whole_name, part_name) = names;
    let panel = |name: String, parts: Vec<PanelPart>, part_widths: Vec<Length>| {
        let width: Length = part_widths.iter().copied().sum();
        let outer = [part_widths.first(), part_widths.last()]
            .into_iter()
            .flatten()
            .copied()
            .min();
        let outer = outer.unwrap_or(Length::ZERO);
        let clamps = clamps_for(length, width, height, outer, softest, clamping);
        Panel {
            name,
            length,
            width,
            height,
            parts,
            clamps,
        }
    };
    let pieces = |group: &Vec<usize>| {
        let parts = group
            .iter()
            .map(|&strip| PanelPart::Piece(strip))
            .collect::<Vec<_>>();
        (
            parts,
            group.iter().map(|&strip| widths[strip]).collect::<Vec<_>>(),
        )
    };
    if let [group] = split.groups.as_slice() {
        let (parts, widths) = pieces(group);
        return vec![panel(whole_name.to_owned(), parts, widths)];
    }
    let mut panels: Vec<Panel> = Vec::new();
    let mut joined: Vec<(PanelPart, Length)> = Vec::new();
    for group in &split.groups {
        if let [alone] = group.as_slice() {
            joined.push((PanelPart::Piece(*alone), widths[*alone]));
            continue;
        }
        let (parts, part_widths) = pieces(group);
        let number = panels.len() + 1;
        let part = panel(format!("{part_name} {number}"), parts, part_widths);
        joined.push((PanelPart::Panel(first + panels.len()), part.width));
        panels.push(part);
    }
    let (parts, part_widths) = joined.into_iter().unzip();
    panels.push(panel(whole_name.to_owned(), parts, part_widths));
    panels
}

/// The steps that glue one panel, after all of `ready`, within the glue's time since `milled`:
/// dry fit, glue-up, and unclamping after the clamped hold. Gives the key of unclamping.
///
/// `suffix` tells the steps of several panels apart; empty where there is only one.
pub(super) fn add_glue_up(
    steps: &mut Steps,
    suffix: &str,
    what: &str,
    panel: (usize, &Panel),
    ready: &[String],
    milled: &str,
    practice: &Practice,
) -> String {
    let named = |kind: StepKind| {
        let mut step = step(kind, Amount::Job, practice);
        if !suffix.is_empty() {
            step.key = format!("{}-{suffix}", step.key);
            step.name = format!("{}: {what}", step.name);
        }
        step
    };
    let (place, panel) = panel;
    let unclamp_key = named(StepKind::Unclamp).key;
    let mut dry_fit = named(StepKind::DryFit);
    dry_fit.after = ready.iter().map(|key| after(key)).collect();
    let fitted = steps.start(dry_fit);
    let mut glue_up = named(StepKind::GlueUp);
    let mut milled = after(milled);
    milled.max_gap = Some(practice.gluing.after_milling);
    glue_up.after = vec![after(&fitted), milled];
    glue_up.panel = Some(place);
    glue_up.hold = Some(Hold {
        until: unclamp_key,
        clamps: Some(panel.clamps),
        stations: Vec::new(),
    });
    let glued = steps.start(glue_up);
    let mut unclamp = named(StepKind::Unclamp);
    let mut hold = after(&glued);
    hold.min_gap = practice.gluing.clamped;
    unclamp.after = vec![hold];
    steps.start(unclamp)
}

/// The innermost panel that a piece is glued into.
pub(super) fn panel_of(piece: usize, panels: &[Panel]) -> Option<usize> {
    panels
        .iter()
        .position(|panel| panel.parts.contains(&PanelPart::Piece(piece)))
}

/// Glue-ups of sub-panels, their flattening, and the glue-up of the whole. Gives the key of the
/// last unclamping. `panels` ends with the whole; `first` is the index of its first among all panels.
pub(super) fn add_panel_steps(
    steps: &mut Steps,
    panels: &[Panel],
    first: usize,
    milled: String,
    practice: &Practice,
) -> String {
    let (whole, parts) = panels
        .split_last()
        .expect("a glued board has at least one panel");
    let mut ready = vec![milled.clone()];
    let mut cut = milled.clone();
    if !parts.is_empty() {
        ready = parts
            .iter()
            .enumerate()
            .map(|(place, part)| {
                let suffix = format!("part-{}", place + 1);
                let mill = std::slice::from_ref(&milled);
                add_glue_up(
                    steps,
                    &suffix,
                    &part.name,
                    (first + place, part),
                    mill,
                    &milled,
                    practice,
                )
            })
            .collect();
        let sizes: Vec<(Length, Length)> =
            parts.iter().map(|part| (part.length, part.width)).collect();
        let mut flat = flatten(StepKind::FlattenPanel, &sizes, practice);
        flat.name = "Flatten sub-panels and joint their edges".to_owned();
        flat.after = ready.iter().map(|key| after(key)).collect();
        cut = steps.start(flat);
        ready = vec![cut.clone()];
    }
    let place = first + parts.len();
    add_glue_up(
        steps,
        "",
        &whole.name,
        (place, whole),
        &ready,
        &cut,
        practice,
    )
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
    step.stations = vec![(station, 1)];
    step.presence = presence;
    step
}

/// A warning where even sub-panels have more lines than can be spread in time.
pub(super) fn open_time_warning(split: &Split, practice: &Practice) -> Option<Warning> {
    split.too_many_lines.then(|| Warning {
        kind: WarningKind::OpenTime,
        about: say![format!(
            "The glue lines take longer to spread than the glue stays open, even in sub-panels: {} \
             lines can be spread in {} minutes.",
            most_lines(practice),
            practice.gluing.open_time.0
        )],
        cure: say!["Take a glue with a longer open time, wider strips, or a second pair of hands."],
    })
}

/// Coats, drying, cure and hand-over, after the latest step; feet go on once the piece is dry.
pub(super) fn add_finish(steps: &mut Steps, coats: u32, feet: bool, practice: &Practice) {
    let finish = &practice.finish;
    let off_rack = StepKind::OffRack.row().key;
    let mut last_coat: Option<String> = None;
    for number in 1..=coats {
        let mut coat = step(StepKind::Coat, Amount::Job, practice);
        coat.key = format!("coat-{number}");
        coat.name = format!("Coat {number}");
        if finish.is_drying_oil {
            coat.cautions.push("oily-rags");
        }
        last_coat = Some(match &last_coat {
            None => {
                coat.hold = Some(Hold {
                    until: off_rack.to_owned(),
                    clamps: None,
                    stations: vec![(Station::RackPlace, 1)],
                });
                steps.next(coat)
            }
            Some(earlier) => {
                let mut wait = after(earlier);
                wait.min_gap = finish.recoat_from;
                wait.max_gap = finish.recoat_to;
                coat.after = vec![wait];
                steps.start(coat)
            }
        });
    }
    let Some(last_coat) = last_coat else {
        if feet {
            steps.next(step(StepKind::Feet, Amount::Job, practice));
        }
        steps.next(step(StepKind::HandOver, Amount::Job, practice));
        return;
    };
    let mut follows = after(&last_coat);
    follows.max_gap = Some(Minutes(0));
    let mut drying = step(StepKind::Drying, Amount::Job, practice);
    drying.minutes = finish.dry;
    drying.after = vec![follows.clone()];
    let dry = steps.start(drying);
    let mut off = step(StepKind::OffRack, Amount::Job, practice);
    off.after = vec![after(&dry)];
    let mut off = steps.start(off);
    if feet {
        let mut screwed = step(StepKind::Feet, Amount::Job, practice);
        screwed.after = vec![after(&off)];
        off = steps.start(screwed);
    }
    let mut cure = step(StepKind::Cure, Amount::Job, practice);
    cure.minutes = finish.water_after;
    cure.after = vec![follows];
    let cured = steps.start(cure);
    let mut hand_over = step(StepKind::HandOver, Amount::Job, practice);
    hand_over.after = vec![after(&off), after(&cured)];
    steps.start(hand_over);
}
