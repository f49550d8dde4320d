//! Drawings of designs in the workshop's own colours.

use crate::app::basis::Basis;
use crate::calc::work::Design;
use crate::export::svg::{self, Colour, Drawing, Style};
use crate::units::LengthFormat;

/// How the drawings of one page are made.
pub(in crate::web) struct Drawer<'a> {
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

    fn bench(&self) -> svg::Bench<'_> {
        svg::Bench {
            practice: &self.basis.practice,
            shop: &self.basis.shop,
        }
    }

    /// The piece as it will look, oiled; without sizes where its shape does not close.
    pub fn finished(&self, prefix: &str, width: f64, name: &str, design: &Design) -> Drawing {
        let bench = self.bench();
        self.with(prefix, width, |style| {
            svg::finished_piece(style, name, design, bench, 1)
                .unwrap_or_else(|| svg::miniature(style, name, design, bench))
        })
    }

    /// The piece without sizes, for lists.
    pub fn small(&self, prefix: &str, name: &str, design: &Design) -> Drawing {
        const SMALL: f64 = 150.0;
        self.with(prefix, SMALL, |style| {
            svg::miniature(style, name, design, self.bench())
        })
    }

    /// A swatch of a species.
    pub fn colour_code(&self, species: &str) -> String {
        self.colour(species).to_string()
    }
}
