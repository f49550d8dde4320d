//! Boards as they will look oiled: strips along the grain, or a checker of end grain.

use std::collections::BTreeMap;

use super::drawing::{Canvas, Drawing, Lettering, Paint, Path, Rect, words_width};
use super::palette::{self, Colour};
use super::style::{Scale, Style, counted, dimension_across, dimension_down, listed};
use super::treatment;
use super::wood::{end_grain, grain_lines, long_grain, ring_paint};
use crate::calc::pattern::BoardStrip;
use crate::calc::work::Extras;
use crate::units::Length;

/// A board whose strips run along its length.
#[derive(Clone, Debug)]
pub struct BoardFace<'a> {
    pub name: &'a str,
    pub length: Length,
    pub thickness: Length,
    /// In their order across the board.
    pub strips: &'a [BoardStrip],
    pub extras: Extras,
    /// The same seed gives the same grain.
    pub seed: u64,
}

/// One slice of an end-grain board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Slice {
    /// Along the board's length.
    pub thickness: Length,
    /// End for end: its strips run in the opposite order.
    pub is_flipped: bool,
    /// How far it is moved across before the sides are squared; usually nothing.
    pub shift: Length,
}

/// A board of slices of a striped panel, standing on end.
#[derive(Clone, Debug)]
pub struct EndGrainFace<'a> {
    pub name: &'a str,
    pub thickness: Length,
    pub width: Length,
    /// The first panel's strips, in their order across it.
    pub strips: &'a [BoardStrip],
    pub slices: &'a [Slice],
    pub extras: Extras,
    pub seed: u64,
}

const LEFT: f64 = 14.0;
const RIGHT: f64 = 74.0;
const TOP: f64 = 14.0;

/// A striped board from above and from its long side, with its three sizes.
pub fn board(style: &Style, face: &BoardFace) -> Drawing {
    let width: Length = face.strips.iter().map(|strip| strip.width).sum();
    let description = format!(
        "A board {} × {} with {} along its length; across it: {}.{}",
        style.show_by(face.length, width),
        style.show(face.thickness),
        counted(face.strips.len(), "strip", "strips"),
        listed(&strip_words(style, face.strips)),
        treatment::describe(style, &face.extras)
    );
    let mut canvas = Canvas::new(style.prefix, style.width, face.name, &description);
    let (scale, top) = place(style, face.length, width);
    let mut y = top.y;
    for (index, strip) in face.strips.iter().enumerate() {
        let height = scale.units(strip.width);
        let seed = face.seed.wrapping_add(index as u64);
        let piece = Rect::new(top.x, y, top.width, height);
        long_grain(&mut canvas, piece, style.colour(&strip.species), seed);
        if index > 0 {
            seam(&mut canvas, (top.x, y), (top.right(), y));
        }
        y += height;
    }
    let colour = side_colour(style, face.strips.last());
    let side = Rect::new(
        top.x,
        top.bottom() + 12.0,
        top.width,
        scale.units(face.thickness),
    );
    canvas.open_clipped("side", &treatment::side_outline(side, scale, &face.extras));
    canvas.rect(side, &Paint::fill(colour));
    grain_lines(&mut canvas, side, colour, face.seed ^ 0x51de);
    canvas.close();
    let sizes = [face.length, width, face.thickness];
    finish(style, canvas, scale, (top, side), &face.extras, sizes)
}

/// A checkered board from above and from its long side.
pub fn end_grain_board(style: &Style, face: &EndGrainFace) -> Drawing {
    let length: Length = face.slices.iter().map(|slice| slice.thickness).sum();
    let flipped = face.slices.iter().filter(|slice| slice.is_flipped).count();
    let description = format!(
        "An end-grain board {} × {} of {}, {flipped} of them turned end for end; each slice is {}.{}",
        style.show_by(length, face.width),
        style.show(face.thickness),
        counted(face.slices.len(), "slice", "slices"),
        listed(&strip_words(style, face.strips)),
        treatment::describe(style, &face.extras)
    );
    let mut canvas = Canvas::new(style.prefix, style.width, face.name, &description);
    let (scale, top) = place(style, length, face.width);
    canvas.open_clipped("face", &Path::from_rect(top));
    let panel: Length = face.strips.iter().map(|strip| strip.width).sum();
    let over = scale.units(panel - face.width) / 2.0;
    // Rings are gathered by colour, since a checker has many cells.
    let mut rings: BTreeMap<Colour, Path> = BTreeMap::new();
    let mut x = top.x;
    for (column, slice) in face.slices.iter().enumerate() {
        let across = scale.units(slice.thickness);
        let mut y = top.y - over + scale.units(slice.shift);
        for row in 0..face.strips.len() {
            let strip = if slice.is_flipped {
                &face.strips[face.strips.len() - 1 - row]
            } else {
                &face.strips[row]
            };
            let down = scale.units(strip.width);
            let seed = face.seed.wrapping_add((column * 64 + row) as u64);
            let cell = Rect::new(x, y, across, down);
            let colour = style.colour(&strip.species);
            canvas.rect(cell, &Paint::fill(colour));
            let path = rings.entry(colour).or_default();
            *path = end_grain(std::mem::take(path), cell, seed);
            y += down;
        }
        x += across;
    }
    for (colour, path) in &rings {
        canvas.path(path, &ring_paint(*colour));
    }
    let mut x = top.x;
    for slice in &face.slices[..face.slices.len().saturating_sub(1)] {
        x += scale.units(slice.thickness);
        seam(&mut canvas, (x, top.y), (x, top.bottom()));
    }
    canvas.close();
    let colour = side_colour(style, face.strips.first());
    let side = Rect::new(
        top.x,
        top.bottom() + 12.0,
        top.width,
        scale.units(face.thickness),
    );
    canvas.open_clipped("side", &treatment::side_outline(side, scale, &face.extras));
    canvas.rect(side, &Paint::fill(colour));
    upright_fibres(&mut canvas, side, colour);
    canvas.close();
    let sizes = [length, face.width, face.thickness];
    finish(style, canvas, scale, (top, side), &face.extras, sizes)
}

