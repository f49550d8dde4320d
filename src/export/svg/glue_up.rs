//! A panel in its clamps: strips, glue lines, cauls, and clamps above and below by turns.

use super::board::strip_number;
use super::drawing::{Canvas, Drawing, Rect};
use super::paint::{Lettering, Paint, words_width};
use super::palette;
use super::path::Path;
use super::shape::bands;
use super::style::{Scale, Style, counted, dimension_across, dimension_down};
use super::tray::from_above;
use super::wood::{long_grain, seed_of};
use crate::calc::work::{Blank, Design, Needs, Panel, PanelPart, Practice, RoundTray, Turn};
use crate::units::Length;

/// What a panel is glued from: a stretch of wood with a number, or several that are one already.
struct Part {
    /// Species and width, in order across the panel, or along it for a slice.
    bands: Vec<(String, Length)>,
    label: String,
    is_slice: bool,
    /// How far a slice is moved along the panel.
    shift: Length,
}

/// The panel from above with its clamps, then from its end.
///
/// Every second clamp lies above the panel and is drawn over it; the others lie below and are
/// dashed where the panel hides them, so that their pulls balance. A tray's discs lie on each other
/// instead, with clamps around. `panel` is an index into the needs' panels; gives nothing for one
/// that the needs do not have.
pub fn glue_up(
    style: &Style,
    design: &Design,
    needs: &Needs,
    panel: usize,
    practice: &Practice,
) -> Option<Drawing> {
    let glued = needs.panels.get(panel)?;
    if let Design::RoundTray(tray) = design
        && panel + 1 == needs.panels.len()
    {
        return Some(stacked(style, tray, glued));
    }
    let turn = match design {
        Design::EndGrainBoard(board) => board.turn,
        _ => Turn::Plain,
    };
    let parts: Vec<Part> = glued
        .parts
        .iter()
        .map(|part| part_of(needs, panel, *part, turn))
        .collect();
    let caul_depth = practice.clamping.caul_depth;
    let clamps = glued.clamp_count() as usize;
    let above = clamps.div_ceil(2);
    let description = format!(
        "{} of {}, {} high, {}. {}: {above} above the panel and {} below it by turns, with a caul along each side. \
         The clamps must open at least {}.",
        style.show_by(glued.length, glued.width),
        counted(parts.len(), "part", "parts"),
        style.show(glued.height),
        counted(glued.glue_lines(), "glue line", "glue lines"),
        counted(clamps, "clamp", "clamps"),
        clamps - above,
        style.show(glued.need.reach)
    );
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        &format!("Glue-up of {}", glued.name),
        &description,
    );
    // Room for jaws and handles above and below the cauls.
    let (left, right, top, jaws) = (48.0, 72.0, 6.0, 24.0);
    let scale = Scale::fitting(
        glued.length,
        glued.width + caul_depth * 2,
        style.width - left - right,
        style.width * 0.75,
    );
    let caul = scale.units(caul_depth);
    let face = Rect::new(
        left,
        top + jaws + caul,
        scale.units(glued.length),
        scale.units(glued.width),
    );
    let reach = (face.y - caul, face.bottom() + caul);
    let places: Vec<f64> = (0..clamps)
        .map(|clamp| face.x + face.width * (clamp as f64 + 0.5) / clamps as f64)
        .collect();
    for x in places.iter().skip(1).step_by(2) {
        bar(&mut canvas, *x, reach, "clamp-below");
    }
    for y in [reach.0, face.bottom()] {
        let stick = Rect::new(face.x, y, face.width, caul);
        canvas.rect(
            stick,
            &Paint::fill(palette::PLAIN_WOOD)
                .stroke(palette::INK, 1.0)
                .class("caul"),
        );
    }
    draw_parts(style, &mut canvas, &parts, face, scale);
    canvas.rect(face, &Paint::line(palette::INK, 1.3));
    for x in places.iter().skip(1).step_by(2) {
        for side in [x - 3.0, x + 3.0] {
            canvas.line(
                (side, reach.0),
                (side, reach.1),
                &Paint::line(palette::INK, 0.9).dash("4 3").class("hidden"),
            );
        }
    }
    for x in places.iter().step_by(2) {
        bar(&mut canvas, *x, reach, "clamp-above");
    }
    let x = face.right() + 9.0;
    dimension_down(
        &mut canvas,
        x,
        face.y,
        face.bottom(),
        &style.show(glued.width),
    );
    let mut y = reach.1 + jaws + 12.0;
    if let [first, second, ..] = places.as_slice() {
        // Clamps stand half a spacing from the ends.
        let spacing = Length::from_nm(glued.length.nm() / glued.clamp_count().max(1) as i64);
        dimension_across(&mut canvas, *first, *second, y, &style.show(spacing));
        y += 17.0;
    }
    dimension_across(
        &mut canvas,
        face.x,
        face.right(),
        y,
        &style.show(glued.length),
    );
    y = from_the_end(
        style,
        &mut canvas,
        &parts,
        Rect::new(left, y + 20.0, face.height, scale.units(glued.height)),
        caul,
        scale,
    );
    y = key(&mut canvas, 16.0, y + 24.0);
    Some(canvas.finish(y))
}

