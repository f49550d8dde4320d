//! Boards with a handle: as they will look, on the piece they are cut from, and as a template.

use super::drawing::{Canvas, Drawing, Rect};
use super::layout::CutPiece;
use super::miniature;
use super::offcut::unusable_stretches;
use super::paint::{Lettering, Paint};
use super::palette;
use super::path::Path;
use super::piece::{Bench, Looks, Template};
use super::shape::{OnPage, bands, fill_with_blank, light_on_edge, outline_path};
use super::style::{Scale, Style, dimension_across, dimension_down, listed};
use super::treatment;
use super::wood::{grain_lines, long_grain, seed_of};
use crate::calc::matching::Use;
use crate::calc::shaping::{Point, Segment};
use crate::calc::work::{HandleBoard, HandleShape, Practice, Size};
use crate::units::Length;

impl Looks for HandleBoard {
    /// Nothing where the outline does not close.
    fn finished(
        &self,
        style: &Style,
        name: &str,
        _bench: Bench<'_>,
        _seed: u64,
    ) -> Option<Drawing> {
        Some(handle_board(style, name, self, &self.shape().ok()?))
    }

    fn small(&self, style: &Style, name: &str, _bench: Bench<'_>) -> Drawing {
        small(style, name, self)
    }

    fn templates(&self) -> Vec<Template> {
        vec![Template {
            slug: "outline",
            title: "Outline",
            about: "The shape with its hole, to lay on the blank with the grain along the handle.",
        }]
    }

    fn template(
        &self,
        style: &Style,
        slug: &str,
        _size: Size,
        _practice: &Practice,
    ) -> Option<Drawing> {
        let shape = self.shape().ok().filter(|_| slug == "outline")?;
        Some(handle_template(style, self, &shape))
    }
}

/// The board from above and from its side. `shape` is the board's own.
pub fn handle_board(
    style: &Style,
    name: &str,
    design: &HandleBoard,
    shape: &HandleShape,
) -> Drawing {
    let (length, width) = shape.extent;
    let species: Vec<String> = bands(&design.blank, width)
        .iter()
        .map(|(species, width)| format!("{} {species}", style.show(*width)))
        .collect();
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        name,
        &format!(
            "{}{} Across it: {}.{}",
            describe(style, design, shape),
            describe_hole(style, shape),
            listed(&species),
            treatment::describe_edge(style, design.edge)
        ),
    );
    let (left, top, right) = (14.0, 14.0, 74.0);
    let scale = Scale::fitting(length, width, style.width - left - right, style.width * 0.8);
    let face = Rect::new(left, top, scale.units(length), scale.units(width));
    let on_page = place_in(shape, face, scale);
    let outline = outline_path(&shape.outline, on_page);
    canvas.open_clipped("shape", &outline);
    fill_with_blank(style, &mut canvas, &design.blank, face, scale, name);
    light_on_edge(&mut canvas, &outline, design.edge, scale);
    canvas.close();
    canvas.path(&outline, &Paint::line(palette::INK, 1.4).class("outline"));
    draw_hole(&mut canvas, shape, on_page);
    let x = face.right() + 9.0;
    dimension_down(&mut canvas, x, face.y, face.bottom(), &style.show(width));

    let side = Rect::new(
        left,
        face.bottom() + 12.0,
        face.width,
        scale.units(design.thickness),
    );
    let edge = treatment::edge_outline(side, scale, design.edge);
    let last = bands(&design.blank, width);
    let colour = last
        .last()
        .map_or(palette::UNKNOWN_WOOD, |(species, _)| style.colour(species))
        .darker(0.1);
    canvas.open_clipped("side", &edge);
    canvas.rect(side, &Paint::fill(colour));
    grain_lines(&mut canvas, side, colour, seed_of(name) ^ 0x51de);
    canvas.close();
    canvas.path(&edge, &Paint::line(palette::INK, 1.2));
    dimension_down(
        &mut canvas,
        x,
        side.y,
        side.bottom(),
        &style.show(design.thickness),
    );
    let y = side.bottom() + 16.0;
    dimension_across(&mut canvas, face.x, face.right(), y, &style.show(length));
    canvas.finish(y + 14.0)
}