fn strip_words(style: &Style, strips: &[BoardStrip]) -> Vec<String> {
    strips
        .iter()
        .map(|strip| format!("{} {}", style.show(strip.width), strip.species))
        .collect()
}

fn place(style: &Style, length: Length, width: Length) -> (Scale, Rect) {
    let space = style.width - LEFT - RIGHT;
    let scale = Scale::fitting(length, width, space, style.width * 0.8);
    let top = Rect::new(LEFT, TOP, scale.units(length), scale.units(width));
    (scale, top)
}

/// A glue line, as faint as in the finished board.
fn seam(canvas: &mut Canvas, from: (f64, f64), to: (f64, f64)) {
    canvas.line(from, to, &Paint::line(palette::INK, 0.5).opacity(0.45));
}

fn side_colour(style: &Style, strip: Option<&BoardStrip>) -> Colour {
    strip
        .map_or(palette::UNKNOWN_WOOD, |strip| style.colour(&strip.species))
        .darker(0.1)
}

/// The fibres of an end-grain board stand upright in its side.
fn upright_fibres(canvas: &mut Canvas, side: Rect, colour: Colour) {
    let mut fibres = Path::new();
    let mut x = side.x + 6.0;
    while x < side.right() {
        fibres = fibres.to(x, side.y + 1.0).line(x, side.bottom() - 1.0);
        x += 7.0;
    }
    canvas.path(&fibres, &Paint::line(colour.darker(0.3), 0.6).opacity(0.5));
}

/// The treatment of face and side, then the three sizes: length, width, thickness.
fn finish(
    style: &Style,
    mut canvas: Canvas,
    scale: Scale,
    (top, side): (Rect, Rect),
    extras: &Extras,
    [length, width, thickness]: [Length; 3],
) -> Drawing {
    treatment::draw_on_face(&mut canvas, scale, top, extras);
    canvas.rect(top, &Paint::line(palette::INK, 1.4));
    dimension_down(
        &mut canvas,
        top.right() + 9.0,
        top.y,
        top.bottom(),
        &style.show(width),
    );
    let bottom = treatment::draw_on_side(&mut canvas, scale, side, extras);
    dimension_down(
        &mut canvas,
        side.right() + 9.0,
        side.y,
        side.bottom(),
        &style.show(thickness),
    );
    let y = bottom + 16.0;
    dimension_across(&mut canvas, top.x, top.right(), y, &style.show(length));
    canvas.finish(y + 14.0)
}

/// The strips of a board pulled apart, numbered from one edge, each with its width and species.
pub fn exploded_strips(style: &Style, face: &BoardFace) -> Drawing {
    let numbered: Vec<String> = strip_words(style, face.strips)
        .iter()
        .enumerate()
        .map(|(index, words)| format!("{}: {words}", index + 1))
        .collect();
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        &format!("Strips of {}", face.name),
        &format!(
            "Strips in their order across the board: {}.",
            listed(&numbered)
        ),
    );
    let (left, right) = (36.0, 74.0);
    let space = style.width - left - right;
    let scale = Scale::fitting(face.length, Length::from_mm(1), space, f64::INFINITY);
    let mut y = 12.0;
    for (index, strip) in face.strips.iter().enumerate() {
        let height = scale.units(strip.width);
        // Each row is high enough for its words, however thin the strip.
        let row = height.max(14.0);
        let middle = y + row / 2.0;
        let piece = Rect::new(
            left,
            middle - height / 2.0,
            scale.units(face.length),
            height,
        );
        let seed = face.seed.wrapping_add(index as u64);
        long_grain(&mut canvas, piece, style.colour(&strip.species), seed);
        canvas.rect(piece, &Paint::line(palette::INK, 1.0).class("strip"));
        strip_number(&mut canvas, (left - 15.0, middle), index + 1);
        let words = Lettering::new(Style::SMALL);
        let plate = Rect::new(
            piece.x + 6.0,
            middle - 6.5,
            words_width(&strip.species, Style::SMALL) + 8.0,
            13.0,
        );
        canvas.rounded_rect(plate, 2.0, &Paint::fill(palette::PAPER).opacity(0.86));
        canvas.words((piece.x + 10.0, middle + 3.6), &strip.species, &words);
        canvas.words(
            (piece.right() + 8.0, middle + 3.6),
            &style.show(strip.width),
            &words,
        );
        y += row + 5.0;
    }
    y += 10.0;
    let right_end = left + scale.units(face.length);
    dimension_across(&mut canvas, left, right_end, y, &style.show(face.length));
    canvas.finish(y + 14.0)
}

/// A strip's number in the board, in a ring.
pub(super) fn strip_number(canvas: &mut Canvas, centre: (f64, f64), number: usize) {
    canvas.circle(
        centre,
        8.0,
        &Paint::fill(palette::PAPER).stroke(palette::CHALK, 1.2),
    );
    canvas.words(
        (centre.0, centre.1 + 3.7),
        &number.to_string(),
        &Lettering::new(Style::SMALL)
            .middle()
            .bold()
            .colour(palette::CHALK),
    );
}
