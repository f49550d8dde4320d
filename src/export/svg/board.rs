//! Boards as they will look oiled: strips along the grain, or a checker of end grain.

use super::drawing::{Canvas, Drawing, Lettering, Paint, Path, Rect, words_width};
use super::palette;
use super::style::{Scale, Style, counted, dimension_across, dimension_down, listed};
use super::wood::{end_grain, grain_lines, long_grain};
use crate::units::Length;

/// One strip of a face, in the order across the board.
#[derive(Clone, Debug)]
pub struct FaceStrip<'a> {
    pub species: &'a str,
    pub width: Length,
}

/// How the edges are treated; the length is the radius or the width of the chamfer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Edge {
    #[default]
    Square,
    Rounded(Length),
    Chamfered(Length),
}

/// A juice groove that runs parallel to the edges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Groove {
    /// From the board's edge to the middle of the groove.
    pub inset: Length,
    pub width: Length,
}

/// A round hole to hang the board by, halfway across.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hole {
    /// From the board's end to the middle of the hole.
    pub from_end: Length,
    pub diameter: Length,
}

/// Recesses for the fingers in both ends, seen from above as hidden lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Grips {
    pub length: Length,
    pub depth: Length,
}

/// What is done to a board after it is flat and square.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Details {
    pub corner_radius: Length,
    pub edge: Edge,
    pub groove: Option<Groove>,
    pub hole: Option<Hole>,
    pub grips: Option<Grips>,
    /// Height of the feet, if it has any.
    pub feet: Option<Length>,
}

/// A board whose strips run along its length.
#[derive(Clone, Debug)]
pub struct BoardFace<'a> {
    pub name: &'a str,
    pub length: Length,
    pub thickness: Length,
    pub strips: &'a [FaceStrip<'a>],
    pub details: Details,
    /// The same seed gives the same grain.
    pub seed: u64,
}

/// One slice of an end-grain board.
#[derive(Clone, Debug)]
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
    /// The first panel's strips, in the order across it.
    pub strips: &'a [FaceStrip<'a>],
    pub slices: &'a [Slice],
    pub details: Details,
    pub seed: u64,
}

const LEFT: f64 = 14.0;
const RIGHT: f64 = 74.0;
const TOP: f64 = 14.0;

/// A striped board from above and from its long side, with its three sizes.
pub fn board(style: &Style, face: &BoardFace) -> Drawing {
    let width: Length = face.strips.iter().map(|strip| strip.width).sum();
    let strips: Vec<String> = face
        .strips
        .iter()
        .map(|strip| format!("{} {}", style.show(strip.width), strip.species))
        .collect();
    let description = format!(
        "A board {} × {} with {} along its length; across it: {}.{}",
        style.show_by(face.length, width),
        style.show(face.thickness),
        counted(strips.len(), "strip", "strips"),
        listed(&strips),
        describe_details(style, &face.details)
    );
    let mut canvas = Canvas::new(style.prefix, style.width, face.name, &description);
    let (scale, top) = place(style, face.length, width);
    let outline = Path::from_rounded_rect(top, scale.units(face.details.corner_radius));
    canvas.open_clipped("face", &outline);
    let mut y = top.y;
    for (index, strip) in face.strips.iter().enumerate() {
        let height = scale.units(strip.width);
        let piece = Rect::new(top.x, y, top.width, height);
        long_grain(
            &mut canvas,
            piece,
            style.colour(strip.species),
            face.seed.wrapping_add(index as u64),
        );
        y += height;
    }
    glue_lines(&mut canvas, top, face.strips, scale);
    canvas.close();
    finish_board(
        style,
        canvas,
        Below {
            scale,
            top,
            outline: &outline,
            details: &face.details,
            length: face.length,
            width,
            thickness: face.thickness,
            side: face.strips.last().map(|strip| strip.species),
            is_end_grain: false,
            seed: face.seed,
        },
    )
}

