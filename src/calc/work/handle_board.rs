//! A board with a handle, sawn to its outline from one piece or from a glued blank.
//!
//! The grain runs along the handle. With the handle's direction as x axis the body lies at an angle
//! to it where the handle is slanted, so that handle and grain still agree; what the blank must hold is
//! the extent of the outline in that frame. The outline is a polygon with eight corners, rounded: four of the body, two
//! inside corners at the throat, two at the tip.

use super::blank::{Blank, BlankAsk};
use super::design::{Design, Kind, KindRow, Work};
use super::extras::{EdgeTreatment, Extras, edge_flaws, edge_removed_mm3};
use super::finish::add_finish;
use super::food::food_warnings;
use super::glue_up::{add_glued, flatten};
use super::limits::{machine_warnings, within};
use super::needs::{Flaw, Needs, Size, Warning, WarningKind, Wood, gather};
use super::panel::assembly_warning;
use super::practice::Practice;
use super::step::{Amount, StepKind, Steps, step};
use super::wood::weight;
use crate::calc::matching::Shop;
use crate::calc::shaping::{Corner, CornerError, Outline, Point};
use crate::calc::wood::ServedAs;
use crate::units::{Area, Length, Volume, say};

/// A hole to hang the board by, on the handle's middle line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hole {
    pub diameter: Length,
    /// From the end of the handle to the hole's centre.
    pub from_tip: Length,
}

/// A board with a handle; finished sizes.
///
/// # Worked example
/// A body 12 x 7 in with corners of 1 in, a straight handle 5 x 1 3/4 in with a round end (7/8 in), throats of
/// 3/4 in and a 1/2 in hole, plain geometry. Area: 84 - (4 - pi) 1^2 + 8.75 - (2 - pi/2) (7/8)^2 + (2 - pi/2) (3/4)^2 -
/// pi (1/4)^2 = 91.608 in^2. Outline: straight 2 x 10 + 5 + 2 x 7/8 + 2 x 3 3/8 in, arcs pi/2 (4 x 1 + 2 x 3/4 + 2 x 7/8) in.
/// Around the hole 7/8 - 1/4 = 5/8 in are left. With 1/4 in all round the blank is 17 1/2 x 7 1/2 in.
#[derive(Clone, Debug, PartialEq)]
pub struct HandleBoard {
    pub body_length: Length,
    pub body_width: Length,
    pub thickness: Length,
    /// From the body's end to the tip, along the handle's middle line.
    pub handle_length: Length,
    pub handle_width: Length,
    /// Between the handle and the body's middle line; 0 for a straight handle, positive to the left as
    /// seen from the body.
    pub slant_degrees: f64,
    /// Of the body's four corners.
    pub corner_radius: Length,
    /// Of the two inside corners where the handle meets the body.
    pub throat_radius: Length,
    /// Of the two corners at the handle's end; half the handle's width makes it round.
    pub tip_radius: Length,
    pub hole: Option<Hole>,
    /// The inside corners are drilled with this bit before sawing.
    pub relief_drill: Option<Length>,
    pub edge: EdgeTreatment,
    pub blank: Blank,
}

pub(super) const KIND: KindRow = KindRow {
    slug: "handle-board",
    title: "Board with a handle",
    about: "Sawn to its outline from one piece or a glued blank, to carry and to hang.",
    served_as: ServedAs::CuttingSurface,
    usual,
};

/// Cherry with a round tip, from one piece.
fn usual() -> Design {
    let inches = Length::from_inches;
    Design::HandleBoard(HandleBoard {
        body_length: inches(12, 1),
        body_width: inches(7, 1),
        thickness: inches(3, 4),
        handle_length: inches(5, 1),
        handle_width: inches(7, 4),
        slant_degrees: 0.0,
        corner_radius: inches(1, 1),
        throat_radius: inches(3, 4),
        tip_radius: inches(7, 8),
        hole: Some(Hole {
            diameter: inches(1, 2),
            from_tip: inches(7, 8),
        }),
        relief_drill: None,
        edge: Extras::rounded().edge,
        blank: Blank::OnePiece {
            species: "black cherry".to_owned(),
        },
    })
}

