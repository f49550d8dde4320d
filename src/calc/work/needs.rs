//! What a project asks of wood and shop, as values.

use std::fmt;

use super::design::Kind;
use super::step::{ClampAsk, Step};
use crate::calc::gluing::{ClampNeed, GlueLines};
use crate::calc::matching::{Section, Strip};
use crate::units::{FoodGrade, Length, Mass, Sentence, Volume, WoodFigures};

/// Length along the grain, width across it, and thickness.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Size {
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
}

impl Size {
    pub fn volume(self) -> Volume {
        Volume::of(self.length, self.width, self.thickness)
    }
}

/// The figures of a species that the calculations of this module need.
#[derive(Clone, Debug, PartialEq)]
pub struct Wood {
    pub species: String,
    pub figures: WoodFigures,
    pub food: FoodGrade,
}

/// Something in the design that cannot be made as it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flaw {
    /// Field names and places in lists, from the design inwards: `["strips", "3", "width"]`.
    pub place: Vec<String>,
    /// Of the form "is X; must be Y".
    pub about: Sentence,
}

impl Flaw {
    pub(super) fn at(place: &[&str], about: Sentence) -> Flaw {
        Flaw {
            place: place.iter().map(|part| (*part).to_owned()).collect(),
            about,
        }
    }
}

impl fmt::Display for Flaw {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{} {}", self.place.join(" "), self.about)
    }
}

/// Something that can be made but should be thought about first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warning {
    pub kind: WarningKind,
    pub about: Sentence,
    /// What would make it go away.
    pub cure: Sentence,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum WarningKind {
    /// The finished size is not the wanted one.
    Size,
    /// The species is not the best for food.
    Food,
    /// The glue is past its open time before all lines are spread.
    OpenTime,
    /// A feature takes too much of the thickness.
    Thickness,
    /// A machine should not be fed a piece of this size.
    Machine,
    /// A narrow place may break.
    Strength,
    /// A tool cannot follow the line.
    Tool,
    /// The blank is not as large as it should be.
    Blank,
    /// The pattern will not meet as it is meant to.
    Pattern,
}

/// Another way to have nearly the same, offered beside the needs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alternative {
    pub change: Change,
    pub about: Sentence,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// So many strips make a board so wide.
    StripCount { strips: usize, width: Length },
    /// A thickness that lets dressed pieces go in as they are.
    Thickness(Length),
    /// So many slices make a board so long.
    SliceCount { slices: usize, length: Length },
}

/// One numbered piece of wood of the project: a strip, a blank.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// As it is called in drawings and on the bench sheet: `strip 3`.
    pub label: String,
    pub species: String,
    /// Index into the strips of the needs.
    pub need: usize,
    /// Index into the panels of the needs, where the piece is glued into one.
    pub panel: Option<usize>,
    /// As it shows across the panel's face.
    pub width: Length,
}

/// What a panel is glued from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PanelPart {
    /// Index into the places.
    Piece(usize),
    /// Index into the panels: a sub-panel or a disc.
    Panel(usize),
    /// The slice's number, from 0, of the panel that was glued before.
    Slice(usize),
}

/// Parts that are glued at one go.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    pub name: String,
    /// Along the glue lines.
    pub length: Length,
    /// Across the glue lines: what the clamps span, without cauls.
    pub width: Length,
    /// Of each glue line.
    pub height: Length,
    /// From one side to the other.
    pub parts: Vec<PanelPart>,
    /// All that are spread for it; a ring's is rolled out.
    pub lines: GlueLines,
    /// What it asks of clamps, at the pressure that the softest of its woods bears.
    pub need: ClampNeed,
    /// From the workshop's own clamps where it lists some that do; together they are the clamps of the panel.
    pub clamps: Vec<ClampAsk>,
}

impl Panel {
    pub fn clamp_count(&self) -> u32 {
        self.clamps.iter().map(|ask| ask.number).sum()
    }

    /// None on the outer faces: a panel of n parts has n - 1.
    pub fn glue_lines(&self) -> usize {
        self.parts.len().saturating_sub(1)
    }
}

/// How much wood of one species goes in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WoodUse {
    pub species: String,
    pub finished: Volume,
    /// As cut for the project, before gluing.
    pub rough: Volume,
}

