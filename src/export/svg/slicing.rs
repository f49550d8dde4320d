//! The first panel of an end-grain board with the cuts that make it slices.

use super::board::strip_number;
use super::drawing::{Canvas, Drawing, Rect};
use super::paint::{Lettering, Paint};
use super::palette;
use super::path::Path;
use super::style::{Scale, Style, counted, dimension_across, dimension_down};
use super::wood::{long_grain, seed_of};
use crate::calc::work::{EndGrainBoard, EndGrainLayout, Turn};

/// The panel from above: its strips, the slices by number in the order of cutting, the kerfs between them, and the end
/// pieces. A mark under each slice points up, or down where the slice is turned or shifted before it is glued.
/// `layout` is the board's own.
pub fn slicing(style: &Style, design: &EndGrainBoard, layout: &EndGrainLayout) -> Drawing {
    let slices = layout.rows.len();
    let turned = match design.turn {
        Turn::Plain => None,
        Turn::Flip => Some("turned end for end before gluing"),
        Turn::Shift => Some("shifted by a strip before gluing"),
    };
    let description = format!(
        "A panel {} × {} of {}, cut across into {} of {} with a kerf after each; {} is left at either end.{}",
        style.show_by(layout.panel_length, layout.panel_width),
        style.show(design.panel_thickness),
        counted(design.arrangement.strips.len(), "strip", "strips"),
        counted(slices, "slice", "slices"),
        style.show(layout.slice_thickness),
        style.show(layout.end_piece),
        turned.map_or_else(String::new, |what| format!(
            " Every second slice is {what}."
        ))
    );
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        "The first panel, cut into slices",
        &description,
    );
    let (left, top, right) = (14.0, 12.0, 74.0);
    let scale = Scale::fitting(
        layout.panel_length,
        layout.panel_width,
        style.width - left - right,
        style.width * 0.7,
    );
    let panel = Rect::new(
        left,
        top,
        scale.units(layout.panel_length),
        scale.units(layout.panel_width),
    );
    let mut y = panel.y;
    for (place, strip) in design.arrangement.strips.iter().enumerate() {
        let band = Rect::new(panel.x, y, panel.width, scale.units(strip.width));
        let seed = seed_of("slicing").wrapping_add(place as u64);
        long_grain(&mut canvas, band, style.colour(&strip.species), seed);
        y = band.bottom();
    }
    let end = scale.units(layout.end_piece);
    let hatch = canvas.hatch();
    for x in [panel.x, panel.right() - end] {
        let piece = Rect::new(x, panel.y, end, panel.height);
        canvas.rect(piece, &Paint::fill(palette::PAPER).opacity(0.6));
        canvas.rect(piece, &Paint::fill(&hatch).class("end-piece"));
    }
    let (thick, kerf) = (
        scale.units(layout.slice_thickness),
        scale.units(layout.kerfs) / slices.max(1) as f64,
    );
    // Numbers stand as close as their rings allow.
    let every = (18.0 / (thick + kerf).max(0.1)).ceil().max(1.0) as usize;
    let mut x = panel.x + end;
    canvas.line(
        (x, panel.y),
        (x, panel.bottom()),
        &Paint::line(palette::INK, 1.2),
    );
    for slice in 0..slices {
        let cut = Rect::new(x + thick, panel.y, kerf.max(0.8), panel.height);
        canvas.rect(cut, &Paint::fill(palette::INK).class("kerf"));
        let middle = x + thick / 2.0;
        if slice % every == 0 {
            strip_number(&mut canvas, (middle, panel.y + 12.0), slice + 1);
        }
        if turned.is_some() {
            let half = (thick / 2.0).min(5.0);
            let mark = triangle(middle, panel.bottom() + 4.0, half, slice % 2 == 1);
            canvas.path(&mark, &Paint::fill(palette::INK).class("mark"));
        }
        x += thick + kerf;
    }
    canvas.rect(panel, &Paint::line(palette::INK, 1.3));
    dimension_down(
        &mut canvas,
        panel.right() + 9.0,
        panel.y,
        panel.bottom(),
        &style.show(layout.panel_width),
    );
    let first = panel.x + end;
    let mut y = panel.bottom() + 26.0;
    for (from, to, length) in [
        (first, first + thick, layout.slice_thickness),
        (panel.right() - end, panel.right(), layout.end_piece),
    ] {
        dimension_across(&mut canvas, from, to, y, &style.show(length));
    }
    y += 17.0;
    dimension_across(
        &mut canvas,
        panel.x,
        panel.right(),
        y,
        &style.show(layout.panel_length),
    );
    y += 16.0;
    let words = Lettering::new(Style::SMALL);
    let mut legend = |mark: Key, text: &str| {
        let swatch = Rect::new(left, y, 20.0, 10.0);
        match mark {
            Key::Kerf => {
                let line = Rect::new(swatch.x + 8.5, swatch.y, 3.0, swatch.height);
                canvas.rect(line, &Paint::fill(palette::INK));
            }
            Key::EndPiece => {
                canvas.rect(swatch, &Paint::fill(&hatch));
                canvas.rect(swatch, &Paint::line(palette::INK, 0.8));
            }
            Key::Mark { is_down } => {
                let mark = triangle(swatch.x + 10.0, swatch.y, 5.0, is_down);
                canvas.path(&mark, &Paint::fill(palette::INK));
            }
        }
        canvas.words((left + 28.0, y + 8.8), text, &words);
        y += 16.0;
    };
    legend(Key::Kerf, "kerf");
    legend(Key::EndPiece, "end piece, not used");
    if let Some(what) = turned {
        legend(Key::Mark { is_down: false }, "slice as it was cut");
        legend(Key::Mark { is_down: true }, &format!("slice {what}"));
    }
    canvas.finish(y + 4.0)
}

enum Key {
    Kerf,
    EndPiece,
    Mark { is_down: bool },
}

/// A triangle about `x`, from `y` on down.
fn triangle(x: f64, y: f64, half: f64, is_down: bool) -> Path {
    let (foot, tip) = if is_down {
        (y, y + 2.0 * half)
    } else {
        (y + 2.0 * half, y)
    };
    Path::new()
        .to(x - half, foot)
        .line(x + half, foot)
        .line(x, tip)
        .shut()
}