fn part_of(needs: &Needs, panel: usize, part: PanelPart, turn: Turn) -> Part {
    match part {
        PanelPart::Piece(place) => {
            let (species, width) = needs
                .places
                .get(place)
                .map_or((String::new(), Length::ZERO), |place| {
                    (place.species.clone(), place.width)
                });
            // Numbers are counted in the whole board, from 1.
            Part {
                shift: Length::ZERO,
                bands: vec![(species, width)],
                label: (place + 1).to_string(),
                is_slice: false,
            }
        }
        PanelPart::Panel(inner) => Part {
            shift: Length::ZERO,
            bands: bands_of(needs, inner, panel, turn),
            label: needs
                .panels
                .get(inner)
                .map_or(String::new(), |inner| inner.name.clone()),
            is_slice: false,
        },
        PanelPart::Slice(slice) => {
            let mut bands = bands_of(needs, panel.saturating_sub(1), panel, turn);
            let is_turned = slice % 2 == 1;
            if is_turned && turn == Turn::Flip {
                bands.reverse();
            }
            let first = bands.first().map_or(Length::ZERO, |(_, width)| *width);
            Part {
                shift: if is_turned && turn == Turn::Shift {
                    first
                } else {
                    Length::ZERO
                },
                bands,
                label: (slice + 1).to_string(),
                is_slice: true,
            }
        }
    }
}

/// The strips of an earlier panel, through all panels inside it. Panels only hold earlier ones.
fn bands_of(needs: &Needs, panel: usize, before: usize, turn: Turn) -> Vec<(String, Length)> {
    if panel >= before {
        return Vec::new();
    }
    needs.panels.get(panel).map_or(Vec::new(), |inner| {
        inner
            .parts
            .iter()
            .flat_map(|part| part_of(needs, panel, *part, turn).bands)
            .collect()
    })
}

fn total(bands: &[(String, Length)]) -> Length {
    bands.iter().map(|(_, width)| *width).sum()
}