/// A checkered board from above and from its long side.
pub fn end_grain_board(style: &Style, face: &EndGrainFace) -> Drawing {
    let length: Length = face.slices.iter().map(|slice| slice.thickness).sum();
    let strips: Vec<String> = face
        .strips
        .iter()
        .map(|strip| format!("{} {}", style.show(strip.width), strip.species))
        .collect();
    let flipped = face.slices.iter().filter(|slice| slice.is_flipped).count();
    let description = format!(
        "An end-grain board {} × {} of {}, {} of them turned end for end; each slice is {}.{}",
        style.show_by(length, face.width),
        style.show(face.thickness),
        counted(face.slices.len(), "slice", "slices"),
        flipped,
        listed(&strips),
        describe_details(style, &face.details)
    );
    let mut canvas = Canvas::new(style.prefix, style.width, face.name, &description);
    let (scale, top) = place(style, length, face.width);
    let outline = Path::from_rounded_rect(top, scale.units(face.details.corner_radius));
    canvas.open_clipped("face", &outline);
    let panel: Length = face.strips.iter().map(|strip| strip.width).sum();
    let over = scale.units(panel - face.width) / 2.0;
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
            end_grain(
                &mut canvas,
                Rect::new(x, y, across, down),
                style.colour(strip.species),
                seed,
            );
            y += down;
        }
        x += across;
        if column + 1 < face.slices.len() {
            canvas.line(
                (x, top.y),
                (x, top.bottom()),
                &Paint::line(palette::INK, 0.5).opacity(0.4),
            );
        }
    }
    canvas.close();
    finish_board(
        style,
        canvas,
        Below {
            scale,
            top,
            outline: &outline,
            details: &face.details,
            length,
            width: face.width,
            thickness: face.thickness,
            side: face.strips.first().map(|strip| strip.species),
            is_end_grain: true,
            seed: face.seed,
        },
    )
}

fn place(style: &Style, length: Length, width: Length) -> (Scale, Rect) {
    let space = style.width - LEFT - RIGHT;
    let scale = Scale::fitting(length, width, space, style.width * 0.8);
    let top = Rect::new(LEFT, TOP, scale.units(length), scale.units(width));
    (scale, top)
}

fn glue_lines(canvas: &mut Canvas, top: Rect, strips: &[FaceStrip], scale: Scale) {
    let mut y = top.y;
    for strip in &strips[..strips.len().saturating_sub(1)] {
        y += scale.units(strip.width);
        canvas.line(
            (top.x, y),
            (top.right(), y),
            &Paint::line(palette::INK, 0.5).opacity(0.45),
        );
    }
}

struct Below<'a> {
    scale: Scale,
    top: Rect,
    outline: &'a Path,
    details: &'a Details,
    length: Length,
    width: Length,
    thickness: Length,
    side: Option<&'a str>,
    is_end_grain: bool,
    seed: u64,
}

