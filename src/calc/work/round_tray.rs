//! A round tray with a rim: two equal discs are cut by a router that turns about a pivot, one of
//! them becomes a ring, and the ring is glued onto the other.
//!
//! The bit cuts outside the line of the discs and inside the line of the ring's hole. Whoever sets the
//! inside cut by the wrong edge of the bit gets a rim that is one bit thinner: [`TrayLayout`] holds that setting
//! too, so that the drawing can show both.

use super::blank::{Blank, BlankAsk};
use super::design::{Design, Kind, KindRow, Work};
use super::extras::{EdgeTreatment, Extras, edge_flaws, edge_removed_mm3};
use super::finish::add_finish;
use super::food::food_warnings;
use super::glue_up::{add_glue_up, add_glued, flatten};
use super::limits::{machine_warnings, within};
use super::needs::{
    Flaw, Leftover, Needs, Panel, PanelPart, Size, Warning, WarningKind, Wood, gather,
};
use super::panel::{assembly_warning, clamps_asked, clamps_to_book};
use super::practice::Practice;
use super::step::{Amount, StepKind, Steps, after, step};
use super::striped_board::Surface;
use super::wood::{softest, weight};
use crate::calc::gluing::GlueLines;
use crate::calc::matching::Shop;
use crate::calc::pattern::{BoardStrip, fill};
use crate::calc::shaping::{Circle, CircleCuts, cut_circle};
use crate::calc::wood::ServedAs;
use crate::units::{Area, Length, Volume, say};
use std::f64::consts::PI;

/// A round tray; finished sizes.
///
/// # Worked example
/// A disc of 14 in, a rim of 1/2 in, a bit of 1/4 in, wood 3/4 in thick, plain geometry. Pivot to the bit's near edge 7 in =
/// 177.8 mm and to its middle 180.975 mm for the discs; 158.75 and 161.925 mm for the inside of the ring. The round that falls
/// out measures 317.5 mm, the blank at least 14 + 2 x 1/4 in = 368.3 mm. Passes of 1/8 in: 6; of 3/16 in: 4. Set
/// by the wrong edge of the bit the rim would be 1/4 in wide. Two boards of 7 1/4 in make a blank of 14 1/2 in, cut
/// 15 in long; two of 7 in hold the disc only.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RoundTray {
    /// Of both discs.
    pub diameter: Length,
    /// Width of the ring.
    pub rim: Length,
    pub base_thickness: Length,
    pub ring_thickness: Length,
    /// Diameter of the router's bit.
    pub bit: Length,
    /// Of the outer edges of base and ring.
    pub edge: EdgeTreatment,
    pub base: Blank,
    pub ring: Blank,
}

pub(super) const KIND: KindRow = KindRow {
    slug: "round-tray",
    title: "Round tray with a rim",
    about: "Two discs cut with a router about a pivot; one becomes the rim.",
    served_as: ServedAs::Serving,
    usual,
};

/// Maple, of two boards for the base and two for the ring.
fn usual() -> Design {
    let inches = Length::from_inches;
    let boards = || Blank::Glued {
        surface: Surface::FaceGrain,
        arrangement: fill(
            &[BoardStrip::new("hard maple", inches(29, 4))],
            inches(29, 2),
        ),
    };
    Design::RoundTray(RoundTray {
        diameter: inches(14, 1),
        rim: inches(1, 2),
        base_thickness: inches(3, 4),
        ring_thickness: inches(3, 4),
        bit: inches(1, 4),
        edge: Extras::rounded().edge,
        base: boards(),
        ring: boards(),
    })
}