fn draw_parts(style: &Style, canvas: &mut Canvas, parts: &[Part], face: Rect, scale: Scale) {
    let equal = face.height / parts.len().max(1) as f64;
    let widths: Length = parts.iter().map(|part| total(&part.bands)).sum();
    // Slices share the panel; strips keep their own widths, planing allowances shared out.
    let stretch = if widths.is_positive() {
        face.height / scale.units(widths)
    } else {
        1.0
    };
    let mut y = face.y;
    let mut rings = Vec::new();
    for (order, part) in parts.iter().enumerate() {
        let height = if part.is_slice {
            equal
        } else {
            scale.units(total(&part.bands)) * stretch
        };
        let piece = Rect::new(face.x, y, face.width, height);
        if part.is_slice {
            let mut x = face.x + scale.units(part.shift);
            for (species, width) in &part.bands {
                let wide = scale.units(*width);
                let cell = Rect::new(x, y, wide, height);
                canvas.rect(cell, &Paint::fill(style.colour(species)));
                x += wide;
            }
        } else {
            let mut inner = y;
            for (index, (species, width)) in part.bands.iter().enumerate() {
                let high = scale.units(*width) * stretch;
                let seed = seed_of(&part.label).wrapping_add((order * 32 + index) as u64);
                let band = Rect::new(face.x, inner, face.width, high);
                long_grain(canvas, band, style.colour(species), seed);
                inner += high;
            }
        }
        rings.push((piece, part.label.as_str()));
        y += height;
        if order + 1 < parts.len() {
            glue_line(canvas, (face.x, y), (face.right(), y));
        }
    }
    // Numbers stand beside the panel, in two columns where strips are narrower than their rings.
    for (order, (piece, label)) in rings.into_iter().enumerate() {
        let middle = piece.y + piece.height / 2.0;
        match label.parse::<usize>() {
            Ok(number) => {
                let column = if piece.height < 17.0 { order % 2 } else { 0 };
                let x = piece.x - 13.0 - 19.0 * column as f64;
                let leader = Paint::line(palette::QUIET, 0.8);
                canvas.line((x, middle), (piece.x, middle), &leader);
                strip_number(canvas, (x, middle), number);
            }
            Err(_) => {
                let width = words_width(label, Style::SMALL) + 8.0;
                let plate = Rect::new(piece.x + 6.0, middle - 7.0, width, 14.0);
                canvas.rounded_rect(plate, 2.0, &Paint::fill(palette::PAPER).opacity(0.86));
                canvas.words(
                    (piece.x + 10.0, middle + 3.7),
                    label,
                    &Lettering::new(Style::SMALL),
                );
            }
        }
    }
}

fn glue_line(canvas: &mut Canvas, from: (f64, f64), to: (f64, f64)) {
    canvas.line(from, to, &Paint::line(palette::PAPER, 3.0));
    canvas.line(
        from,
        to,
        &Paint::line(palette::CHALK, 1.6).class("glue-line"),
    );
}

/// A bar clamp seen from above: a fixed jaw, a bar, a sliding jaw with its screw and handle.
fn bar(canvas: &mut Canvas, x: f64, (top, bottom): (f64, f64), class: &'static str) {
    let outline = |fill: &str| Paint::fill(fill).stroke(palette::INK, 0.9);
    canvas.open_class(class);
    canvas.rect(
        Rect::new(x - 3.0, top - 8.0, 6.0, bottom - top + 16.0),
        &outline(palette::STEEL),
    );
    canvas.rounded_rect(
        Rect::new(x - 8.0, top - 8.0, 16.0, 8.0),
        1.5,
        &outline(palette::STEEL_DARK),
    );
    canvas.rounded_rect(
        Rect::new(x - 8.0, bottom, 16.0, 8.0),
        1.5,
        &outline(palette::STEEL_DARK),
    );
    canvas.rounded_rect(
        Rect::new(x - 4.0, bottom + 8.0, 8.0, 13.0),
        3.0,
        &outline(palette::STEEL),
    );
    canvas.close();
}