/// The treatment of the face, then the long side below it, then the sizes.
fn finish_board(style: &Style, mut canvas: Canvas, board: Below) -> Drawing {
    let Below {
        scale,
        top,
        details,
        ..
    } = board;
    draw_details(&mut canvas, scale, top, details);
    canvas.path(board.outline, &Paint::line(palette::INK, 1.4));
    dimension_down(
        &mut canvas,
        top.right() + 9.0,
        top.y,
        top.bottom(),
        &style.show(board.width),
    );

    let side = Rect::new(
        top.x,
        top.bottom() + 12.0,
        top.width,
        scale.units(board.thickness),
    );
    let radius = match details.edge {
        Edge::Square => 0.0,
        Edge::Rounded(radius) => scale.units(radius),
        Edge::Chamfered(width) => scale.units(width),
    };
    let shape = match details.edge {
        Edge::Chamfered(_) => chamfered(side, radius),
        _ => Path::from_rounded_rect(side, radius),
    };
    canvas.open_clipped("side", &shape);
    let colour = board
        .side
        .map_or(palette::Colour::new(190, 160, 120), |species| {
            style.colour(species)
        })
        .darker(0.1);
    canvas.rect(side, &Paint::fill(colour));
    if board.is_end_grain {
        // The fibres of an end-grain board stand upright in its side.
        let mut x = side.x + 6.0;
        let mut fibres = Path::new();
        while x < side.right() {
            fibres = fibres.to(x, side.y + 1.0).line(x, side.bottom() - 1.0);
            x += 7.0;
        }
        canvas.path(&fibres, &Paint::line(colour.darker(0.3), 0.6).opacity(0.5));
    } else {
        grain_lines(&mut canvas, side, colour, board.seed ^ 0x51de);
    }
    canvas.close();
    canvas.path(&shape, &Paint::line(palette::INK, 1.2));
    if let Some(grips) = details.grips {
        // Seen from the side a recess is hidden wood at both ends, below the middle.
        let (deep, high) = (scale.units(grips.depth), side.height * 0.4);
        for x in [side.x, side.right() - deep] {
            canvas.rect(
                Rect::new(x, side.y + side.height * 0.45, deep, high),
                &Paint::line(palette::INK, 0.9).dash("3 2").class("grip"),
            );
        }
    }
    let mut bottom = side.bottom();
    if let Some(height) = details.feet {
        let (tall, wide) = (
            scale.units(height).max(2.0),
            scale.units(Length::from_mm(16)).max(5.0),
        );
        for x in [
            side.x + side.width * 0.07,
            side.right() - side.width * 0.07 - wide,
        ] {
            canvas.rounded_rect(
                Rect::new(x, side.bottom(), wide, tall),
                1.0,
                &Paint::fill(palette::STEEL_DARK).class("foot"),
            );
        }
        bottom += tall;
    }
    dimension_down(
        &mut canvas,
        side.right() + 9.0,
        side.y,
        side.bottom(),
        &style.show(board.thickness),
    );
    let y = bottom + 16.0;
    dimension_across(
        &mut canvas,
        top.x,
        top.right(),
        y,
        &style.show(board.length),
    );
    canvas.finish(y + 14.0)
}

fn draw_details(canvas: &mut Canvas, scale: Scale, top: Rect, details: &Details) {
    let corner = scale.units(details.corner_radius);
    match details.edge {
        Edge::Square => {}
        Edge::Rounded(radius) => {
            // Light falls from the upper left: a soft pale line there, a dark one opposite.
            let inset = scale.units(radius).max(1.2);
            let inner = top.inset(inset);
            let path = Path::from_rounded_rect(inner, (corner - inset).max(1.0));
            canvas.path(
                &path,
                &Paint::line(palette::PAPER, (inset * 0.9).min(4.0))
                    .opacity(0.28)
                    .class("round-over"),
            );
            canvas.path(&path, &Paint::line(palette::INK, 0.5).opacity(0.35));
        }
        Edge::Chamfered(width) => {
            let inner = top.inset(scale.units(width).max(1.2));
            canvas.rect(
                inner,
                &Paint::line(palette::INK, 0.6).opacity(0.5).class("chamfer"),
            );
            for (outer, inside) in [
                ((top.x, top.y), (inner.x, inner.y)),
                ((top.right(), top.y), (inner.right(), inner.y)),
                ((top.x, top.bottom()), (inner.x, inner.bottom())),
                ((top.right(), top.bottom()), (inner.right(), inner.bottom())),
            ] {
                canvas.line(outer, inside, &Paint::line(palette::INK, 0.6).opacity(0.5));
            }
        }
    }
    if let Some(groove) = details.groove {
        let wide = scale.units(groove.width).max(1.5);
        let middle = top.inset(scale.units(groove.inset));
        let path = Path::from_rounded_rect(middle, (corner * 0.8).max(wide));
        canvas.path(
            &path,
            &Paint::line(palette::INK, wide)
                .opacity(0.42)
                .class("groove"),
        );
        canvas.path(
            &path,
            &Paint::line(palette::PAPER, wide * 0.35).opacity(0.3),
        );
    }
    if let Some(hole) = details.hole {
        let centre = (top.x + scale.units(hole.from_end), top.y + top.height / 2.0);
        let radius = scale.units(hole.diameter) / 2.0;
        canvas.circle(
            centre,
            radius,
            &Paint::fill(palette::PAPER)
                .stroke(palette::INK, 1.3)
                .class("hole"),
        );
    }
    if let Some(grips) = details.grips {
        let (long, deep) = (scale.units(grips.length), scale.units(grips.depth).max(2.0));
        let y = top.y + (top.height - long) / 2.0;
        for x in [top.x, top.right() - deep] {
            canvas.rounded_rect(
                Rect::new(x, y, deep, long),
                deep / 2.0,
                &Paint::line(palette::INK, 1.0).dash("3 2").class("grip"),
            );
        }
    }
}