/// Sizes beyond these are slips of the finger.
const DIAMETERS: (Length, Length) = (Length::from_inches(4, 1), Length::from_inches(36, 1));
const THICKNESSES: (Length, Length) = (Length::from_inches(1, 4), Length::from_inches(2, 1));
const BITS: (Length, Length) = (Length::from_inches(1, 8), Length::from_inches(1, 1));
/// A ring narrower than this breaks in the cut or when it is held. Common practice.
const ENOUGH_RIM: Length = Length::from_inches(3, 8);
const LEAST_RIM: Length = Length::from_inches(1, 8);
/// Common practice in small shops; makers of routers say 1/8 in.
const BOLD_PASS: Length = Length::from_inches(3, 16);

/// Every setting of the router, for drawings and the bench sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrayLayout {
    /// The base's disc.
    pub base: CircleCuts,
    /// The ring: its outside, then its inside.
    pub ring: CircleCuts,
    /// Passes at 3/16 in, through base and ring: the common practice, beside the workshop's own depth.
    pub bold_passes: (usize, usize),
    /// Of the blank, without room for the bit: the bit runs off the wood at four places.
    pub bare_blank: Length,
    /// Of the blank, with the bit's whole kerf around the disc.
    pub blank_at_least: Length,
    /// Of the pivot arm.
    pub arm_at_least: Length,
    /// What the rim would be if the inside cut were set by the bit's wrong edge; not positive where
    /// nothing would be left.
    pub rim_by_wrong_edge: Length,
}

impl RoundTray {
    /// The router's settings; the error says which measure keeps it from being cut.
    pub fn layout(&self, practice: &Practice) -> Result<TrayLayout, Vec<Flaw>> {
        let cut = |rim: Option<Length>, thickness: Length, depth_per_pass: Length| {
            let circle = Circle {
                diameter: self.diameter,
                rim,
                bit: self.bit,
                thickness,
                depth_per_pass,
            };
            cut_circle(&circle).map_err(|flaw| vec![Flaw::at(&["rim"], say![flaw.to_string()])])
        };
        let depth = practice.shaping.depth_per_pass;
        let base = cut(None, self.base_thickness, depth)?;
        let ring = cut(Some(self.rim), self.ring_thickness, depth)?;
        let bold_base = cut(None, self.base_thickness, BOLD_PASS)?;
        let bold_ring = cut(Some(self.rim), self.ring_thickness, BOLD_PASS)?;
        Ok(TrayLayout {
            bold_passes: (bold_base.passes.len(), bold_ring.passes.len()),
            bare_blank: self.diameter,
            blank_at_least: base.blank_at_least,
            arm_at_least: base.outside.to_near_edge + self.bit + practice.shaping.arm_margin,
            rim_by_wrong_edge: self.rim - self.bit,
            base,
            ring,
        })
    }

    fn size(&self) -> Size {
        Size {
            length: self.diameter,
            width: self.diameter,
            thickness: self.base_thickness + self.ring_thickness,
        }
    }

    fn blanks(&self) -> [(&'static str, &Blank, Length); 2] {
        [
            ("base", &self.base, self.base_thickness),
            ("ring", &self.ring, self.ring_thickness),
        ]
    }

    fn shape_warnings(&self, layout: &TrayLayout) -> Vec<Warning> {
        let mut warnings = Vec::new();
        for (name, blank, _) in self.blanks() {
            let width = blank.width(layout.blank_at_least);
            if width < layout.blank_at_least {
                warnings.push(Warning {
                    kind: WarningKind::Blank,
                    about: say![
                        "The blank of the ",
                        name,
                        " is ",
                        width,
                        " wide: enough for the disc, but the bit runs off the wood at four places, \
                         where it can tear out and pull.",
                    ],
                    cure: say![
                        "Make the boards ",
                        layout.blank_at_least,
                        " wide together, a narrower bit, \
                         or a smaller tray; or glue waste along the sides.",
                    ],
                });
            }
        }
        if self.rim < ENOUGH_RIM {
            warnings.push(Warning {
                kind: WarningKind::Strength,
                about: say![
                    "A rim of ",
                    self.rim,
                    " breaks easily while it is cut and held."
                ],
                cure: say!["Make it at least ", ENOUGH_RIM, " wide."],
            });
        }
        warnings
    }

    /// Volume of a disc or ring before its edges are treated.
    fn ring_mm3(&self) -> f64 {
        let outer = self.diameter.mm() / 2.0;
        let inner = outer - self.rim.mm();
        PI * (outer * outer - inner * inner) * self.ring_thickness.mm()
    }

    /// The ring is pressed onto the base over its whole round: its middle line, rolled out, is one glue
    /// line as high as the rim is wide.
    fn ring_line(&self) -> GlueLines {
        let around = Length::from_mm_rounded(PI * (self.diameter - self.rim).mm());
        GlueLines {
            count: 1,
            length: around,
            height: self.rim,
        }
    }
}

impl Work for RoundTray {
    fn flattened(&self) -> Vec<(&'static str, Length)> {
        let parts = self.blanks().into_iter();
        parts
            .map(|(name, _, thickness)| (name, thickness))
            .collect()
    }