/// Sizes beyond these are slips of the finger.
const BODY_LENGTHS: (Length, Length) = (Length::from_inches(4, 1), Length::from_inches(36, 1));
const BODY_WIDTHS: (Length, Length) = (Length::from_inches(2, 1), Length::from_inches(24, 1));
const THICKNESSES: (Length, Length) = (Length::from_inches(3, 8), Length::from_inches(3, 1));
const HANDLE_LENGTHS: (Length, Length) = (Length::from_inches(1, 1), Length::from_inches(16, 1));
const HANDLE_WIDTHS: (Length, Length) = (Length::from_inches(3, 4), Length::from_inches(8, 1));
const MOST_SLANT_DEGREES: f64 = 45.0;
/// Wood to be left around a hole: warned about below 3/8 in, refused below 1/8 in. Common practice.
const ENOUGH_AROUND_HOLE: Length = Length::from_inches(3, 8);
const LEAST_AROUND_HOLE: Length = Length::from_inches(1, 8);
/// A handle narrower than this at its narrowest is warned about. Common practice.
const ENOUGH_HANDLE: Length = Length::from_inches(1, 1);
/// Grain that crosses the body at more than this leaves short grain at its corners. Common practice.
const MUCH_SLANT_DEGREES: f64 = 20.0;

/// The outline and what is measured on it, with the handle and the grain along the x axis.
#[derive(Clone, Debug, PartialEq)]
pub struct HandleShape {
    pub outline: Outline,
    /// Centre and radius.
    pub hole: Option<(Point, f64)>,
    /// Between the hole's edge and the nearest edge of the board.
    pub around_hole: Option<Length>,
    /// Along the grain and across it.
    pub extent: (Length, Length),
    pub outline_length: Length,
    /// Of one face, the hole left out, in square millimetres.
    pub area_mm2: f64,
}

impl HandleBoard {
    /// The exact shape, or what keeps the outline from closing.
    pub fn shape(&self) -> Result<HandleShape, Vec<Flaw>> {
        let slant = self.slant_degrees.to_radians();
        let (length, width) = (self.body_length.mm(), self.body_width.mm());
        let half_handle = self.handle_width.mm() / 2.0;
        // The handle's sides meet the body's end, x = length, this far from its middle.
        let meets = half_handle / slant.cos();
        if meets >= width / 2.0 {
            let most = Length::from_mm_rounded(width * slant.cos());
            let about = say![
                "is ",
                self.handle_width,
                "; must be less than ",
                most,
                " to leave a shoulder on either side of it",
            ];
            return Err(vec![Flaw::at(&["handle_width"], about)]);
        }
        let base = Point::new(length, 0.0);
        let tip = |along: f64, across: f64| {
            let moved = Point::new(along, across).turned(slant);
            Point::new(base.x + moved.x, base.y + moved.y)
        };
        let reach = self.handle_length.mm();
        let (corner, throat, round_tip) = (
            self.corner_radius.mm(),
            self.throat_radius.mm(),
            self.tip_radius.mm(),
        );
        let corners = [
            Corner {
                at: Point::new(0.0, -width / 2.0),
                radius: corner,
            },
            Corner {
                at: Point::new(length, -width / 2.0),
                radius: corner,
            },
            Corner {
                at: Point::new(length, -meets),
                radius: throat,
            },
            Corner {
                at: tip(reach, -half_handle),
                radius: round_tip,
            },
            Corner {
                at: tip(reach, half_handle),
                radius: round_tip,
            },
            Corner {
                at: Point::new(length, meets),
                radius: throat,
            },
            Corner {
                at: Point::new(length, width / 2.0),
                radius: corner,
            },
            Corner {
                at: Point::new(0.0, width / 2.0),
                radius: corner,
            },
        ];
        let outline = Outline::rounded(&corners).map_err(|error| vec![self.corner_flaw(error)])?;
        let outline = outline.turned(-slant);
        let hole = self.hole.map(|hole| {
            let centre = tip(reach - hole.from_tip.mm(), 0.0).turned(-slant);
            (centre, hole.diameter.mm() / 2.0)
        });
        let around_hole =
            hole.map(|(centre, radius)| Length::from_mm_rounded(outline.distance(centre) - radius));
        let extent = outline.extent();
        let hole_area = hole.map_or(0.0, |(_, radius)| std::f64::consts::PI * radius * radius);
        Ok(HandleShape {
            hole,
            around_hole,
            extent: (
                Length::from_mm_rounded(extent.length()),
                Length::from_mm_rounded(extent.width()),
            ),
            outline_length: Length::from_mm_rounded(outline.length()),
            area_mm2: outline.area() - hole_area,
            outline,
        })
    }

