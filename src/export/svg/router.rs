//! A router that turns about a pivot: what to measure, and what goes wrong if measured wrongly.

use super::drawing::{Canvas, Drawing, Rect};
use super::paint::{Lettering, Paint};
use super::palette;
use super::path::Path;
use super::style::{Scale, Style, dimension_across};
use crate::calc::shaping::{Circle, CircleCuts, Pivot};
use crate::units::Length;

/// The disc from above with the router's way around it, then three cuts through a radius: the disc,
/// the ring's inside, and the ring's inside measured to the wrong edge of the bit.
///
/// Without a rim only the disc is drawn.
pub fn router_circle(style: &Style, circle: &Circle, cuts: &CircleCuts) -> Drawing {
    let radius = Length::from_nm(circle.diameter.nm() / 2);
    let mistake = circle.rim.zip(cuts.inside).map(|(rim, inside)| Mistake {
        rim,
        inside,
        hole: radius - rim,
        left: rim - circle.bit,
    });
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        "Router set-up for the circle",
        &describe(style, circle, cuts, mistake.as_ref()),
    );
    let left = 26.0;
    let scale = Scale::fitting(
        radius + circle.bit * 3,
        Length::from_mm(1),
        style.width - left - 20.0,
        f64::INFINITY,
    );
    let y = from_above(style, &mut canvas, circle, 10.0);
    let disc = Cut {
        heading: "Disc: bit outside the line",
        measured: cuts.outside,
        line: radius,
        is_wrong: false,
    };
    let mut y = radial_cut(style, &mut canvas, circle, &disc, (left, y), scale);
    if let Some(mistake) = mistake {
        let right = Cut {
            heading: "Inside of the ring: far edge of the bit on the line",
            measured: mistake.inside,
            line: mistake.hole,
            is_wrong: false,
        };
        y = radial_cut(style, &mut canvas, circle, &right, (left, y), scale);
        let wrong = Cut {
            heading: "Wrong: near edge on the line of the hole",
            measured: Pivot {
                to_near_edge: mistake.hole,
                to_bit_centre: mistake.hole + Length::from_nm(circle.bit.nm() / 2),
            },
            line: mistake.hole,
            is_wrong: true,
        };
        y = radial_cut(style, &mut canvas, circle, &wrong, (left, y), scale);
        canvas.words(
            (left - 12.0, y + 2.0),
            &format!(
                "✗ This {}, not {}: a bit's width is lost.",
                mistake.result(style),
                style.show(mistake.rim)
            ),
            &Lettering::new(Style::SMALL).colour(palette::WARNING),
        );
        y += 12.0;
    }
    canvas.finish(y + 4.0)
}

/// What happens to the ring where its inside is measured to the wrong edge of the bit.
struct Mistake {
    rim: Length,
    inside: Pivot,
    /// Radius of the hole.
    hole: Length,
    /// What is left of the rim; not positive where nothing is.
    left: Length,
}

impl Mistake {
    fn result(&self, style: &Style) -> String {
        if self.left.is_positive() {
            format!("leaves a rim of {}", style.show(self.left))
        } else {
            "leaves no rim at all".to_owned()
        }
    }
}

fn describe(
    style: &Style,
    circle: &Circle,
    cuts: &CircleCuts,
    mistake: Option<&Mistake>,
) -> String {
    let mut text = format!(
        "A disc of {}, cut with a bit of {}. Pivot to the near edge of the bit {}, to its middle {}; the bit runs outside the line.",
        style.show(circle.diameter),
        style.show(circle.bit),
        style.show(cuts.outside.to_near_edge),
        style.show(cuts.outside.to_bit_centre)
    );
    if let Some(mistake) = mistake {
        text.push_str(&format!(
            " Inside of a ring with a rim of {}: pivot to the near edge {}, to the middle {}; the far edge of the bit is on the line. \
             The common mistake sets the near edge on the line of the hole instead, which {}.",
            style.show(mistake.rim),
            style.show(mistake.inside.to_near_edge),
            style.show(mistake.inside.to_bit_centre),
            mistake.result(style)
        ));
    }
    text
}

