//! Drawings of designs in the workshop's own colours.

use crate::app::basis::Basis;
use crate::calc::work::{Design, Turn};
use crate::export::svg::{self, BoardFace, Colour, Drawing, EndGrainFace, Slice, Style};
use crate::units::{Length, LengthFormat};

/// How the drawings of one page are made.
pub(super) struct Drawer<'a> {
    pub basis: &'a Basis,
    pub lengths: LengthFormat,
}

impl Drawer<'_> {
    fn colour(&self, species: &str) -> Colour {
        let [red, green, blue] = self
            .basis
            .woods
            .find(species)
            .map_or([190, 160, 120], |wood| wood.colour);
        Colour::new(red, green, blue)
    }

    /// Gives `draw` the style with ids that begin with `prefix`.
    pub fn with<T>(&self, prefix: &str, width: f64, draw: impl FnOnce(&Style<'_>) -> T) -> T {
        let colour = |species: &str| self.colour(species);
        draw(&Style {
            prefix,
            width,
            lengths: self.lengths,
            colour: &colour,
        })
    }

    /// The piece as it will look, oiled.
    pub fn finished(&self, prefix: &str, width: f64, name: &str, design: &Design) -> Drawing {
        self.with(prefix, width, |style| match design {
            Design::StripedBoard(board) => svg::board(
                style,
                &BoardFace {
                    name,
                    length: board.length,
                    thickness: board.thickness,
                    strips: &board.arrangement.strips,
                    extras: board.extras,
                    seed: 1,
                },
            ),
            Design::EndGrainBoard(board) => {
                let slices: Vec<Slice> = (0..board.slices)
                    .map(|place| Slice {
                        thickness: board.panel_thickness,
                        is_flipped: place % 2 == 1 && board.turn == Turn::Flip,
                        shift: match board.arrangement.strips.first() {
                            Some(first) if place % 2 == 1 && board.turn == Turn::Shift => {
                                first.width
                            }
                            _ => Length::ZERO,
                        },
                    })
                    .collect();
                svg::end_grain_board(
                    style,
                    &EndGrainFace {
                        name,
                        thickness: board.thickness,
                        width: design.finished(&self.basis.practice).width,
                        strips: &board.arrangement.strips,
                        slices: &slices,
                        extras: board.extras,
                        seed: 1,
                    },
                )
            }
            Design::HandleBoard(_) | Design::RoundTray(_) => {
                svg::miniature(style, name, design, &self.basis.practice, &self.basis.shop)
            }
        })
    }

    /// The piece without sizes, for lists.
    pub fn small(&self, prefix: &str, name: &str, design: &Design) -> Drawing {
        const SMALL: f64 = 150.0;
        self.with(prefix, SMALL, |style| {
            svg::miniature(style, name, design, &self.basis.practice, &self.basis.shop)
        })
    }

    /// A swatch of a species.
    pub fn colour_code(&self, species: &str) -> String {
        self.colour(species).to_string()
    }
}
