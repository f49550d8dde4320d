//! What is done in a step, for the bench sheet: in words, with the drawings that belong to it.

use jiff::tz::TimeZone;

use super::advised::{Advised, Fact, capital};
use super::drawn::Drawer;
use super::live::size_words;
use super::opened::Opened;
use crate::app::advice::ProjectAdvice;
use crate::calc::shaping::Circle;
use crate::calc::work::{Design, EdgeTreatment, Needs, Step, StepKind};
use crate::export::svg::{self, Drawing, Style};
use crate::store::booking::Booking;
use crate::units::{Length, Source};
use crate::web::words;

/// Everything that the steps of a sheet are made from.
pub(super) struct StepsOf<'a> {
    pub opened: &'a Opened,
    pub drawer: &'a Drawer<'a>,
    pub needs: &'a Needs,
    pub of: &'a ProjectAdvice,
    pub advised: &'a Advised,
    pub bookings: &'a [Booking],
    pub zone: &'a TimeZone,
}

fn said(text: impl Into<String>) -> Fact {
    Fact {
        text: text.into(),
        source: None,
        is_warning: false,
    }
}

fn practised(text: impl Into<String>) -> Fact {
    Fact {
        source: Some(Source::PRACTICE.to_string()),
        ..said(text)
    }
}

fn copied(facts: &[Fact]) -> Vec<Fact> {
    facts
        .iter()
        .map(|fact| Fact {
            text: fact.text.clone(),
            source: fact.source.clone(),
            is_warning: fact.is_warning,
        })
        .collect()
}

/// What is done in a step, with its drawings.
pub(super) fn work(all: &StepsOf<'_>, step: &Step) -> (Vec<Fact>, Vec<Drawing>) {
    let lengths = all.drawer.lengths;
    let needs = all.needs;
    let practice = &all.opened.basis.practice;
    match step.kind {
        StepKind::Mill => (
            vec![said(
                "Cut the pieces in the order below, and number the strips as they come off the saw.",
            )],
            Vec::new(),
        ),
        StepKind::DryFit => (
            vec![said(
                "Lay the parts together without glue, in their order, cauls and clamps set to size. Draw a triangle over all seams.",
            )],
            Vec::new(),
        ),
        StepKind::GlueUp => glue_up(all, step),
        StepKind::Unclamp => (
            vec![said(format!(
                "Clamps off after {} at the earliest; scrape the squeeze-out off before it meets sandpaper or a planer.",
                words::span(practice.gluing.clamped)
            ))],
            Vec::new(),
        ),
        StepKind::CutSlices => slices(all),
        StepKind::FlattenPanel | StepKind::Flatten => (flatten(all, step), Vec::new()),
        StepKind::FlattenEndGrain => (
            vec![practised(
                "With a router on a sled or with a sander, from the middle outwards; end grain never goes through a planer. Chamfer the far edge first, so that it does not break out.",
            )],
            Vec::new(),
        ),
        StepKind::CutOutline => (outline(all), Vec::new()),
        StepKind::DrillHole => (hole(all), Vec::new()),
        StepKind::Groove | StepKind::Grips | StepKind::Feet => (extra(all, step.kind), Vec::new()),
        StepKind::Square => (
            vec![said(format!("To {}.", size_words(needs.finished, lengths)))],
            Vec::new(),
        ),
        StepKind::RouteDisc | StepKind::RouteRing => circle(all, step.kind),
        StepKind::RoundOverAndSand => {
            let mut says = vec![edges(all)];
            says.extend(copied(&all.advised.sanding));
            (says, Vec::new())
        }
        StepKind::Coat if step.key == "coat-1" => (copied(&all.advised.finish), Vec::new()),
        StepKind::Cure => (
            vec![said(format!(
                "No water and no food for {} after the last coat.",
                words::span(practice.finish.water_after)
            ))],
            Vec::new(),
        ),
        StepKind::Drying => (
            vec![practised(
                "On points or edges, so that air reaches all faces, away from dust.",
            )],
            Vec::new(),
        ),
        StepKind::HandOver => (
            vec![practised(
                "Say with it: washed by hand and dried on edge, never in a dishwasher or left in water; oiled again when it looks dry.",
            )],
            Vec::new(),
        ),
        StepKind::Coat | StepKind::OffRack => (Vec::new(), Vec::new()),
    }
}

fn flatten(all: &StepsOf<'_>, step: &Step) -> Vec<Fact> {
    let show = |length| all.drawer.lengths.show(length);
    let parts = all.opened.design.flattened();
    let to = match parts.as_slice() {
        [(_, first), others @ ..] if others.iter().all(|(_, other)| other == first) => show(*first),
        _ => {
            let each: Vec<String> = parts
                .iter()
                .map(|(name, thickness)| format!("{} ({name})", show(*thickness)))
                .collect();
            words::listed(&each)
        }
    };
    vec![practised(format!(
        "To {to}, both faces parallel, until a straightedge shows no light. With a sander start at 40 grit and allow about {}.",
        words::span(step.minutes)
    ))]
}

