//! Drawings of designs in the workshop's own colours.

use crate::app::species::Woods;
use crate::calc::work::Design;
use crate::export::svg::{self, BoardFace, Colour, Drawing, Style};
use crate::units::LengthFormat;

/// How the drawings of one page are made.
pub(super) struct Drawer<'a> {
    pub woods: &'a Woods,
    pub lengths: LengthFormat,
}

impl Drawer<'_> {
    fn colour(&self, species: &str) -> Colour {
        let [red, green, blue] = self
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
        })
    }

    /// The piece without sizes, for lists.
    pub fn small(&self, prefix: &str, name: &str, design: &Design) -> Drawing {
        const SMALL: f64 = 150.0;
        self.with(prefix, SMALL, |style| match design {
            Design::StripedBoard(board) => {
                svg::miniature_board(style, name, board.length, &board.arrangement.strips)
            }
        })
    }

    /// A swatch of a species.
    pub fn colour_code(&self, species: &str) -> String {
        self.colour(species).to_string()
    }
}
