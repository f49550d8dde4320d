//! End-grain boards: a checker of slices from above, and upright fibres from the side.

use std::collections::BTreeMap;

use super::board;
use super::drawing::Canvas;
use super::drawing::{Drawing, Rect};
use super::miniature;
use super::paint::Paint;
use super::palette::{self, Colour};
use super::path::Path;
use super::piece::{Bench, Looks, Template};
use super::style::{Style, counted, listed};
use super::treatment;
use super::wood::{end_grain, ring_paint};
use crate::calc::matching::Shop;
use crate::calc::work::{EndGrainBoard, EndGrainLayout, Practice, Size, Turn};
use crate::units::Length;

impl Looks for EndGrainBoard {
    fn finished(&self, style: &Style, name: &str, bench: Bench<'_>, seed: u64) -> Option<Drawing> {
        let layout = self.layout(bench.practice, bench.shop);
        Some(end_grain_board(style, name, self, &layout, seed))
    }

    fn small(&self, style: &Style, name: &str, bench: Bench<'_>) -> Drawing {
        small(style, name, self, bench.practice, bench.shop)
    }

    fn templates(&self) -> Vec<Template> {
        board::templates(&self.extras)
    }

    fn template(
        &self,
        style: &Style,
        slug: &str,
        size: Size,
        _practice: &Practice,
    ) -> Option<Drawing> {
        board::template(style, slug, &self.extras, size)
    }
}

/// An end-grain board from above and from its long side. `layout` is the board's own.
pub fn end_grain_board(
    style: &Style,
    name: &str,
    design: &EndGrainBoard,
    layout: &EndGrainLayout,
    seed: u64,
) -> Drawing {
    let strips = &design.arrangement.strips;
    let length = design.panel_thickness * layout.rows.len() as i64;
    let width: Length = layout.rows.first().map_or(Length::ZERO, |row| {
        row.iter().map(|(_, width)| *width).sum()
    });
    let turned = match design.turn {
        Turn::Plain => "all the same way",
        Turn::Flip => "every second one turned end for end",
        Turn::Shift => "every second one shifted by a strip",
    };
    let description = format!(
        "An end-grain board {} × {} of {}, {turned}; each slice is {}.{}",
        style.show_by(length, width),
        style.show(design.thickness),
        counted(layout.rows.len(), "slice", "slices"),
        listed(&board::strip_words(style, strips)),
        treatment::describe(style, &design.extras)
    );
    let mut canvas = Canvas::new(style.prefix, style.width, name, &description);
    let (scale, top) = board::place(style, length, width);
    let across = scale.units(design.panel_thickness);
    // Rings are gathered by colour, since a checker has many cells.
    let mut rings: BTreeMap<Colour, Path> = BTreeMap::new();
    for (column, row) in layout.rows.iter().enumerate() {
        let mut y = top.y;
        for (place, (strip, width)) in row.iter().enumerate() {
            let colour = style.colour(&strips[*strip].species);
            let down = scale.units(*width);
            let cell = Rect::new(top.x + across * column as f64, y, across, down);
            canvas.rect(cell, &Paint::fill(colour).class("cell"));
            let path = rings.entry(colour).or_default();
            let cell_seed = seed.wrapping_add((column * 256 + place) as u64);
            *path = end_grain(std::mem::take(path), cell, cell_seed);
            y += down;
        }
    }
    for (colour, path) in &rings {
        canvas.path(path, &ring_paint(*colour));
    }
    for column in 1..layout.rows.len() {
        let x = top.x + across * column as f64;
        board::seam(&mut canvas, (x, top.y), (x, top.bottom()));
    }
    let colour = board::side_colour(style, strips.last());
    let side = Rect::new(
        top.x,
        top.bottom() + 12.0,
        top.width,
        scale.units(design.thickness),
    );
    canvas.open_clipped(
        "side",
        &treatment::side_outline(side, scale, &design.extras),
    );
    canvas.rect(side, &Paint::fill(colour));
    upright_fibres(&mut canvas, side, colour);
    canvas.close();
    let sizes = [length, width, design.thickness];
    board::finish(style, canvas, scale, (top, side), &design.extras, sizes)
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

/// Rows beside each other, each from its own strips.
fn small(
    style: &Style,
    name: &str,
    board: &EndGrainBoard,
    practice: &Practice,
    shop: &Shop,
) -> Drawing {
    let strips = &board.arrangement.strips;
    let mut canvas = miniature::canvas(style, name, "strip on end", "strips on end", strips);
    let layout = board.layout(practice, shop);
    let length = board.panel_thickness * i64::from(board.slices);
    let width = layout.rows.first().map_or(Length::ZERO, |row| {
        row.iter().map(|(_, width)| *width).sum()
    });
    let (scale, face) = miniature::place(style, length, width);
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
    canvas.finish(face.bottom() + miniature::MARGIN)
}