fn edges(all: &StepsOf<'_>) -> Fact {
    let show = |length| all.drawer.lengths.show(length);
    let bit = match all.opened.design.edge() {
        EdgeTreatment::Eased => {
            return practised("Break every edge by hand with sandpaper, so that nobody is cut.");
        }
        EdgeTreatment::RoundOver { radius } => {
            format!(
                "Round the outer edges over with a bearing bit of {} radius",
                show(radius)
            )
        }
        EdgeTreatment::Chamfer { size } => {
            format!(
                "Chamfer the outer edges by {} with a bearing bit",
                show(size)
            )
        }
    };
    practised(format!(
        "{bit}, in light passes: edges across the grain first, then those along it, which takes away what tore out at the corners. Break all others by hand."
    ))
}

fn outline(all: &StepsOf<'_>) -> Vec<Fact> {
    let Design::HandleBoard(board) = &all.opened.design else {
        return Vec::new();
    };
    let lengths = all.drawer.lengths;
    let mut says = Vec::new();
    if let Ok(shape) = board.shape() {
        says.push(said(format!(
            "Paste the full-size template on with the grain along the handle. Saw {} of outline just outside the line and sand to it.",
            lengths.show(shape.outline_length)
        )));
    }
    says.push(match board.relief_drill {
        Some(drill) => said(format!(
            "The inside corners are drilled already, with a bit of {}: saw from the body and from the tip into these holes.",
            lengths.show(drill)
        )),
        None => said(format!(
            "The inside corners have a radius of {}; the blade follows {} and more. Slow down there, and make a relief cut into the waste if it binds.",
            lengths.show(board.throat_radius),
            lengths.show(all.opened.basis.practice.shaping.jigsaw_radius)
        )),
    });
    says
}

fn hole(all: &StepsOf<'_>) -> Vec<Fact> {
    let Design::HandleBoard(board) = &all.opened.design else {
        return Vec::new();
    };
    let lengths = all.drawer.lengths;
    let mut says = Vec::new();
    if let Some(hole) = board.hole {
        says.push(said(format!(
            "A hole of {} on the handle's middle line, its middle {} from the tip.",
            lengths.show(hole.diameter),
            lengths.show(hole.from_tip)
        )));
    }
    if let Ok(shape) = board.shape()
        && let Some(around) = shape.around_hole
    {
        says.push(said(format!(
            "{} of wood is left around it.",
            lengths.show(around)
        )));
    }
    if let Some(drill) = board.relief_drill {
        says.push(said(format!(
            "Two holes of {} at the inside corners, in the waste, where the template has its crosses.",
            lengths.show(drill)
        )));
    }
    says.push(practised(
        "Clamp the board down on a scrap, which keeps the back from splintering.",
    ));
    says
}

fn extra(all: &StepsOf<'_>, kind: StepKind) -> Vec<Fact> {
    let Some(extras) = all.opened.design.extras() else {
        return Vec::new();
    };
    let thickness = all.needs.finished.thickness;
    let lengths = all.drawer.lengths;
    match kind {
        StepKind::Groove => extras.groove.map_or_else(Vec::new, |groove| {
            vec![said(format!(
                "A round-nose bit of {}, its middle {} from the sides, {} deep in passes of at most {}; {} of wood is left under it.",
                lengths.show(groove.width),
                lengths.show(groove.inset),
                lengths.show(groove.depth),
                lengths.show(all.opened.basis.practice.shaping.depth_per_pass),
                lengths.show(thickness - groove.depth)
            ))]
        }),
        StepKind::Grips => extras.grips.map_or_else(Vec::new, |grips| {
            vec![said(format!(
                "In the middle of each end, from below: {} long, {} high and {} deep; {} of wood is left above.",
                lengths.show(grips.length),
                lengths.show(grips.height),
                lengths.show(grips.depth),
                lengths.show(thickness - grips.height)
            ))]
        }),
        _ => vec![practised(format!(
            "{} where the drilling template has its crosses, on short stainless screws; they and their holes go no deeper than {} into the wood, which {}.",
            capital(&words::counted(extras.feet as usize, "foot", "feet")),
            lengths.show(extras.foot_screw_depth(thickness)),
            if extras.groove.is_some() { "keeps them clear of the groove" } else { "leaves the other half of the board whole" }
        ))],
    }
}

fn glue_up(all: &StepsOf<'_>, step: &Step) -> (Vec<Fact>, Vec<Drawing>) {
    let Some(place) = step.panel else {
        return (Vec::new(), Vec::new());
    };
    let panel = &all.needs.panels[place];
    let mut says = Vec::new();
    let is_glue_up = |step: &Step| step.kind == StepKind::GlueUp;
    match all.needs.steps.iter().position(is_glue_up) {
        Some(first) if all.needs.steps[first].key != step.key => says.push(said(format!(
            "Glue, open time and time in clamps as at step {}.",
            first + 1
        ))),
        _ => says.extend(copied(&all.advised.gluing)),
    }
    let advice = all
        .of
        .advice
        .panels
        .iter()
        .find(|advice| advice.panel == panel.name);
    if let Some(advice) = advice {
        says.extend(Advised::of_panel(
            advice,
            &all.drawer.basis.practice.clamping.rack,
            all.needs,
            all.drawer.lengths,
        ));
    }
    says.push(said(format!(
        "Glue on {} only, none on the outer faces. Tighten from the middle outwards, a little at a time.",
        words::counted(panel.glue_lines(), "line", "lines")
    )));
    let drawing = all
        .drawer
        .with(&format!("glue{place}"), Style::PHONE, |style| {
            let opened = all.opened;
            svg::glue_up(
                style,
                &opened.design,
                all.needs,
                place,
                &opened.basis.practice,
            )
        });
    (says, drawing.into_iter().collect())
}

