//! A bin as shelves of true-scale pieces.

use super::drawing::{Canvas, Drawing, Rect};
use super::offcut::unusable_stretches;
use super::paint::{Lettering, Paint, words_width};
use super::palette;
use super::style::{Scale, Style, counted};
use super::wood::{long_grain, seed_of};
use crate::units::Length;

/// A piece on a shelf.
#[derive(Clone, Debug)]
pub struct Shelved<'a> {
    pub tag: &'a str,
    pub species: &'a str,
    pub length: Length,
    pub width: Length,
    pub count: u32,
    pub unusable: &'a [(Length, Length)],
    /// Whether any of it is claimed.
    pub is_claimed: bool,
    /// The piece's page, where the drawing is to lead there.
    pub href: Option<&'a str>,
}

/// Tag letters need this height.
const TAG: f64 = 10.0;
/// Room between pieces, and above a shelf for the tags of narrow pieces.
const GAP: f64 = 8.0;

struct Placed {
    piece: usize,
    x: f64,
    tag_above: bool,
}

#[derive(Default)]
struct Shelf {
    placed: Vec<Placed>,
    end: f64,
    height: f64,
}

/// The pieces of one bin, all at one scale, in the order given, each as wide and long as it is.
/// Claimed pieces have a dashed outline; equal ones under one tag are drawn once with their count.
pub fn bin(style: &Style, name: &str, pieces: &[Shelved]) -> Drawing {
    let number: u32 = pieces.iter().map(|piece| piece.count).sum();
    let description = if pieces.is_empty() {
        "The bin is empty.".to_owned()
    } else {
        format!(
            "{} under {}, drawn to one scale, grain along the shelf.",
            counted(number as usize, "piece", "pieces"),
            counted(pieces.len(), "tag", "tags")
        )
    };
    let mut canvas = Canvas::new(style.prefix, style.width, name, &description);
    let (left, right) = (12.0, style.width - 12.0);
    if pieces.is_empty() {
        canvas.words(
            (style.width / 2.0, 34.0),
            "nothing in this bin",
            &Lettering::new(Style::WORDS).middle().colour(palette::QUIET),
        );
        shelf_board(&mut canvas, left, right, 52.0);
        return canvas.finish(68.0);
    }
    let longest = pieces
        .iter()
        .map(|piece| piece.length)
        .max()
        .unwrap_or(Length::ZERO);
    let widest = pieces
        .iter()
        .map(|piece| piece.width)
        .max()
        .unwrap_or(Length::ZERO);
    // Several pieces side by side keep a full bin from growing down the page.
    let share = if pieces.len() > 4 { 0.62 } else { 1.0 };
    let scale = Scale::fitting(longest, widest, (right - left - 12.0) * share, 110.0);
    let shelves = fill(pieces, scale, left + 4.0, right - 4.0);
    let mut y = 10.0;
    for shelf in &shelves {
        let base = y + shelf.height;
        for placed in &shelf.placed {
            let piece = &pieces[placed.piece];
            let face = Rect::new(
                placed.x,
                base - scale.units(piece.width),
                scale.units(piece.length),
                scale.units(piece.width),
            );
            draw_piece(style, &mut canvas, piece, face, scale, placed.tag_above);
        }
        shelf_board(&mut canvas, left, right, base);
        y = base + 14.0;
    }
    canvas.finish(y + 4.0)
}

/// Sets pieces on shelves: each goes to the first shelf that has room.
fn fill(pieces: &[Shelved], scale: Scale, left: f64, right: f64) -> Vec<Shelf> {
    let mut shelves: Vec<Shelf> = Vec::new();
    for (index, piece) in pieces.iter().enumerate() {
        let (long, wide) = (scale.units(piece.length), scale.units(piece.width));
        let label = words_width(&label(piece), TAG) + 6.0;
        let tag_above = wide < TAG + 3.0 || long < label;
        let room = if tag_above { long.max(label) } else { long } + stacked(piece);
        let height = wide + stacked(piece) + if tag_above { TAG + 4.0 } else { 2.0 };
        let found = shelves
            .iter()
            .position(|shelf| shelf.end + room <= right)
            .unwrap_or_else(|| {
                shelves.push(Shelf {
                    end: left,
                    ..Shelf::default()
                });
                shelves.len() - 1
            });
        let shelf = &mut shelves[found];
        shelf.placed.push(Placed {
            piece: index,
            x: shelf.end,
            tag_above,
        });
        shelf.end += room + GAP;
        shelf.height = shelf.height.max(height);
    }
    shelves
}

fn label(piece: &Shelved) -> String {
    if piece.count > 1 {
        format!("{} ×{}", piece.tag, piece.count)
    } else {
        piece.tag.to_owned()
    }
}

/// How far the pieces behind the first one show.
fn stacked(piece: &Shelved) -> f64 {
    if piece.count > 1 { 3.0 } else { 0.0 }
}

fn draw_piece(
    style: &Style,
    canvas: &mut Canvas,
    piece: &Shelved,
    face: Rect,
    scale: Scale,
    tag_above: bool,
) {
    if let Some(href) = piece.href {
        let claimed = if piece.is_claimed { ", claimed" } else { "" };
        let name = format!(
            "{}, {}, {}{claimed}",
            label(piece),
            piece.species,
            style.show_by(piece.length, piece.width)
        );
        canvas.open_link(href, &name);
    }
    let colour = style.colour(piece.species);
    let outline = Paint::line(palette::INK, 1.0);
    let behind = stacked(piece);
    if behind > 0.0 {
        let back = Rect::new(face.x + behind, face.y - behind, face.width, face.height);
        canvas.rect(
            back,
            &Paint::fill(colour.darker(0.15)).stroke(palette::INK, 1.0),
        );
    }
    long_grain(canvas, face, colour, seed_of(piece.tag));
    unusable_stretches(canvas, face, scale, piece.unusable);
    if piece.is_claimed {
        canvas.rect(face, &Paint::line(palette::PAPER, 2.4));
        canvas.rect(
            face,
            &Paint::line(palette::CHALK, 2.0)
                .dash("5 3")
                .class("claimed"),
        );
    } else {
        canvas.rect(face, &outline);
    }
    if tag_above {
        canvas.words(
            (face.x, face.y - behind - 3.0),
            &label(piece),
            &Lettering::new(TAG),
        );
    } else {
        let (x, y) = face.centre();
        let words = label(piece);
        let plate = Rect::new(
            x - words_width(&words, TAG) / 2.0 - 3.0,
            y - 6.5,
            words_width(&words, TAG) + 6.0,
            13.0,
        );
        canvas.rounded_rect(plate, 2.0, &Paint::fill(palette::PAPER).opacity(0.86));
        canvas.words((x, y + 3.6), &words, &Lettering::new(TAG).middle());
    }
    if piece.href.is_some() {
        canvas.close();
    }
}

fn shelf_board(canvas: &mut Canvas, left: f64, right: f64, y: f64) {
    canvas.rect(
        Rect::new(left, y, right - left, 4.0),
        &Paint::fill(palette::PLAIN_WOOD).stroke(palette::QUIET, 0.8),
    );
}