    fn edge(&self) -> EdgeTreatment {
        self.edge
    }

    fn finished(&self, _practice: &Practice) -> Size {
        self.size()
    }

    fn species(&self) -> Vec<(Vec<String>, &str)> {
        self.blanks()
            .into_iter()
            .flat_map(|(name, blank, _)| blank.species(name))
            .collect()
    }

    fn flaws(&self, practice: &Practice, _shop: &Shop) -> Vec<Flaw> {
        let mut flaws: Vec<Flaw> = [
            within(&["diameter"], self.diameter, DIAMETERS),
            within(&["base_thickness"], self.base_thickness, THICKNESSES),
            within(&["ring_thickness"], self.ring_thickness, THICKNESSES),
            within(&["bit"], self.bit, BITS),
        ]
        .into_iter()
        .flatten()
        .collect();
        if flaws.is_empty() {
            let most = Length::from_nm(self.diameter.nm() / 4);
            flaws.extend(within(&["rim"], self.rim, (LEAST_RIM, most)));
        }
        for thickness in [self.base_thickness, self.ring_thickness] {
            if flaws.is_empty() {
                flaws.extend(edge_flaws(self.edge, thickness));
            }
        }
        if flaws.is_empty()
            && let Err(found) = self.layout(practice)
        {
            flaws.extend(found);
        }
        for (name, blank, _) in self.blanks() {
            flaws.extend(blank.flaws(name, self.diameter));
        }
        flaws
    }