/// The shape lying in the blank that a layout cuts for it, on the whole piece with its unusable
/// stretches. Gives nothing where the layout cuts no blank.
pub fn handle_on_piece(style: &Style, cut: &CutPiece, shape: &HandleShape) -> Option<Drawing> {
    let stock = &cut.stock;
    let rectangles = cut.layout.rectangles(stock, cut.shop);
    let blank = rectangles
        .iter()
        .find(|rectangle| matches!(rectangle.used_as, Use::Strip(_)))?;
    let unusable: Vec<(Length, Length)> = stock
        .unusable
        .iter()
        .map(|stretch| (stretch.from, stretch.to))
        .collect();
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        &format!("The board on {}", stock.id),
        &format!(
            "A piece of {}, {}, with the board's outline in a blank of {}, its handle along the grain. {}",
            stock.species,
            style.show_by(stock.length, stock.width),
            style.show_by(blank.length, blank.width),
            if unusable.is_empty() {
                "The piece has no unusable stretch."
            } else {
                "Unusable stretches are crossed out; none lies under the board."
            }
        ),
    );
    let (left, top, right) = (12.0, 14.0, 70.0);
    let scale = Scale::fitting(
        stock.length,
        stock.width,
        style.width - left - right,
        style.width * 0.7,
    );
    let piece = Rect::new(
        left,
        top,
        scale.units(stock.length),
        scale.units(stock.width),
    );
    let colour = style.colour(stock.species);
    let seed = seed_of(stock.id);
    canvas.rect(piece, &Paint::fill(palette::PAPER));
    canvas.open_class("piece");
    long_grain(&mut canvas, piece, colour.lighter(0.45), seed);
    canvas.close();
    let (_, usable_width) = stock.usable(cut.shop);
    let straight_edge = top + scale.units((stock.width - usable_width).max(Length::ZERO));
    let rough = Rect::new(
        left + scale.units(blank.along),
        straight_edge + scale.units(blank.across),
        scale.units(blank.length),
        scale.units(blank.width),
    );
    canvas.rect(
        rough,
        &Paint::line(palette::INK, 1.0).dash("6 4").class("blank"),
    );
    let (length, width) = shape.extent;
    let (x, y) = rough.centre();
    let face = Rect::new(
        x - scale.units(length) / 2.0,
        y - scale.units(width) / 2.0,
        scale.units(length),
        scale.units(width),
    );
    let on_page = place_in(shape, face, scale);
    let outline = outline_path(&shape.outline, on_page);
    canvas.open_clipped("shape", &outline);
    long_grain(&mut canvas, face, colour, seed);
    canvas.close();
    canvas.path(&outline, &Paint::line(palette::INK, 1.6).class("outline"));
    draw_hole(&mut canvas, shape, on_page);
    unusable_stretches(&mut canvas, piece, scale, &unusable);
    canvas.rect(piece, &Paint::line(palette::INK, 1.2));
    dimension_down(
        &mut canvas,
        piece.right() + 9.0,
        piece.y,
        piece.bottom(),
        &style.show(stock.width),
    );
    let mut y = piece.bottom() + 14.0;
    dimension_across(
        &mut canvas,
        rough.x,
        rough.right(),
        y,
        &style.show(blank.length),
    );
    y += 17.0;
    dimension_across(
        &mut canvas,
        piece.x,
        piece.right(),
        y,
        &style.show(stock.length),
    );
    Some(canvas.finish(y + 14.0))
}

