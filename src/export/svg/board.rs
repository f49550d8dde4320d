//! Striped boards as they will look oiled, and the pieces of any project pulled apart.

use super::drawing::{Canvas, Drawing, Rect};
use super::miniature::miniature_board;
use super::paint::{Lettering, Paint, words_width};
use super::palette::{self, Colour};
use super::piece::{Bench, Looks, Template};
use super::style::{Scale, Style, counted, dimension_across, dimension_down, listed};
use super::template::{DrillHole, drilling_template};
use super::treatment;
use super::wood::{grain_lines, long_grain, seed_of};
use crate::calc::pattern::BoardStrip;
use crate::calc::work::{Extras, Needs, Place, Practice, Size, StripedBoard};
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

impl Looks for StripedBoard {
    fn finished(&self, style: &Style, name: &str, _bench: Bench<'_>, seed: u64) -> Option<Drawing> {
        Some(board(
            style,
            &BoardFace {
                name,
                length: self.length,
                thickness: self.thickness,
                strips: &self.arrangement.strips,
                extras: self.extras,
                seed,
            },
        ))
    }

    fn small(&self, style: &Style, name: &str, _bench: Bench<'_>) -> Drawing {
        miniature_board(style, name, self.length, &self.arrangement.strips)
    }

    fn templates(&self) -> Vec<Template> {
        templates(&self.extras)
    }

    fn template(
        &self,
        style: &Style,
        slug: &str,
        size: Size,
        _practice: &Practice,
    ) -> Option<Drawing> {
        template(style, slug, &self.extras, size)
    }
}

/// Drilled for the screw of a foot: common practice for screws of 4 mm in hardwood.
const PILOT: Length = Length::from_inches(1, 8);

/// What is marked out on a board that is sawn straight: only its feet.
pub(super) fn templates(extras: &Extras) -> Vec<Template> {
    let feet = Template {
        slug: "feet",
        title: "Drilling marks for the feet",
        about: "The bottom face with a cross for the screw of each foot.",
    };
    (extras.feet > 0).then_some(feet).into_iter().collect()
}

pub(super) fn template(style: &Style, slug: &str, extras: &Extras, size: Size) -> Option<Drawing> {
    if slug != "feet" || extras.feet == 0 {
        return None;
    }
    let places = extras.foot_places(size).into_iter();
    let holes: Vec<DrillHole<'_>> = places
        .map(|(along, across)| DrillHole {
            along,
            across,
            diameter: PILOT,
            what: "foot",
        })
        .collect();
    Some(drilling_template(style, size.length, size.width, &holes))
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

pub(super) fn strip_words(style: &Style, strips: &[BoardStrip]) -> Vec<String> {
    strips
        .iter()
        .map(|strip| format!("{} {}", style.show(strip.width), strip.species))
        .collect()
}

pub(super) fn place(style: &Style, length: Length, width: Length) -> (Scale, Rect) {
    let space = style.width - LEFT - RIGHT;
    let scale = Scale::fitting(length, width, space, style.width * 0.8);
    let top = Rect::new(LEFT, TOP, scale.units(length), scale.units(width));
    (scale, top)
}

/// A glue line, as faint as in the finished board.
pub(super) fn seam(canvas: &mut Canvas, from: (f64, f64), to: (f64, f64)) {
    canvas.line(from, to, &Paint::line(palette::INK, 0.5).opacity(0.45));
}

pub(super) fn side_colour(style: &Style, strip: Option<&BoardStrip>) -> Colour {
    strip
        .map_or(palette::UNKNOWN_WOOD, |strip| style.colour(&strip.species))
        .darker(0.1)
}

/// The treatment of face and side, then the three sizes: length, width, thickness.
pub(super) fn finish(
    style: &Style,
    mut canvas: Canvas,
    scale: Scale,
    (top, side): (Rect, Rect),
    extras: &Extras,
    [length, width, thickness]: [Length; 3],
) -> Drawing {
    let size = Size {
        length,
        width,
        thickness,
    };
    treatment::draw_on_face(&mut canvas, scale, top, extras, size);
    canvas.rect(top, &Paint::line(palette::INK, 1.4));
    dimension_down(
        &mut canvas,
        top.right() + 9.0,
        top.y,
        top.bottom(),
        &style.show(width),
    );
    let bottom = treatment::draw_on_side(&mut canvas, scale, side, extras, size);
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

/// All pieces of a project pulled apart, numbered as on its bench sheet, each with its species and
/// the width that shows; those of one panel together under its name.
pub fn exploded_strips(style: &Style, name: &str, needs: &Needs) -> Drawing {
    let numbered: Vec<String> = needs
        .places
        .iter()
        .enumerate()
        .map(|(index, place)| {
            format!(
                "{}: {} {}",
                index + 1,
                style.show(place.width),
                place.species
            )
        })
        .collect();
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        &format!("Pieces of {name}"),
        &format!("In their order: {}.", listed(&numbered)),
    );
    let cut_length = |place: &Place| {
        needs
            .strips
            .get(place.need)
            .map_or(Length::ZERO, |strip| strip.length)
    };
    let longest = needs
        .places
        .iter()
        .map(cut_length)
        .max()
        .unwrap_or_default();
    let (left, right) = (36.0, 74.0);
    let space = style.width - left - right;
    let scale = Scale::fitting(longest, Length::from_mm(1), space, f64::INFINITY);
    let panels = {
        let mut panels: Vec<Option<usize>> = needs.places.iter().map(|place| place.panel).collect();
        panels.dedup();
        panels.len()
    };
    let words = Lettering::new(Style::SMALL);
    let mut y = 12.0;
    let mut panel = None;
    for (index, place) in needs.places.iter().enumerate() {
        if panels > 1 && panel != Some(place.panel) {
            let heading = place
                .panel
                .and_then(|panel| needs.panels.get(panel))
                .map_or("in one piece", |panel| panel.name.as_str());
            canvas.words((left, y + 9.0), heading, &words.clone().bold());
            y += 16.0;
        }
        panel = Some(place.panel);
        let height = scale.units(place.width);
        // Each row is high enough for its words, however thin the strip.
        let row = height.max(14.0);
        let middle = y + row / 2.0;
        let piece = Rect::new(
            left,
            middle - height / 2.0,
            scale.units(cut_length(place)),
            height,
        );
        let seed = seed_of(name).wrapping_add(index as u64);
        long_grain(&mut canvas, piece, style.colour(&place.species), seed);
        canvas.rect(piece, &Paint::line(palette::INK, 1.0).class("strip"));
        strip_number(&mut canvas, (left - 15.0, middle), index + 1);
        let plate = Rect::new(
            piece.x + 6.0,
            middle - 6.5,
            words_width(&place.species, Style::SMALL) + 8.0,
            13.0,
        );
        canvas.rounded_rect(plate, 2.0, &Paint::fill(palette::PAPER).opacity(0.86));
        canvas.words((piece.x + 10.0, middle + 3.6), &place.species, &words);
        canvas.words(
            (left + space + 8.0, middle + 3.6),
            &style.show(place.width),
            &words,
        );
        y += row + 5.0;
    }
    y += 10.0;
    let right_end = left + scale.units(longest);
    dimension_across(&mut canvas, left, right_end, y, &style.show(longest));
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