    fn corner_flaw(&self, error: CornerError) -> Flaw {
        let (corner, edge, asked) = match error {
            CornerError::EdgeTooShort {
                corner,
                edge,
                asked,
            } => (corner, edge, asked),
            CornerError::NoPolygon { .. } => {
                return Flaw::at(
                    &["handle_length"],
                    say!["is too short for the handle to stand out; must be longer"],
                );
            }
        };
        let (field, radius, what) = match corner {
            0 | 6 => ("corner_radius", self.corner_radius, "the body's side"),
            7 => ("corner_radius", self.corner_radius, "the body's end"),
            1 | 5 => (
                "throat_radius",
                self.throat_radius,
                "the shoulder beside the handle",
            ),
            2 | 4 => ("throat_radius", self.throat_radius, "the handle's side"),
            _ => ("tip_radius", self.tip_radius, "the handle's end"),
        };
        let about = say![
            "is ",
            radius,
            ", with which the two roundings at ",
            what,
            " ask ",
            Length::from_mm_rounded(asked),
            "; must fit the ",
            Length::from_mm_rounded(edge),
            " that are there",
        ];
        Flaw::at(&[field], about)
    }

    fn size(&self) -> Size {
        let (length, width) = self.shape().map(|shape| shape.extent).unwrap_or_default();
        Size {
            length,
            width,
            thickness: self.thickness,
        }
    }

    /// As cut: the outline's extent and a margin around it, in which no corner of the piece is used.
    fn blank_size(&self, shape: &HandleShape, practice: &Practice) -> (Length, Length) {
        let margin = practice.allowances.outline * 2;
        (shape.extent.0 + margin, shape.extent.1 + margin)
    }

    fn shape_warnings(&self, shape: &HandleShape, practice: &Practice) -> Vec<Warning> {
        let mut warnings = Vec::new();
        if let Some(left) = shape.around_hole
            && left < ENOUGH_AROUND_HOLE
        {
            warnings.push(Warning {
                kind: WarningKind::Strength,
                about: say!["Only ", left, " of wood are left around the hole."],
                cure: say![
                    "Leave ",
                    ENOUGH_AROUND_HOLE,
                    ": a smaller hole, a wider handle, or the hole further from the tip.",
                ],
            });
        }
        if self.handle_width < ENOUGH_HANDLE {
            warnings.push(Warning {
                kind: WarningKind::Strength,
                about: say![
                    "The handle is only ",
                    self.handle_width,
                    " wide at its narrowest."
                ],
                cure: say!["Make it at least ", ENOUGH_HANDLE, " wide."],
            });
        }
        if self.slant_degrees.abs() > MUCH_SLANT_DEGREES {
            warnings.push(Warning {
                kind: WarningKind::Strength,
                about: say![format!(
                    "The grain runs along the handle, so it crosses the body at {} degrees and is \
                     short at two of its corners.",
                    self.slant_degrees.abs()
                )],
                cure: say![format!(
                    "Slant the handle by {MUCH_SLANT_DEGREES} degrees at most."
                )],
            });
        }
        let drilled = self.relief_drill == Some(self.throat_radius * 2);
        let least = practice.shaping.jigsaw_radius;
        if self.throat_radius < least && !drilled {
            warnings.push(Warning {
                kind: WarningKind::Tool,
                about: say![
                    "The jigsaw's blade cannot follow the throat's radius of ",
                    self.throat_radius,
                    "; it turns in ",
                    least,
                    " at least.",
                ],
                cure: if self.throat_radius.is_positive() {
                    say![
                        "Drill both inside corners first with a bit of ",
                        self.throat_radius * 2,
                        ", take a narrower blade, or make the radius larger.",
                    ]
                } else {
                    say!["Give the throat a radius; a sharp inside corner also starts cracks."]
                },
            });
        }
        warnings
    }
}

impl Work for HandleBoard {
    fn flattened(&self) -> Vec<(&'static str, Length)> {
        vec![("blank", self.thickness)]
    }

    fn edge(&self) -> EdgeTreatment {
        self.edge
    }

    fn finished(&self, _practice: &Practice) -> Size {
        self.size()
    }

    fn species(&self) -> Vec<(Vec<String>, &str)> {
        self.blank.species("blank")
    }

