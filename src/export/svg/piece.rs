//! Any design as it will look: one file for each kind, which also holds what of it is printed at full size.

use super::drawing::Drawing;
use super::style::Style;
use crate::calc::matching::Shop;
use crate::calc::work::{Design, Practice, Size};

/// How and with what the piece is made, as far as its look depends on it.
#[derive(Clone, Copy)]
pub struct Bench<'a> {
    pub practice: &'a Practice,
    pub shop: &'a Shop,
}

/// What is marked out at full size.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Template {
    /// The word for it in addresses.
    pub slug: &'static str,
    pub title: &'static str,
    pub about: &'static str,
}

/// How one kind is drawn. A further kind is one file that has this for its design, and an arm in [`looks`].
pub(super) trait Looks {
    /// Oiled, with its sizes. Nothing where the shape does not close, which the design's flaws then say.
    fn finished(&self, style: &Style, name: &str, bench: Bench<'_>, seed: u64) -> Option<Drawing>;

    /// From above, so small that words would not read.
    fn small(&self, style: &Style, name: &str, bench: Bench<'_>) -> Drawing;

    fn templates(&self) -> Vec<Template> {
        Vec::new()
    }

    /// One of its templates for a piece of this finished size; one unit is one millimetre.
    fn template(
        &self,
        _style: &Style,
        _slug: &str,
        _size: Size,
        _practice: &Practice,
    ) -> Option<Drawing> {
        None
    }
}

fn looks(design: &Design) -> &dyn Looks {
    match design {
        Design::StripedBoard(board) => board,
        Design::EndGrainBoard(board) => board,
        Design::HandleBoard(board) => board,
        Design::RoundTray(tray) => tray,
    }
}

/// The finished piece; nothing where the design's shape does not close.
pub fn finished_piece(
    style: &Style,
    name: &str,
    design: &Design,
    bench: Bench<'_>,
    seed: u64,
) -> Option<Drawing> {
    looks(design).finished(style, name, bench, seed)
}

/// The piece as seen from above, without sizes or treatments. A design that cannot be made is a sheet of paper.
pub fn miniature(style: &Style, name: &str, design: &Design, bench: Bench<'_>) -> Drawing {
    looks(design).small(style, name, bench)
}

/// What a design has to be printed at full size.
pub fn templates(design: &Design) -> Vec<Template> {
    looks(design).templates()
}

/// A template of a design at full size; nothing where it has no such template.
pub fn template(
    style: &Style,
    design: &Design,
    slug: &str,
    practice: &Practice,
) -> Option<Drawing> {
    looks(design).template(style, slug, design.finished(practice), practice)
}