/// The outline at full size, with the hole, the middles of the throats and the grain's direction.
/// One unit is one millimetre.
pub fn handle_template(style: &Style, design: &HandleBoard, shape: &HandleShape) -> Drawing {
    const AROUND: f64 = 4.0;
    const BLACK: &str = "#000000";
    let extent = shape.outline.extent();
    let (width, height) = (
        extent.length() + 2.0 * AROUND,
        extent.width() + 2.0 * AROUND,
    );
    let mut canvas = Canvas::new(
        style.prefix,
        width,
        "Handle board template",
        &format!(
            "At full size. {}{}",
            describe(style, design, shape),
            describe_hole(style, shape)
        ),
    );
    let on_page = OnPage {
        origin: (AROUND - extent.low.x, AROUND + extent.high.y),
        per_mm: 1.0,
    };
    let line = Paint::line(BLACK, 0.3);
    canvas.path(
        &outline_path(&shape.outline, on_page),
        &line.clone().class("outline"),
    );
    let fine = Paint::line(BLACK, 0.15);
    let cross = |canvas: &mut Canvas, (x, y): (f64, f64), arm: f64| {
        canvas.line((x - arm, y), (x + arm, y), &fine);
        canvas.line((x, y - arm), (x, y + arm), &fine);
    };
    let words = Lettering::new(4.0).colour(BLACK);
    if let Some((centre, radius)) = shape.hole {
        let at = on_page.place(centre);
        cross(&mut canvas, at, radius + 4.0);
        canvas.circle(at, radius, &line.clone().class("hole"));
        canvas.words(
            (at.0 - radius - 3.0, at.1 - radius - 2.0),
            &style.show(Length::from_mm_rounded(radius * 2.0)),
            &words.clone().end(),
        );
    }
    for (centre, radius) in throats(shape) {
        let at = on_page.place(centre);
        cross(&mut canvas, at, 4.0);
        // A relief hole touches both sides of the inside corner where it is as large as its arc.
        let drill = design.relief_drill.map(|drill| drill.mm() / 2.0);
        canvas.circle(
            at,
            drill.unwrap_or(radius),
            &fine.clone().dash("2 1").class("throat"),
        );
    }
    let (x, y) = (on_page.place(Point::new(0.0, 0.0)).0 + 12.0, height / 2.0);
    canvas.path(
        &Path::new()
            .to(x, y)
            .line(x + 50.0, y)
            .to(x + 45.0, y - 2.5)
            .line(x + 50.0, y)
            .line(x + 45.0, y + 2.5),
        &fine,
    );
    canvas.words((x, y - 3.0), "grain", &words);
    canvas.finish_full_size(height)
}

/// Centres and radii of the inside corners.
fn throats(shape: &HandleShape) -> impl Iterator<Item = (Point, f64)> {
    shape
        .outline
        .segments()
        .iter()
        .filter_map(|segment| match *segment {
            Segment::Arc {
                centre,
                radius,
                sweep,
                ..
            } if sweep < 0.0 => Some((centre, radius)),
            _ => None,
        })
}

/// Lays the shape's extent onto `face`.
fn place_in(shape: &HandleShape, face: Rect, scale: Scale) -> OnPage {
    let extent = shape.outline.extent();
    OnPage {
        origin: (
            face.x - extent.low.x * scale.per_mm(),
            face.y + extent.high.y * scale.per_mm(),
        ),
        per_mm: scale.per_mm(),
    }
}

fn draw_hole(canvas: &mut Canvas, shape: &HandleShape, on_page: OnPage) {
    if let Some((centre, radius)) = shape.hole {
        canvas.circle(
            on_page.place(centre),
            radius * on_page.per_mm,
            &Paint::fill(palette::PAPER)
                .stroke(palette::INK, 1.3)
                .class("hole"),
        );
    }
}

fn describe(style: &Style, design: &HandleBoard, shape: &HandleShape) -> String {
    let slant = if design.slant_degrees == 0.0 {
        "straight".to_owned()
    } else {
        format!("slanted by {}°", design.slant_degrees.abs())
    };
    format!(
        "A board {} thick, {} over all, its body {}, with a {slant} handle {} along the grain.",
        style.show(design.thickness),
        style.show_by(shape.extent.0, shape.extent.1),
        style.show_by(design.body_length, design.body_width),
        style.show_by(design.handle_length, design.handle_width)
    )
}

fn describe_hole(style: &Style, shape: &HandleShape) -> String {
    match (shape.hole, shape.around_hole) {
        (Some((_, radius)), Some(around)) => format!(
            " A hole of {}, with {} of wood around it.",
            style.show(Length::from_mm_rounded(radius * 2.0)),
            style.show(around)
        ),
        _ => String::new(),
    }
}

fn small(style: &Style, name: &str, board: &HandleBoard) -> Drawing {
    let mut canvas = miniature::canvas(
        style,
        name,
        "piece",
        "boards",
        &miniature::strips_of(&board.blank),
    );
    let Ok(shape) = board.shape() else {
        return canvas.finish(style.width * 0.4);
    };
    let (scale, face) = miniature::place(style, shape.extent.0, shape.extent.1);
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
    canvas.finish(face.bottom() + miniature::MARGIN)
}
