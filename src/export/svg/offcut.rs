//! One piece as it lies in its bin, true in its proportions.

use super::drawing::{Canvas, Drawing, Rect};
use super::paint::{Lettering, Paint};
use super::palette;
use super::style::{Scale, Style, dimension_across, dimension_down, listed};
use super::wood::{long_grain, seed_of};
use crate::units::Length;

/// A piece to draw.
#[derive(Clone, Debug)]
pub struct OffcutFace<'a> {
    pub tag: &'a str,
    pub species: &'a str,
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    /// Stretches that may not be used, from one end along the length, over the full width.
    pub unusable: &'a [(Length, Length)],
}

/// The face and the edge of one piece, its grain along the length, unusable stretches crossed
/// out, with its three sizes.
pub fn offcut(style: &Style, piece: &OffcutFace) -> Drawing {
    let sizes = format!(
        "{} × {}",
        style.show_by(piece.length, piece.width),
        style.show(piece.thickness)
    );
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        &format!("{}, {}", piece.tag, piece.species),
        &describe(style, piece, &sizes),
    );
    let (left, top, right) = (14.0, 14.0, 74.0);
    let space = style.width - left - right;
    // A very short, wide piece is held to a height that leaves the page its shape.
    let scale = Scale::fitting(piece.length, piece.width, space, style.width * 0.55);
    let face = Rect::new(
        left,
        top,
        scale.units(piece.length),
        scale.units(piece.width),
    );
    let colour = style.colour(piece.species);
    long_grain(&mut canvas, face, colour, seed_of(piece.tag));
    unusable_stretches(&mut canvas, face, scale, piece.unusable);
    canvas.rect(face, &Paint::line(palette::INK, 1.2));
    dimension_down(
        &mut canvas,
        face.right() + 9.0,
        face.y,
        face.bottom(),
        &style.show(piece.width),
    );

    let edge = Rect::new(
        left,
        face.bottom() + 10.0,
        face.width,
        scale.units(piece.thickness),
    );
    long_grain(
        &mut canvas,
        edge,
        colour.darker(0.12),
        seed_of(piece.tag) ^ 1,
    );
    canvas.rect(edge, &Paint::line(palette::INK, 1.2));
    dimension_down(
        &mut canvas,
        edge.right() + 9.0,
        edge.y,
        edge.bottom(),
        &style.show(piece.thickness),
    );
    let mut y = edge.bottom() + 16.0;
    dimension_across(
        &mut canvas,
        face.x,
        face.right(),
        y,
        &style.show(piece.length),
    );
    if !piece.unusable.is_empty() {
        y += 18.0;
        let sample = Rect::new(left, y - 9.0, 16.0, 11.0);
        let crossed = canvas.cross_hatch();
        canvas.rect(sample, &Paint::fill(crossed).stroke(palette::INK, 0.8));
        canvas.words(
            (left + 22.0, y),
            &format!("not usable: {}", listed(&stretches(style, piece.unusable))),
            &Lettering::new(Style::SMALL),
        );
    }
    canvas.finish(y + 14.0)
}

/// Crosses out the stretches on a face that shows the whole piece.
pub(super) fn unusable_stretches(
    canvas: &mut Canvas,
    face: Rect,
    scale: Scale,
    unusable: &[(Length, Length)],
) {
    for (from, to) in unusable {
        let start = (face.x + scale.units(*from)).min(face.right());
        let end = (face.x + scale.units(*to)).min(face.right());
        let stretch = Rect::new(start, face.y, end - start, face.height);
        let crossed = canvas.cross_hatch();
        canvas.rect(stretch, &Paint::fill(palette::PAPER).opacity(0.55));
        canvas.rect(
            stretch,
            &Paint::fill(crossed)
                .stroke(palette::INK, 0.8)
                .class("unusable"),
        );
    }
}

pub(super) fn stretches(style: &Style, unusable: &[(Length, Length)]) -> Vec<String> {
    unusable
        .iter()
        .map(|(from, to)| format!("{} to {}", style.show(*from), style.show(*to)))
        .collect()
}

fn describe(style: &Style, piece: &OffcutFace, sizes: &str) -> String {
    let mut text = format!(
        "A piece of {} to scale: {sizes}, length along the grain.",
        piece.species
    );
    if !piece.unusable.is_empty() {
        text.push_str(&format!(
            " Not usable, measured from the left end: {}.",
            listed(&stretches(style, piece.unusable))
        ));
    }
    text
}
