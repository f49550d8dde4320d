//! What a board may have besides its shape: treated edges, a juice groove, grip recesses, feet.
//!
//! The limits are common practice with no single source, except where one is named.

use std::f64::consts::PI;

use super::needs::{Flaw, Size, Warning, WarningKind};
use super::practice::Practice;
use super::step::{Amount, StepKind, Steps, step};
use crate::units::{Length, Volume, say};

/// The edges between the faces and the sides, above and below.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum EdgeTreatment {
    /// Broken by hand with sandpaper, so that nobody is cut.
    #[default]
    Eased,
    RoundOver {
        radius: Length,
    },
    /// At 45 degrees, `size` taken off each face and each side.
    Chamfer {
        size: Length,
    },
}

/// A groove around the face, cut with a round-nose bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct JuiceGroove {
    /// Of the bit.
    pub width: Length,
    pub depth: Length,
    /// From the board's side to the middle of the groove.
    pub inset: Length,
}

/// A recess for the fingers in the middle of each end, from below.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GripRecesses {
    /// Along the end of the board.
    pub length: Length,
    /// Upwards from the bottom face.
    pub height: Length,
    /// Into the end.
    pub depth: Length,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Extras {
    pub edge: EdgeTreatment,
    pub groove: Option<JuiceGroove>,
    pub grips: Option<GripRecesses>,
    /// How many are screwed on; 0 for none.
    pub feet: u32,
}

/// The thickness left under a groove or above a grip must be at least this: 3/8 in.
const LEAST_LEFT: Length = Length::from_inches(3, 8);
/// A round-over on both faces leaves a flat for the bearing to run on: 2 mm, 1 mm a face.
const LEAST_FLAT: Length = Length::from_mm(2);
const MOST_FEET: u32 = 12;
/// From the sides of the board to a foot's screw, and from a grip to it. Common practice.
const FOOT_INSET: Length = Length::from_inches(5, 4);
const GRIP_TO_FOOT: Length = Length::from_inches(3, 4);
/// Wood that a foot's screw leaves to the middle of the board or to the groove. Common practice.
const BEYOND_SCREW: Length = Length::from_inches(1, 8);

/// What the edge treatment takes from the thickness on each face.
fn edge_size(edge: EdgeTreatment) -> Length {
    match edge {
        EdgeTreatment::Eased => Length::ZERO,
        EdgeTreatment::RoundOver { radius } => radius,
        EdgeTreatment::Chamfer { size } => size,
    }
}

/// Flaws of an edge treatment on wood of a thickness; also for kinds without the other extras.
pub(super) fn edge_flaws(edge: EdgeTreatment, thickness: Length) -> Vec<Flaw> {
    let (field, size) = match edge {
        EdgeTreatment::Eased => return Vec::new(),
        EdgeTreatment::RoundOver { radius } => ("radius", radius),
        EdgeTreatment::Chamfer { size } => ("size", size),
    };
    if !size.is_positive() {
        return vec![Flaw::at(
            &["edge", field],
            say!["is ", size, "; must be more than 0"],
        )];
    }
    if size * 2 + LEAST_FLAT > thickness {
        let most = Length::from_nm((thickness - LEAST_FLAT).nm().max(0) / 2);
        let about = say![
            "is ",
            size,
            " on both faces; must be at most ",
            most,
            " on wood ",
            thickness,
            " thick, so that the bit's bearing has a flat to run on",
        ];
        return vec![Flaw::at(&["edge", field], about)];
    }
    Vec::new()
}

impl Extras {
    /// Edges rounded over by 1/8 in and nothing else: what most boards get.
    pub(super) fn rounded() -> Extras {
        let radius = Length::from_inches(1, 8);
        Extras {
            edge: EdgeTreatment::RoundOver { radius },
            ..Extras::default()
        }
    }