fn chamfered(side: Rect, by: f64) -> Path {
    Path::new()
        .to(side.x + by, side.y)
        .line(side.right() - by, side.y)
        .line(side.right(), side.y + by)
        .line(side.right(), side.bottom() - by)
        .line(side.right() - by, side.bottom())
        .line(side.x + by, side.bottom())
        .line(side.x, side.bottom() - by)
        .line(side.x, side.y + by)
        .shut()
}

fn describe_details(style: &Style, details: &Details) -> String {
    let mut text = String::new();
    match details.edge {
        Edge::Square => {}
        Edge::Rounded(radius) => {
            text.push_str(&format!(" Edges rounded over at {}.", style.show(radius)));
        }
        Edge::Chamfered(width) => {
            text.push_str(&format!(" Edges chamfered {}.", style.show(width)));
        }
    }
    if let Some(groove) = details.groove {
        text.push_str(&format!(
            " A groove {} wide, its middle {} from the edges.",
            style.show(groove.width),
            style.show(groove.inset)
        ));
    }
    if let Some(hole) = details.hole {
        text.push_str(&format!(
            " A hole of {} near one end.",
            style.show(hole.diameter)
        ));
    }
    if details.grips.is_some() {
        text.push_str(" Finger grips in both ends.");
    }
    if details.feet.is_some() {
        text.push_str(" It stands on feet.");
    }
    text
}

/// The strips of a board pulled apart, numbered from one edge, each with its width and species.
pub fn exploded_strips(style: &Style, face: &BoardFace) -> Drawing {
    let widths: Vec<String> = face
        .strips
        .iter()
        .enumerate()
        .map(|(index, strip)| {
            format!(
                "{}: {} {}",
                index + 1,
                style.show(strip.width),
                strip.species
            )
        })
        .collect();
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        &format!("Strips of {}", face.name),
        &format!(
            "Strips in their order across the board: {}.",
            listed(&widths)
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
        let colour = style.colour(strip.species);
        long_grain(
            &mut canvas,
            piece,
            colour,
            face.seed.wrapping_add(index as u64),
        );
        canvas.rect(piece, &Paint::line(palette::INK, 1.0).class("strip"));
        strip_number(&mut canvas, (left - 15.0, middle), index + 1);
        let words = Lettering::new(Style::SMALL);
        let plate = Rect::new(
            piece.x + 6.0,
            middle - 6.5,
            words_width(strip.species, Style::SMALL) + 8.0,
            13.0,
        );
        canvas.rounded_rect(plate, 2.0, &Paint::fill(palette::PAPER).opacity(0.86));
        canvas.words((piece.x + 10.0, middle + 3.6), strip.species, &words);
        canvas.words(
            (piece.right() + 8.0, middle + 3.6),
            &style.show(strip.width),
            &words,
        );
        y += row + 5.0;
    }
    y += 10.0;
    dimension_across(
        &mut canvas,
        left,
        left + scale.units(face.length),
        y,
        &style.show(face.length),
    );
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