fn slices(all: &StepsOf<'_>) -> (Vec<Fact>, Vec<Drawing>) {
    let Design::EndGrainBoard(board) = &all.opened.design else {
        return (Vec::new(), Vec::new());
    };
    let lengths = all.drawer.lengths;
    let layout = board.layout(&all.opened.basis.practice, &all.opened.basis.shop);
    let drawing = all.drawer.with("slicing", Style::PHONE, |style| {
        svg::slicing(style, board, &layout)
    });
    (
        vec![
            said(format!(
                "Square one end of the panel, set the stop to {} and cut {}; {} of the panel's {} go into kerfs.",
                lengths.show(layout.slice_thickness),
                words::counted(board.slices as usize, "slice", "slices"),
                lengths.show(layout.kerfs),
                lengths.show(layout.panel_length),
            )),
            said(format!(
                "At least {} of the panel stays over behind the last slice. As soon as a hand would come within 150 mm of the blade, clamp the panel to the sled for the cut. Number the slices as they come, turn each onto its cut face, and treat every second one as drawn.",
                lengths.show(layout.end_piece)
            )),
        ],
        vec![drawing],
    )
}

fn circle(all: &StepsOf<'_>, kind: StepKind) -> (Vec<Fact>, Vec<Drawing>) {
    let Design::RoundTray(tray) = &all.opened.design else {
        return (Vec::new(), Vec::new());
    };
    let Ok(layout) = tray.layout(&all.opened.basis.practice) else {
        return (Vec::new(), Vec::new());
    };
    let lengths = all.drawer.lengths;
    let passes = |depths: &[Length]| {
        let depths: Vec<String> = depths.iter().map(|depth| lengths.show(*depth)).collect();
        format!(
            "{}: {}.",
            capital(&words::counted(depths.len(), "pass", "passes")),
            words::listed(&depths)
        )
    };
    let mut says = Vec::new();
    if kind == StepKind::RouteDisc {
        says.push(said(format!(
            "Pivot to the near edge of the bit {}, to its middle {}: the bit runs outside the line. The same pivot hole serves both discs.",
            lengths.show(layout.base.outside.to_near_edge),
            lengths.show(layout.base.outside.to_bit_centre),
        )));
        says.push(said(passes(&layout.base.passes)));
        if layout.ring.passes != layout.base.passes {
            says.push(said(format!(
                "For the ring's disc: {}",
                passes(&layout.ring.passes)
            )));
        }
        says.push(practised(format!(
            "Small shops take 3/16 in at a pass, which would be {}; makers of routers say 1/8 in.",
            words::counted(layout.bold_passes.0, "pass", "passes")
        )));
        says.push(said(format!(
            "The pivot arm is at least {} long, of sheet 1/4 in thick.",
            lengths.show(layout.arm_at_least)
        )));
        says.push(said(format!(
            "The blank is at least {} square with the bit's whole kerf around the disc; {} is the bare least. In between the bit leaves the wood at four places, where it can tear out and pull.",
            lengths.show(layout.blank_at_least),
            lengths.show(layout.bare_blank),
        )));
    } else if let Some(inside) = layout.ring.inside {
        says.push(said(format!(
            "Pivot to the near edge of the bit {}, to its middle {}: the bit runs inside the line.",
            lengths.show(inside.to_near_edge),
            lengths.show(inside.to_bit_centre),
        )));
        says.push(said(format!(
            "Measured from the wrong edge of the bit the rim comes out {} instead of {}.",
            lengths.show(layout.rim_by_wrong_edge),
            lengths.show(tray.rim)
        )));
        says.push(said(passes(&layout.ring.passes)));
        says.push(said(
            "Hold the ring and the round inside it before the last pass.",
        ));
        if let Some(round) = layout.ring.falls_out {
            says.push(said(format!(
                "The round that falls out measures {}: it makes a serving board, or goes back to a bin.",
                lengths.show(round)
            )));
        }
    }
    let (thickness, cuts, rim) = if kind == StepKind::RouteDisc {
        (tray.base_thickness, &layout.base, None)
    } else {
        (tray.ring_thickness, &layout.ring, Some(tray.rim))
    };
    let circle = Circle {
        diameter: tray.diameter,
        rim,
        bit: tray.bit,
        thickness,
        depth_per_pass: all.opened.basis.practice.shaping.depth_per_pass,
    };
    let prefix = if rim.is_some() { "ring" } else { "disc" };
    let drawing = all.drawer.with(prefix, Style::PHONE, |style| {
        svg::router_circle(style, &circle, cuts)
    });
    (says, vec![drawing])
}