    /// What cannot be done on a board of this size.
    pub(super) fn flaws(&self, size: Size) -> Vec<Flaw> {
        let mut flaws = edge_flaws(self.edge, size.thickness);
        if let Some(groove) = self.groove {
            flaws.extend(groove_flaws(groove, self.edge, size));
        }
        if let Some(grips) = self.grips {
            flaws.extend(grip_flaws(grips, size));
        }
        if self.feet > MOST_FEET {
            let about = say![format!("is {}; must be from 0 to {MOST_FEET}", self.feet)];
            flaws.push(Flaw::at(&["feet"], about));
        }
        if let (Some(groove), Some(grips)) = (self.groove, self.grips) {
            // Seen from the end, the grip ends below the groove or short of it.
            let over = groove.inset - half(groove.width) < grips.depth;
            let between = size.thickness - groove.depth - grips.height;
            if over && between < LEAST_LEFT {
                let about = say![
                    "is ",
                    grips.height,
                    " high and leaves ",
                    between,
                    " to the groove above it; must leave at least ",
                    LEAST_LEFT,
                ];
                flaws.push(Flaw::at(&["grips", "height"], about));
            }
        }
        flaws
    }

    pub(super) fn warnings(&self, size: Size) -> Vec<Warning> {
        let mut warnings = Vec::new();
        if let Some(groove) = self.groove
            && groove.depth * 3 > size.thickness
        {
            warnings.push(Warning {
                kind: WarningKind::Thickness,
                about: say![
                    "The groove is ",
                    groove.depth,
                    " deep, more than a third of the board's ",
                    size.thickness,
                    ".",
                ],
                cure: say!["Make the groove shallower (3 to 6 mm is usual) or the board thicker."],
            });
        }
        if self.feet > 0 && self.groove.is_none() {
            warnings.push(Warning {
                kind: WarningKind::Thickness,
                about: say!["With feet only one face of the board can be used."],
                cure: say!["Leave the feet out if both faces should be used."],
            });
        }
        warnings
    }

    /// Where the feet are screwed on: along the board and across it, from the lower left corner of the
    /// bottom face. They stand in two rows along the sides; an odd one goes to the middle, and of three to
    /// the middle of the far end, so that nothing rocks.
    pub fn foot_places(&self, size: Size) -> Vec<(Length, Length)> {
        let quarter = |length: Length| Length::from_nm(length.nm() / 4);
        let grip = self
            .grips
            .map_or(Length::ZERO, |grips| grips.depth + GRIP_TO_FOOT);
        let along = FOOT_INSET.max(grip).min(quarter(size.length));
        let across = FOOT_INSET.min(quarter(size.width));
        let (far, top) = (size.length - along, size.width - across);
        let (middle, centre) = (half(size.width), half(size.length));
        match i64::from(self.feet) {
            0 => Vec::new(),
            1 => vec![(centre, middle)],
            2 => vec![(along, middle), (far, middle)],
            3 => vec![(along, across), (along, top), (far, middle)],
            feet => {
                let gaps = feet / 2 - 1;
                let mut places: Vec<(Length, Length)> = (0..=gaps)
                    .map(|gap| along + Length::from_nm((far - along).nm() * gap / gaps))
                    .flat_map(|along| [(along, across), (along, top)])
                    .collect();
                if feet % 2 == 1 {
                    places.push((centre, middle));
                }
                places
            }
        }
    }

    /// How deep a foot's screw may go into a board of this thickness: short of its middle, and short of
    /// the groove above it.
    pub fn foot_screw_depth(&self, thickness: Length) -> Length {
        let groove = self.groove.map_or(Length::ZERO, |groove| groove.depth);
        half(thickness)
            .min(thickness - groove)
            .saturating_sub(BEYOND_SCREW)
    }

    pub(super) fn add_steps(&self, steps: &mut Steps, practice: &Practice) {
        if self.groove.is_some() {
            steps.next(step(StepKind::Groove, Amount::Job, practice));
        }
        if self.grips.is_some() {
            steps.next(step(StepKind::Grips, Amount::Job, practice));
        }
    }

