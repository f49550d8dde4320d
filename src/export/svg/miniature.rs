//! Pieces so small that words would not read: for lists and proposals.

use super::drawing::{Canvas, Drawing, Rect};
use super::handle::place_in;
use super::paint::Paint;
use super::palette;
use super::path::Path;
use super::shape::{fill_with_blank, outline_path};
use super::style::{Scale, Style, counted, listed};
use super::wood::long_grain;
use crate::calc::matching::Shop;
use crate::calc::pattern::BoardStrip;
use crate::calc::work::{Blank, Design, EndGrainBoard, HandleBoard, Practice, RoundTray};
use crate::units::Length;

const MARGIN: f64 = 6.0;
/// The highest that a drawing may become, over its width.
const MOST_HEIGHT: f64 = 0.7;

/// The piece as seen from above, without sizes or treatments. A design that cannot be made is a sheet of paper.
pub fn miniature(
    style: &Style,
    name: &str,
    design: &Design,
    practice: &Practice,
    shop: &Shop,
) -> Drawing {
    match design {
        Design::StripedBoard(board) => {
            miniature_board(style, name, board.length, &board.arrangement.strips)
        }
        Design::EndGrainBoard(board) => checker(style, name, board, practice, shop),
        Design::HandleBoard(board) => handle(style, name, board),
        Design::RoundTray(tray) => round(style, name, tray),
    }
}

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

fn canvas(style: &Style, name: &str, one: &str, many: &str, strips: &[BoardStrip]) -> Canvas {
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

fn place(style: &Style, length: Length, width: Length) -> (Scale, Rect) {
    let room = style.width - 2.0 * MARGIN;
    let scale = Scale::fitting(length, width, room, style.width * MOST_HEIGHT);
    let left = MARGIN + (room - scale.units(length)) / 2.0;
    let face = Rect::new(left, MARGIN, scale.units(length), scale.units(width));
    (scale, face)
}

/// Rows beside each other, each from its own strips.
fn checker(
    style: &Style,
    name: &str,
    board: &EndGrainBoard,
    practice: &Practice,
    shop: &Shop,
) -> Drawing {
    let strips = &board.arrangement.strips;
    let mut canvas = canvas(style, name, "strip on end", "strips on end", strips);
    let layout = board.layout(practice, shop);
    let length = board.panel_thickness * i64::from(board.slices);
    let width = layout.rows.first().map_or(Length::ZERO, |row| {
        row.iter().map(|(_, width)| *width).sum()
    });
    let (scale, face) = place(style, length, width);
    let row_width = scale.units(board.panel_thickness);
    for (place, row) in layout.rows.iter().enumerate() {
        let mut y = face.y;
        for (strip, width) in row {
            let height = scale.units(*width);
            let cell = Rect::new(face.x + place as f64 * row_width, y, row_width, height);
            canvas.rect(cell, &Paint::fill(style.colour(&strips[*strip].species)));
            y += height;
        }
    }
    canvas.rect(face, &Paint::line(palette::INK, 0.8));
    canvas.finish(face.bottom() + MARGIN)
}

fn strips_of(blank: &Blank) -> Vec<BoardStrip> {
    match blank {
        Blank::OnePiece { species } => vec![BoardStrip::new(species, Length::ZERO)],
        Blank::Glued { arrangement, .. } => arrangement.strips.clone(),
    }
}

fn handle(style: &Style, name: &str, board: &HandleBoard) -> Drawing {
    let mut canvas = canvas(style, name, "piece", "boards", &strips_of(&board.blank));
    let Ok(shape) = board.shape() else {
        return canvas.finish(style.width * 0.4);
    };
    let (scale, face) = place(style, shape.extent.0, shape.extent.1);
    let on_page = place_in(&shape, face, scale);
    let path = outline_path(&shape.outline, on_page);
    canvas.open_clipped("shape", &path);
    fill_with_blank(style, &mut canvas, &board.blank, face, scale, name);
    canvas.close();
    canvas.path(&path, &Paint::line(palette::INK, 0.8));
    if let Some((centre, radius)) = shape.hole {
        let ink = Paint::fill(palette::PAPER).stroke(palette::INK, 0.8);
        canvas.circle(on_page.place(centre), radius * scale.per_mm(), &ink);
    }
    canvas.finish(face.bottom() + MARGIN)
}

fn round(style: &Style, name: &str, tray: &RoundTray) -> Drawing {
    let mut canvas = canvas(
        style,
        name,
        "board in the base",
        "boards in the base",
        &strips_of(&tray.base),
    );
    let (scale, face) = place(style, tray.diameter, tray.diameter);
    let centre = face.centre();
    let outer = face.width / 2.0;
    let inner = (outer - scale.units(tray.rim)).max(0.0);
    for (part, radius, blank) in [("ring", outer, &tray.ring), ("base", inner, &tray.base)] {
        canvas.open_clipped(part, &Path::from_circle(centre, radius));
        fill_with_blank(style, &mut canvas, blank, face, scale, part);
        canvas.close();
        canvas.circle(centre, radius, &Paint::line(palette::INK, 0.8));
    }
    canvas.finish(face.bottom() + MARGIN)
}