/// The upper half of the disc with pivot, arm, router and bit; returns the lowest point.
fn from_above(style: &Style, canvas: &mut Canvas, circle: &Circle, top: f64) -> f64 {
    let radius = Length::from_nm(circle.diameter.nm() / 2);
    let base = Length::from_mm(76);
    let wide = (radius + circle.bit + base) * 2;
    let scale = Scale::fitting(
        wide,
        radius + circle.bit * 4,
        style.width - 16.0,
        style.width * 0.42,
    );
    let rim = scale.units(radius);
    let hole = circle.rim.map(|rim| scale.units(radius - rim));
    let bit = scale.units(circle.bit).max(2.0);
    let (x, y) = (
        style.width / 2.0,
        top + rim + bit + scale.units(circle.bit * 2),
    );
    let half = |radius: f64| {
        Path::new()
            .to(x - radius, y)
            .arc(radius, false, true, x + radius, y)
    };
    canvas.path(&half(rim + bit).shut(), &Paint::fill(palette::FAINT));
    canvas.path(
        &half(rim).shut(),
        &Paint::fill(palette::PLAIN_WOOD).stroke(palette::INK, 1.4),
    );
    if let Some(hole) = hole {
        let line = Paint::line(palette::INK, 1.0).dash("6 4");
        canvas.path(&half(hole), &line.class("hole-line"));
        canvas.words(
            (x, y - hole + 16.0),
            "line of the hole",
            &Lettering::new(Style::SMALL).middle(),
        );
    }
    let middle = rim + bit / 2.0;
    canvas.path(&half(middle), &Paint::line(palette::CHALK, 0.8).dash("2 3"));
    let arm = Rect::new(x - 12.0, y - 9.0, middle + 12.0, 18.0);
    canvas.rounded_rect(
        arm,
        3.0,
        &Paint::fill(palette::PAPER)
            .stroke(palette::INK, 1.1)
            .opacity(0.85),
    );
    canvas.circle(
        (x + middle, y),
        scale.units(base).min(46.0),
        &Paint::fill(palette::PAPER)
            .stroke(palette::INK, 1.1)
            .opacity(0.85),
    );
    canvas.circle(
        (x + middle, y),
        bit / 2.0,
        &Paint::fill(palette::STEEL_DARK).stroke(palette::INK, 0.8),
    );
    pivot(canvas, (x, y));
    let words = Lettering::new(Style::SMALL);
    canvas.words((x, y - 16.0), "pivot", &words.clone().middle().halo());
    canvas.words((x + middle, y + 24.0), "router", &words.clone().middle());
    y + scale.units(base).min(46.0) + 8.0
}

fn pivot(canvas: &mut Canvas, (x, y): (f64, f64)) {
    canvas.circle(
        (x, y),
        3.2,
        &Paint::fill(palette::CHALK).stroke(palette::PAPER, 0.8),
    );
    for (dx, dy) in [(6.5, 0.0), (0.0, 6.5)] {
        canvas.line(
            (x - dx, y - dy),
            (x + dx, y + dy),
            &Paint::line(palette::CHALK, 0.9),
        );
    }
}

struct Cut {
    heading: &'static str,
    measured: Pivot,
    /// Where the cut should end.
    line: Length,
    is_wrong: bool,
}

/// One cut seen in a section from the pivot outwards; returns where the next begins.
fn radial_cut(
    style: &Style,
    canvas: &mut Canvas,
    circle: &Circle,
    cut: &Cut,
    (left, top): (f64, f64),
    scale: Scale,
) -> f64 {
    let ink = if cut.is_wrong {
        palette::WARNING
    } else {
        palette::INK
    };
    canvas.words(
        (left - 12.0, top + 12.0),
        cut.heading,
        &Lettering::new(Style::WORDS).bold().colour(ink),
    );
    let at = |length: Length| left + scale.units(length);
    let wood = Rect::new(
        left - 12.0,
        top + 42.0,
        style.width - 16.0 - (left - 12.0),
        22.0,
    );
    let radius = Length::from_nm(circle.diameter.nm() / 2);
    // For the ring the disc has its size already.
    let is_ring = cut.line != radius;
    let end = if is_ring { at(radius) } else { wood.right() };
    let blank = Rect::new(wood.x, wood.y, end - wood.x, wood.height);
    canvas.rect(
        blank,
        &Paint::fill(palette::PLAIN_WOOD).stroke(palette::INK, 1.0),
    );
    let bit = Rect::new(
        at(cut.measured.to_near_edge),
        wood.y - 18.0,
        scale.units(circle.bit),
        wood.height + 18.0,
    );
    let kerf = Rect::new(bit.x, wood.y, bit.width, wood.height);
    canvas.rect(kerf, &Paint::fill(palette::PAPER));
    canvas.rect(
        bit,
        &Paint::fill(palette::STEEL)
            .stroke(ink, 1.0)
            .class(if cut.is_wrong { "bit-wrong" } else { "bit" }),
    );
    let axis = bit.x + bit.width / 2.0;
    canvas.line(
        (axis, wood.y - 22.0),
        (axis, wood.bottom() + 6.0),
        &Paint::line(palette::CHALK, 0.8).dash("5 2 1 2"),
    );
    let line = at(cut.line);
    canvas.line(
        (line, wood.y - 6.0),
        (line, wood.bottom() + 6.0),
        &Paint::line(palette::INK, 1.0).dash("3 2").class("wanted"),
    );
    canvas.rect(
        Rect::new(left - 2.0, wood.y - 12.0, 4.0, wood.height + 12.0),
        &Paint::fill(palette::CHALK),
    );
    let near = format!("near edge {}", style.show(cut.measured.to_near_edge));
    let centre = format!("middle {}", style.show(cut.measured.to_bit_centre));
    dimension_across(canvas, left, bit.x, wood.bottom() + 12.0, &near);
    dimension_across(canvas, left, axis, wood.bottom() + 28.0, &centre);
    if is_ring {
        let from = bit.right().min(end);
        let words = style.show(radius - cut.measured.to_near_edge - circle.bit);
        let y = wood.y - 10.0;
        canvas.line((from, y), (end, y), &Paint::line(ink, 1.0));
        for x in [from, end] {
            canvas.line((x, y - 3.0), (x, y + 3.0), &Paint::line(ink, 1.0));
        }
        canvas.words(
            (style.width - 10.0, y - 6.0),
            &format!("rim {words}"),
            &Lettering::new(Style::SMALL).end().colour(ink),
        );
    }
    wood.bottom() + 44.0
}