    fn needs(&self, practice: &Practice, shop: &Shop, woods: &[Wood]) -> Needs {
        let layout = self.layout(practice).expect("the design has no flaws");
        // A little longer than the disc and the bit's kerf: the ends of the boards never line up.
        let length = layout.blank_at_least + practice.allowances.rough_length;
        let outer_edge = edge_removed_mm3(self.edge, PI * self.diameter.mm()) / 2.0;
        let radius = self.diameter.mm() / 2.0;
        let disc_mm3 = PI * radius * radius * self.base_thickness.mm();

        // Base and ring lose their outer edge on one face each: bottom and top.
        let base_volume = Volume::from_mm3(disc_mm3 - outer_edge);
        let ring_volume = Volume::from_mm3(self.ring_mm3() - outer_edge);
        let ask = |name, suffix, thickness, first_piece, first_panel| BlankAsk {
            name,
            suffix,
            length,
            width: layout.blank_at_least,
            thickness,
            first_piece,
            first_panel,
        };
        let base = self.base.plan(
            ask("base", "base", self.base_thickness, 0, 0),
            base_volume,
            practice,
            woods,
        );
        let (first_piece, first_panel) = (base.pieces.len(), base.glued.panels().len());
        let ring = self.ring.plan(
            ask(
                "ring",
                "ring",
                self.ring_thickness,
                first_piece,
                first_panel,
            ),
            ring_volume,
            practice,
            woods,
        );
        let pieces: Vec<_> = base.pieces.iter().chain(&ring.pieces).cloned().collect();
        let (strips, places, wood) = gather(&pieces);
        let rough = Size {
            length,
            width: base.width.max(ring.width),
            thickness: self.base_thickness
                + self.ring_thickness
                + practice.allowances.flattening * 4,
        };

        let mut warnings = food_warnings(&wood, KIND.served_as, woods);
        for blank in [&base, &ring] {
            warnings.extend(assembly_warning(&blank.glued, practice));
        }
        warnings.extend(machine_warnings(rough, &base.glued, practice, shop));
        warnings.extend(self.shape_warnings(&layout));

        let mut steps = Steps::default();
        let mill = steps.start(step(StepKind::Mill, Amount::Pieces(pieces.len()), practice));
        let base_ready = add_glued(
            &mut steps,
            &base.glued,
            std::slice::from_ref(&mill),
            practice,
        );
        let ring_ready = add_glued(
            &mut steps,
            &ring.glued,
            std::slice::from_ref(&mill),
            practice,
        );
        let faces = [(length, base.width), (length, ring.width)];
        let mut flat = flatten(StepKind::FlattenPanel, &faces, practice);
        flat.name = "Flatten both panels".to_owned();
        flat.after = vec![after(&base_ready)];
        if ring_ready != base_ready {
            flat.after.push(after(&ring_ready));
        }
        let flat = steps.start(flat);
        steps.next(step(StepKind::RouteDisc, Amount::Pieces(2), practice));
        steps.next(step(StepKind::RouteRing, Amount::Job, practice));
        let routed = steps.list.last().expect("just added").key.clone();

        let mut panels = base.glued.panels();
        panels.extend(ring.glued.panels());
        let whole = |first: usize, end: usize, piece: usize| {
            if end > first {
                PanelPart::Panel(end - 1)
            } else {
                PanelPart::Piece(piece)
            }
        };
        let softest = softest(places.iter().map(|place| place.species.as_str()), woods);
        let lines = self.ring_line();
        let stack = self.base_thickness + self.ring_thickness;
        let clamping = &practice.clamping;
        let need = clamps_asked(&lines, stack, self.ring_thickness, softest, clamping);
        let tray = Panel {
            name: "tray".to_owned(),
            length: self.diameter,
            width: stack,
            height: self.rim,
            parts: vec![
                whole(0, first_panel, 0),
                whole(first_panel, panels.len(), first_piece),
            ],
            lines,
            clamps: clamps_to_book(&need, clamping),
            need,
        };
        add_glue_up(
            &mut steps,
            "tray",
            (panels.len(), &tray),
            &[flat, routed],
            practice,
        );
        if let Some(glue_up) = steps
            .list
            .iter_mut()
            .find(|step| step.key == "glue-up-tray")
        {
            glue_up.name = "Glue up: ring on base, grain and seams lined up".to_owned();
        }
        panels.push(tray);
        let round = Area::of(self.diameter, self.diameter) * 2;
        steps.next(step(
            StepKind::RoundOverAndSand,
            Amount::Faces(round),
            practice,
        ));
        add_finish(&mut steps, practice.finish.coats, false, practice);

        let leftovers = layout
            .ring
            .falls_out
            .map(|diameter| Leftover {
                name: "the round that falls out of the ring".to_owned(),
                species: self.ring.woods(),
                size: Size {
                    length: diameter,
                    width: diameter,
                    thickness: self.ring_thickness,
                },
                is_round: true,
                count: 1,
            })
            .into_iter()
            .collect();
        Needs {
            kind: Kind::RoundTray,
            finished: self.size(),
            rough,
            weight: weight(&wood, woods),
            strips,
            places,
            panels,
            steps: steps.list,
            wood,
            coats: practice.finish.coats,
            leftovers,
            warnings,
            alternatives: Vec::new(),
        }
    }
}