    fn flaws(&self, practice: &Practice, _shop: &Shop) -> Vec<Flaw> {
        let mut flaws: Vec<Flaw> = [
            within(&["body_length"], self.body_length, BODY_LENGTHS),
            within(&["body_width"], self.body_width, BODY_WIDTHS),
            within(&["thickness"], self.thickness, THICKNESSES),
            within(&["handle_length"], self.handle_length, HANDLE_LENGTHS),
            within(&["handle_width"], self.handle_width, HANDLE_WIDTHS),
        ]
        .into_iter()
        .flatten()
        .collect();
        // A NaN is in no range.
        if !(-MOST_SLANT_DEGREES..=MOST_SLANT_DEGREES).contains(&self.slant_degrees) {
            let about = say![format!(
                "is {} degrees; must be from -{MOST_SLANT_DEGREES} to {MOST_SLANT_DEGREES}",
                self.slant_degrees
            )];
            flaws.push(Flaw::at(&["slant_degrees"], about));
        }
        if let Some(drill) = self.relief_drill
            && (!drill.is_positive() || drill > self.throat_radius * 2)
        {
            let about = say![
                "is ",
                drill,
                "; must be at most ",
                self.throat_radius * 2,
                ", twice the throat's radius, so that the hole stays inside the waste",
            ];
            flaws.push(Flaw::at(&["relief_drill"], about));
        }
        if let Some(hole) = self.hole {
            if !hole.diameter.is_positive() {
                let about = say!["is ", hole.diameter, "; must be more than 0"];
                flaws.push(Flaw::at(&["hole", "diameter"], about));
            }
            if hole.from_tip >= self.handle_length {
                let about = say![
                    "is ",
                    hole.from_tip,
                    "; must be less than the handle's length of ",
                    self.handle_length,
                ];
                flaws.push(Flaw::at(&["hole", "from_tip"], about));
            }
        }
        flaws.extend(edge_flaws(self.edge, self.thickness));
        if !flaws.is_empty() {
            return flaws;
        }
        match self.shape() {
            Err(found) => found,
            Ok(shape) => {
                let (_, width) = self.blank_size(&shape, practice);
                flaws.extend(self.blank.flaws("blank", width));
                if let Some(left) = shape.around_hole
                    && left < LEAST_AROUND_HOLE
                {
                    let about = say![
                        "leaves ",
                        left,
                        " of wood around the hole; must leave at least ",
                        LEAST_AROUND_HOLE,
                    ];
                    flaws.push(Flaw::at(&["hole", "diameter"], about));
                }
                flaws
            }
        }
    }

    fn needs(&self, practice: &Practice, shop: &Shop, woods: &[Wood]) -> Needs {
        let shape = self.shape().expect("the design has no flaws");
        let (length, width) = self.blank_size(&shape, practice);
        let hole_round = self
            .hole
            .map_or(0.0, |hole| std::f64::consts::PI * hole.diameter.mm());
        let removed = edge_removed_mm3(self.edge, shape.outline_length.mm() + hole_round);
        let volume = Volume::from_mm3(shape.area_mm2 * self.thickness.mm() - removed);
        let ask = BlankAsk {
            name: "blank",
            suffix: "",
            length,
            width,
            thickness: self.thickness,
            first_piece: 0,
            first_panel: 0,
        };
        let plan = self.blank.plan(ask, volume, practice, woods);
        let rough = Size {
            length,
            width: plan.width,
            thickness: self.thickness + practice.allowances.flattening * 2,
        };
        let (strips, places, wood) = gather(&plan.pieces);

        let mut warnings = food_warnings(&wood, KIND.served_as, woods);
        warnings.extend(assembly_warning(&plan.glued, practice));
        warnings.extend(machine_warnings(rough, &plan.glued, practice, shop));
        warnings.extend(self.shape_warnings(&shape, practice));

        let mut steps = Steps::default();
        let mill = steps.start(step(
            StepKind::Mill,
            Amount::Pieces(plan.pieces.len()),
            practice,
        ));
        add_glued(&mut steps, &plan.glued, &[mill], practice);
        let face = (rough.length, rough.width);
        steps.next(flatten(StepKind::Flatten, &[face], practice));
        if self.hole.is_some() || self.relief_drill.is_some() {
            // Drilled while the blank's square sides can still be held.
            steps.next(step(StepKind::DrillHole, Amount::Job, practice));
        }
        steps.next(step(StepKind::CutOutline, Amount::Job, practice));
        let faces = Area::of(face.0, face.1) * 2;
        steps.next(step(
            StepKind::RoundOverAndSand,
            Amount::Faces(faces),
            practice,
        ));
        add_finish(&mut steps, practice.finish.coats, false, practice);

        Needs {
            kind: Kind::HandleBoard,
            finished: self.size(),
            rough,
            weight: weight(&wood, woods),
            strips,
            places,
            panels: plan.glued.panels(),
            steps: steps.list,
            wood,
            coats: practice.finish.coats,
            leftovers: Vec::new(),
            warnings,
            alternatives: Vec::new(),
        }
    }
}