/// The stack seen from its end, a bar above and one below; returns the lowest point.
fn from_the_end(
    style: &Style,
    canvas: &mut Canvas,
    parts: &[Part],
    space: Rect,
    caul: f64,
    scale: Scale,
) -> f64 {
    let tall = space.height.max(8.0);
    let bar_height = 5.0;
    let end = Rect::new(
        space.x + caul + 12.0,
        space.y + bar_height + 3.0,
        space.width,
        tall,
    );
    let jaws = (end.x - caul, end.right() + caul);
    for (y, is_above) in [(space.y, true), (end.bottom() + 3.0, false)] {
        let rail = Rect::new(jaws.0 - 9.0, y, jaws.1 - jaws.0 + 18.0, bar_height);
        canvas.rect(rail, &Paint::fill(palette::STEEL).stroke(palette::INK, 0.9));
        let jaw_top = if is_above { y } else { end.y + tall / 2.0 };
        for x in [jaws.0 - 8.0, jaws.1] {
            let jaw = Rect::new(x, jaw_top, 8.0, tall / 2.0 + bar_height + 3.0);
            canvas.rounded_rect(
                jaw,
                1.0,
                &Paint::fill(palette::STEEL_DARK).stroke(palette::INK, 0.9),
            );
        }
    }
    for x in [jaws.0, end.right()] {
        canvas.rect(
            Rect::new(x, end.y, caul, tall),
            &Paint::fill(palette::PLAIN_WOOD).stroke(palette::INK, 1.0),
        );
    }
    let widths: Length = parts.iter().map(|part| total(&part.bands)).sum();
    let equal = end.width / parts.len().max(1) as f64;
    let stretch = if widths.is_positive() {
        end.width / scale.units(widths)
    } else {
        1.0
    };
    let mut x = end.x;
    for (order, part) in parts.iter().enumerate() {
        let from = x;
        if part.is_slice {
            // From the end of the panel only the last cell of each slice shows, fibres upright.
            if let Some((species, _)) = part.bands.last() {
                let cell = Rect::new(x, end.y, equal, tall);
                canvas.rect(cell, &Paint::fill(style.colour(species).darker(0.1)));
            }
            x += equal;
        } else {
            for (species, width) in &part.bands {
                let wide = scale.units(*width) * stretch;
                let cell = Rect::new(x, end.y, wide, tall);
                canvas.rect(cell, &Paint::fill(style.colour(species)));
                x += wide;
            }
        }
        if order > 0 {
            glue_line(canvas, (from, end.y), (from, end.bottom()));
        }
    }
    canvas.rect(end, &Paint::line(palette::INK, 1.2));
    end.bottom() + bar_height + 3.0
}