    /// The wood that groove, grips and edges take from a rectangular board, to the third decimal
    /// or so: the groove's corners are taken as square, the grips as half as high inside as outside.
    pub(super) fn removed(&self, size: Size) -> Volume {
        let mut mm3 = edge_removed_mm3(self.edge, 2.0 * (size.length + size.width).mm());
        if let Some(groove) = self.groove {
            let across = 2.0 * groove.inset.mm();
            let path = 2.0 * (size.length.mm() - across) + 2.0 * (size.width.mm() - across);
            mm3 += path * round_nose_area_mm2(groove);
        }
        if let Some(grips) = self.grips {
            mm3 += 2.0 * 0.75 * grips.length.mm() * grips.height.mm() * grips.depth.mm();
        }
        Volume::from_mm3(mm3)
    }
}

/// What edges on both faces take along an outline of a length.
pub(super) fn edge_removed_mm3(edge: EdgeTreatment, outline_mm: f64) -> f64 {
    let size = edge_size(edge).mm();
    let area = match edge {
        EdgeTreatment::Eased => 0.0,
        EdgeTreatment::RoundOver { .. } => (1.0 - PI / 4.0) * size * size,
        EdgeTreatment::Chamfer { .. } => size * size / 2.0,
    };
    2.0 * area * outline_mm
}

/// The cross-section of a groove: a circle's segment, with straight sides above it where the groove
/// is deeper than the bit's radius.
fn round_nose_area_mm2(groove: JuiceGroove) -> f64 {
    let radius = groove.width.mm() / 2.0;
    let depth = groove.depth.mm();
    let round = depth.min(radius);
    let angle = ((radius - round) / radius).acos();
    let segment = radius * radius * (angle - angle.sin() * angle.cos());
    segment + (depth - round) * groove.width.mm()
}

fn half(length: Length) -> Length {
    Length::from_nm(length.nm() / 2)
}

fn groove_flaws(groove: JuiceGroove, edge: EdgeTreatment, size: Size) -> Vec<Flaw> {
    let mut flaws = Vec::new();
    for (field, value) in [
        ("width", groove.width),
        ("depth", groove.depth),
        ("inset", groove.inset),
    ] {
        if !value.is_positive() {
            flaws.push(Flaw::at(
                &["groove", field],
                say!["is ", value, "; must be more than 0"],
            ));
        }
    }
    if !flaws.is_empty() {
        return flaws;
    }
    let deepest = half(size.thickness).min(size.thickness.saturating_sub(LEAST_LEFT));
    if groove.depth > deepest {
        let about = say![
            "is ",
            groove.depth,
            "; must be at most ",
            deepest,
            " in a board ",
            size.thickness,
            " thick: no more than half, and at least ",
            LEAST_LEFT,
            " left below",
        ];
        flaws.push(Flaw::at(&["groove", "depth"], about));
    }
    let least_inset = half(groove.width) + edge_size(edge);
    if groove.inset < least_inset {
        let about = say![
            "is ",
            groove.inset,
            "; must be at least ",
            least_inset,
            ", so that the groove does not break through the board's edge",
        ];
        flaws.push(Flaw::at(&["groove", "inset"], about));
    }
    let most_inset = half(size.width.min(size.length)) - groove.width;
    if groove.inset > most_inset {
        let about = say![
            "is ",
            groove.inset,
            "; must be at most ",
            most_inset,
            " on this board, so that a face is left inside the groove",
        ];
        flaws.push(Flaw::at(&["groove", "inset"], about));
    }
    flaws
}

fn grip_flaws(grips: GripRecesses, size: Size) -> Vec<Flaw> {
    let mut flaws = Vec::new();
    let mut limit = |field: &str, value: Length, most: Length, why: &str| {
        if !value.is_positive() {
            flaws.push(Flaw::at(
                &["grips", field],
                say!["is ", value, "; must be more than 0"],
            ));
        } else if value > most {
            let about = say!["is ", value, "; must be at most ", most, why];
            flaws.push(Flaw::at(&["grips", field], about));
        }
    };
    limit(
        "length",
        grips.length,
        size.width.saturating_sub(Length::from_inches(1, 1)),
        ": the board's width less half an inch on either side",
    );
    limit(
        "height",
        grips.height,
        size.thickness.saturating_sub(LEAST_LEFT),
        ": the board's thickness less what must be left above the fingers",
    );
    limit(
        "depth",
        grips.depth,
        Length::from_nm(size.length.nm() / 8),
        ": an eighth of the board's length",
    );
    flaws
}
