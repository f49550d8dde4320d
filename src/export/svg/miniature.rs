//! Boards so small that words would not read: for lists and proposals.

use super::drawing::{Canvas, Drawing, Paint, Rect};
use super::palette;
use super::style::{Scale, Style, counted, listed};
use super::wood::long_grain;
use crate::calc::pattern::BoardStrip;
use crate::units::Length;

/// The face of a striped board, without sizes or treatments.
pub fn miniature_board(
    style: &Style,
    name: &str,
    length: Length,
    strips: &[BoardStrip],
) -> Drawing {
    let width: Length = strips.iter().map(|strip| strip.width).sum();
    let mut species: Vec<String> = Vec::new();
    for strip in strips {
        if !species.contains(&strip.species) {
            species.push(strip.species.clone());
        }
    }
    let description = format!(
        "{} of {}",
        counted(strips.len(), "strip", "strips"),
        listed(&species)
    );
    let mut canvas = Canvas::new(style.prefix, style.width, name, &description);
    let margin = 6.0;
    let room = style.width - 2.0 * margin;
    let scale = Scale::fitting(length, width, room, style.width * 0.7);
    let face = Rect::new(
        margin + (room - scale.units(length)) / 2.0,
        margin,
        scale.units(length),
        scale.units(width),
    );
    let mut y = face.y;
    for (place, strip) in strips.iter().enumerate() {
        let height = scale.units(strip.width);
        let piece = Rect::new(face.x, y, face.width, height);
        if height < 12.0 {
            canvas.rect(piece, &Paint::fill(style.colour(&strip.species)));
        } else {
            long_grain(
                &mut canvas,
                piece,
                style.colour(&strip.species),
                place as u64,
            );
        }
        y += height;
    }
    canvas.rect(face, &Paint::line(palette::INK, 0.8));
    canvas.finish(face.bottom() + margin)
}
