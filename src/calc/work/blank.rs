//! The flat wood that a shape is cut from: one piece, or boards glued side by side.

use super::limits::arrangement_flaws;
use super::needs::{Flaw, PanelPart, Piece, Wood};
use super::panel::{Glued, GluedPlan};
use super::practice::Practice;
use super::striped_board::Surface;
use super::wood::softest;
use crate::calc::matching::Section;
use crate::calc::pattern::{Arrangement, BoardStrip};
use crate::units::{Length, Volume, say};

/// What a blank is made of; grain along its length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Blank {
    /// A single piece as wide as the shape asks.
    OnePiece { species: String },
    /// Boards or strips side by side; together they must be as wide as the shape asks.
    Glued {
        surface: Surface,
        arrangement: Arrangement,
    },
}

/// What is asked of a blank, as cut.
#[derive(Clone, Copy, Debug)]
pub(super) struct BlankAsk<'a> {
    pub name: &'a str,
    /// Tells its glue-up from others of the project.
    pub suffix: &'a str,
    pub length: Length,
    pub width: Length,
    /// Finished; flattening is added.
    pub thickness: Length,
    pub first_piece: usize,
    pub first_panel: usize,
}

/// A blank's pieces and its panels.
#[derive(Clone, Debug)]
pub(super) struct BlankPlan {
    pub pieces: Vec<Piece>,
    pub glued: GluedPlan,
    /// As glued, or as cut from one piece.
    pub width: Length,
}

/// The section of a strip of a width in a panel of a finished thickness, each way it may be had.
pub(super) fn sections(
    surface: Surface,
    width: Length,
    thickness: Length,
    practice: &Practice,
) -> Vec<Section> {
    let thickness = thickness + practice.allowances.flattening * 2;
    let width = width + practice.allowances.glue_face * 2;
    let on_edge = Section {
        rip: thickness,
        thickness: width,
    };
    let flat = Section {
        rip: width,
        thickness,
    };
    match surface {
        Surface::EdgeGrain => vec![on_edge],
        Surface::FaceGrain => vec![flat],
        Surface::Either if on_edge == flat => vec![on_edge],
        Surface::Either => vec![on_edge, flat],
    }
}

impl Blank {
    /// The species with their places in the design.
    pub(super) fn species<'a>(&'a self, field: &str) -> Vec<(Vec<String>, &'a str)> {
        match self {
            Blank::OnePiece { species } => {
                vec![(
                    vec![field.to_owned(), "species".to_owned()],
                    species.as_str(),
                )]
            }
            Blank::Glued { arrangement, .. } => {
                let strips = arrangement.strips.iter().enumerate();
                let place = |strip: usize| {
                    [field, "strips", &strip.to_string(), "species"]
                        .map(str::to_owned)
                        .to_vec()
                };
                strips
                    .map(|(strip, of)| (place(strip), of.species.as_str()))
                    .collect()
            }
        }
    }

    /// Each species once.
    pub(super) fn woods(&self) -> Vec<String> {
        let mut woods: Vec<String> = Vec::new();
        for (_, species) in self.species("") {
            if !woods.iter().any(|known| known == species) {
                woods.push(species.to_owned());
            }
        }
        woods
    }

    /// `least` is the width below which the shape cannot be had at all.
    pub(super) fn flaws(&self, field: &str, least: Length) -> Vec<Flaw> {
        let Blank::Glued { arrangement, .. } = self else {
            return Vec::new();
        };
        let mut flaws = arrangement_flaws(&[field], arrangement);
        if flaws.is_empty() && arrangement.width() < least {
            let about = say![
                "are ",
                arrangement.width(),
                " wide together; must be at least ",
                least,
                " for this shape",
            ];
            flaws.push(Flaw::at(&[field, "strips"], about));
        }
        flaws
    }

    /// The width of the glued boards, or what is asked where one piece is cut to it.
    pub(super) fn width(&self, asked: Length) -> Length {
        match self {
            Blank::OnePiece { .. } => asked,
            Blank::Glued { arrangement, .. } => arrangement.width(),
        }
    }

    /// `finished` is the volume of the shape; a strip's share of it is its share of the width.
    pub(super) fn plan(
        &self,
        ask: BlankAsk<'_>,
        finished: Volume,
        practice: &Practice,
        woods: &[Wood],
    ) -> BlankPlan {
        let one;
        let (surface, strips) = match self {
            Blank::OnePiece { species } => {
                one = Arrangement::new(vec![BoardStrip::new(species, ask.width)]);
                (Surface::FaceGrain, &one)
            }
            Blank::Glued {
                surface,
                arrangement,
            } => (*surface, arrangement),
        };
        let glued = Glued {
            name: ask.name,
            suffix: ask.suffix,
            length: ask.length,
            height: ask.thickness + practice.allowances.flattening * 2,
            widths: strips.strips.iter().map(|strip| strip.width).collect(),
            first_part: PanelPart::Piece(ask.first_piece),
            first_panel: ask.first_panel,
        };
        let glued = glued.plan(softest(strips.species(), woods), practice);
        let alone = strips.strips.len() == 1;
        let pieces = strips
            .strips
            .iter()
            .enumerate()
            .map(|(place, strip)| Piece {
                label: if alone {
                    ask.name.to_owned()
                } else if ask.suffix.is_empty() {
                    format!("strip {}", place + 1)
                } else {
                    format!("{} strip {}", ask.suffix, place + 1)
                },
                species: strip.species.clone(),
                length: ask.length,
                sections: sections(surface, strip.width, ask.thickness, practice),
                panel: glued.panel_of(ask.first_piece + place),
                width: strip.width,
                finished: Volume::from_mm3(finished.mm3() * strip.width.mm() / strips.width().mm()),
            })
            .collect();
        BlankPlan {
            pieces,
            glued,
            width: strips.width(),
        }
    }
}