/// A ring on its base: clamps all around from above, then the stack from its side.
fn stacked(style: &Style, tray: &RoundTray, glued: &Panel) -> Drawing {
    let clamps = glued.clamp_count() as usize;
    let description = format!(
        "The ring on its base, {} across and {} high together, with {} around the rim, opposite ones tightened by turns, \
         and scrap under each jaw. The clamps must open at least {}.",
        style.show(tray.diameter),
        style.show(tray.base_thickness + tray.ring_thickness),
        counted(clamps, "clamp", "clamps"),
        style.show(glued.need.reach)
    );
    let title = format!("Glue-up of {}", glued.name);
    let mut canvas = Canvas::new(style.prefix, style.width, &title, &description);
    let (left, top, jaws) = (40.0, 40.0, 26.0);
    let space = style.width - 2.0 * left;
    let scale = Scale::fitting(tray.diameter, tray.diameter, space, style.width * 0.7);
    let across = scale.units(tray.diameter);
    let face = Rect::new((style.width - across) / 2.0, top, across, across);
    from_above(style, &mut canvas, tray, face, scale, "base");
    let (middle, radius) = (face.centre(), across / 2.0);
    for clamp in 0..clamps {
        let degrees = 360.0 * clamp as f64 / clamps as f64;
        let steel = |fill: &str| Paint::fill(fill).stroke(palette::INK, 0.9);
        canvas.open_turned(degrees, middle);
        canvas.open_class("clamp-around");
        let tip = middle.1 - radius;
        canvas.rect(
            Rect::new(middle.0 - 7.0, tip - 1.0, 14.0, 11.0),
            &Paint::fill(palette::PLAIN_WOOD).stroke(palette::INK, 0.9),
        );
        canvas.rounded_rect(
            Rect::new(middle.0 - 3.5, tip - 18.0, 7.0, 25.0),
            2.0,
            &steel(palette::STEEL),
        );
        canvas.rect(
            Rect::new(middle.0 - 5.0, tip - 20.0, 10.0, 7.0),
            &steel(palette::STEEL_DARK),
        );
        canvas.close();
        canvas.close();
    }
    let stack = scale.units(tray.base_thickness + tray.ring_thickness);
    let side = Rect::new(face.x, face.bottom() + jaws + 34.0, across, stack);
    let seam = side.y + scale.units(tray.ring_thickness);
    let colour = |blank: &Blank| {
        bands(blank, tray.diameter)
            .last()
            .map_or(palette::UNKNOWN_WOOD, |(species, _)| style.colour(species))
    };
    let ring = Rect::new(side.x, side.y, side.width, seam - side.y);
    let base = Rect::new(side.x, seam, side.width, side.bottom() - seam);
    long_grain(&mut canvas, ring, colour(&tray.ring), seed_of("ring"));
    long_grain(&mut canvas, base, colour(&tray.base), seed_of("base"));
    glue_line(&mut canvas, (side.x, seam), (side.right(), seam));
    canvas.rect(side, &Paint::line(palette::INK, 1.2));
    for (x, outside) in [(side.x, -1.0), (side.right(), 1.0)] {
        let steel = Paint::line(palette::STEEL_DARK, 5.0);
        let reach = x + outside * 13.0;
        let inner = x - outside * 7.0;
        let frame = Path::new()
            .to(inner, side.y - 9.0)
            .line(reach, side.y - 9.0)
            .line(reach, side.bottom() + 9.0)
            .line(inner, side.bottom() + 9.0);
        canvas.path(&frame, &steel);
        for y in [side.y - 6.5, side.bottom()] {
            canvas.rect(
                Rect::new(inner - 6.0, y, 12.0, 6.5),
                &Paint::fill(palette::PLAIN_WOOD).stroke(palette::INK, 0.8),
            );
        }
    }
    let words = Lettering::new(Style::SMALL);
    let mut y = side.bottom() + 30.0;
    dimension_across(
        &mut canvas,
        face.x,
        face.right(),
        y,
        &style.show(tray.diameter),
    );
    y += 24.0;
    let sample = Rect::new(16.0, y - 9.0, 24.0, 11.0);
    canvas.rect(
        sample,
        &Paint::fill(palette::PLAIN_WOOD).stroke(palette::INK, 0.9),
    );
    canvas.words((48.0, y), "scrap under the jaws", &words);
    y += 17.0;
    glue_line(&mut canvas, (16.0, y - 4.0), (40.0, y - 4.0));
    canvas.words((48.0, y), "glue line, under the ring only", &words);
    canvas.finish(y + 12.0)
}

fn key(canvas: &mut Canvas, left: f64, y: f64) -> f64 {
    let words = Lettering::new(Style::SMALL);
    canvas.rect(
        Rect::new(left, y - 7.0, 24.0, 6.0),
        &Paint::fill(palette::STEEL).stroke(palette::INK, 0.9),
    );
    canvas.words((left + 32.0, y), "clamp above the panel", &words);
    let next = y + 17.0;
    let hidden = Path::new()
        .to(left, next - 7.0)
        .line(left + 24.0, next - 7.0)
        .to(left, next - 1.0)
        .line(left + 24.0, next - 1.0);
    canvas.path(&hidden, &Paint::line(palette::INK, 0.9).dash("4 3"));
    canvas.words((left + 32.0, next), "clamp below it", &words);
    let last = next + 17.0;
    glue_line(canvas, (left, last - 4.0), (left + 24.0, last - 4.0));
    canvas.words((left + 32.0, last), "glue line", &words);
    let stick = last + 17.0;
    canvas.rect(
        Rect::new(left, stick - 9.0, 24.0, 11.0),
        &Paint::fill(palette::PLAIN_WOOD).stroke(palette::INK, 1.0),
    );
    canvas.words((left + 32.0, stick), "caul", &words);
    stick + 12.0
}
