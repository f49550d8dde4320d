//! Pieces so small that words would not read: for lists and proposals.

use super::drawing::{Canvas, Drawing, Rect};
use super::paint::Paint;
use super::palette;
use super::style::{Scale, Style, counted, listed};
use super::wood::long_grain;
use crate::calc::pattern::BoardStrip;
use crate::calc::work::Blank;
use crate::units::Length;

pub(super) const MARGIN: f64 = 6.0;
/// The highest that a drawing may become, over its width.
const MOST_HEIGHT: f64 = 0.7;

/// The face of a striped board.
pub fn miniature_board(
    style: &Style,
    name: &str,
    length: Length,
    strips: &[BoardStrip],
) -> Drawing {
    let width: Length = strips.iter().map(|strip| strip.width).sum();
    let mut canvas = canvas(style, name, "strip", "strips", strips);
    let (scale, face) = place(style, length, width);
    let mut y = face.y;
    for (place, strip) in strips.iter().enumerate() {
        let height = scale.units(strip.width);
        let piece = Rect::new(face.x, y, face.width, height);
        let colour = style.colour(&strip.species);
        if height < 12.0 {
            canvas.rect(piece, &Paint::fill(colour));
        } else {
            long_grain(&mut canvas, piece, colour, place as u64);
        }
        y += height;
    }
    canvas.rect(face, &Paint::line(palette::INK, 0.8));
    canvas.finish(face.bottom() + MARGIN)
}

pub(super) fn canvas(
    style: &Style,
    name: &str,
    one: &str,
    many: &str,
    strips: &[BoardStrip],
) -> Canvas {
    let mut species: Vec<String> = Vec::new();
    for strip in strips {
        if !species.contains(&strip.species) {
            species.push(strip.species.clone());
        }
    }
    let description = format!(
        "{} of {}",
        counted(strips.len(), one, many),
        listed(&species)
    );
    Canvas::new(style.prefix, style.width, name, &description)
}

pub(super) fn place(style: &Style, length: Length, width: Length) -> (Scale, Rect) {
    let room = style.width - 2.0 * MARGIN;
    let scale = Scale::fitting(length, width, room, style.width * MOST_HEIGHT);
    let left = MARGIN + (room - scale.units(length)) / 2.0;
    let face = Rect::new(left, MARGIN, scale.units(length), scale.units(width));
    (scale, face)
}

pub(super) fn strips_of(blank: &Blank) -> Vec<BoardStrip> {
    match blank {
        Blank::OnePiece { species } => vec![BoardStrip::new(species, Length::ZERO)],
        Blank::Glued { arrangement, .. } => arrangement.strips.clone(),
    }
}