/// Wood that is left of a glued panel, for a bin or for a second piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Leftover {
    pub name: String,
    /// Each once; more than one where the leftover is a glued panel of several woods.
    pub species: Vec<String>,
    /// Of a round, length and width are its diameter.
    pub size: Size,
    pub is_round: bool,
    pub count: u32,
}

impl Leftover {
    /// Length and width of the rectangle that it surely gives: of a round the largest square in it, to the
    /// millimetre below.
    pub fn usable(&self) -> (Length, Length) {
        if self.is_round {
            let side = self.size.length.mm() * std::f64::consts::FRAC_1_SQRT_2;
            let side = Length::from_mm_rounded(side.floor());
            (side, side)
        } else {
            (self.size.length, self.size.width)
        }
    }
}

/// What a project asks of wood and shop.
#[derive(Clone, Debug, PartialEq)]
pub struct Needs {
    pub kind: Kind,
    pub finished: Size,
    /// As glued, or as cut where nothing is glued.
    pub rough: Size,
    /// What the match must find; equal pieces together, ids `s1`, `s2`, ... in the order of places.
    pub strips: Vec<Strip>,
    pub places: Vec<Place>,
    pub panels: Vec<Panel>,
    pub steps: Vec<Step>,
    pub wood: Vec<WoodUse>,
    /// Finished, at 12 % moisture.
    pub weight: Mass,
    pub coats: u32,
    /// What falls off after gluing and is worth keeping.
    pub leftovers: Vec<Leftover>,
    pub warnings: Vec<Warning>,
    pub alternatives: Vec<Alternative>,
}

impl Needs {
    pub fn finished_board_feet(&self) -> f64 {
        self.wood
            .iter()
            .map(|wood| wood.finished)
            .sum::<Volume>()
            .board_feet()
    }

    pub fn rough_board_feet(&self) -> f64 {
        self.wood
            .iter()
            .map(|wood| wood.rough)
            .sum::<Volume>()
            .board_feet()
    }

    /// The keys of all cautions, each once, in the order of the steps.
    pub fn cautions(&self) -> Vec<&'static str> {
        let mut keys = Vec::new();
        for key in self.steps.iter().flat_map(|step| &step.cautions) {
            if !keys.contains(key) {
                keys.push(*key);
            }
        }
        keys
    }
}

/// One piece before equal ones are put together.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Piece {
    pub label: String,
    pub species: String,
    pub length: Length,
    /// Alternative ways to have it; the first gives the rough volume.
    pub sections: Vec<Section>,
    pub panel: Option<usize>,
    pub width: Length,
    pub finished: Volume,
}

/// Equal pieces become one need with a count; each piece keeps its place.
pub(super) fn gather(pieces: &[Piece]) -> (Vec<Strip>, Vec<Place>, Vec<WoodUse>) {
    let mut strips: Vec<Strip> = Vec::new();
    let mut wood: Vec<WoodUse> = Vec::new();
    let places = pieces
        .iter()
        .map(|piece| {
            let known = strips.iter().position(|strip| {
                strip.species == [piece.species.clone()]
                    && strip.length == piece.length
                    && strip.sections == piece.sections
            });
            let need = known.unwrap_or_else(|| {
                strips.push(Strip {
                    id: format!("s{}", strips.len() + 1),
                    species: vec![piece.species.clone()],
                    count: 0,
                    length: piece.length,
                    sections: piece.sections.clone(),
                });
                strips.len() - 1
            });
            strips[need].count += 1;
            let rough = piece.sections.first().map_or(Volume::ZERO, |section| {
                Volume::of(piece.length, section.rip, section.thickness)
            });
            match wood.iter_mut().find(|sum| sum.species == piece.species) {
                Some(sum) => {
                    sum.finished = sum.finished + piece.finished;
                    sum.rough = sum.rough + rough;
                }
                None => wood.push(WoodUse {
                    species: piece.species.clone(),
                    finished: piece.finished,
                    rough,
                }),
            }
            Place {
                label: piece.label.clone(),
                species: piece.species.clone(),
                need,
                panel: piece.panel,
                width: piece.width,
            }
        })
        .collect();
    (strips, places, wood)
}
