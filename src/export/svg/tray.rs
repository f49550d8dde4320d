//! Round trays: a disc with a ring on it, from above and cut through the middle.

use super::drawing::{Canvas, Drawing, Rect};
use super::miniature;
use super::paint::Paint;
use super::palette;
use super::path::Path;
use super::piece::{Bench, Looks, Template};
use super::shape::{bands, fill_with_blank, light_on_edge};
use super::style::{Scale, Style, dimension_across, dimension_down, listed};
use super::template::{circle_template, jig_template};
use super::treatment;
use super::wood::grain_lines;
use crate::calc::shaping::Circle;
use crate::calc::work::{Blank, Practice, RoundTray, Size};
use crate::units::Length;

impl Looks for RoundTray {
    fn finished(
        &self,
        style: &Style,
        name: &str,
        _bench: Bench<'_>,
        _seed: u64,
    ) -> Option<Drawing> {
        Some(round_tray(style, name, self))
    }

    fn small(&self, style: &Style, name: &str, _bench: Bench<'_>) -> Drawing {
        small(style, name, self)
    }

    fn templates(&self) -> Vec<Template> {
        vec![
            Template {
                slug: "circle",
                title: "Circle with pivot",
                about: "Disc, ring and pivot, to lay on the glue line and prick the middle through.",
            },
            Template {
                slug: "jig",
                title: "Pivot arm",
                about: "The arm for the router with its pivot holes for disc and ring.",
            },
        ]
    }

    fn template(
        &self,
        style: &Style,
        slug: &str,
        _size: Size,
        practice: &Practice,
    ) -> Option<Drawing> {
        let layout = self.layout(practice).ok()?;
        let circle = Circle {
            diameter: self.diameter,
            rim: Some(self.rim),
            bit: self.bit,
            thickness: self.ring_thickness,
            depth_per_pass: practice.shaping.depth_per_pass,
        };
        match slug {
            "circle" => Some(circle_template(style, &circle)),
            "jig" => Some(jig_template(style, &circle, &layout.ring)),
            _ => None,
        }
    }
}

/// The tray from above, then a section through its middle, with its sizes.
pub fn round_tray(style: &Style, name: &str, tray: &RoundTray) -> Drawing {
    let words = |blank: &Blank| {
        let strips: Vec<String> = bands(blank, tray.diameter)
            .iter()
            .map(|(species, width)| format!("{} {species}", style.show(*width)))
            .collect();
        listed(&strips)
    };
    let mut canvas = Canvas::new(
        style.prefix,
        style.width,
        name,
        &format!(
            "A round tray {} across with a rim {} wide and {} high on a base {} thick. Base: {}. Ring: {}.{}",
            style.show(tray.diameter),
            style.show(tray.rim),
            style.show(tray.ring_thickness),
            style.show(tray.base_thickness),
            words(&tray.base),
            words(&tray.ring),
            treatment::describe_edge(style, tray.edge)
        ),
    );
    let (left, top, right) = (14.0, 14.0, 74.0);
    let space = style.width - left - right;
    let scale = Scale::fitting(tray.diameter, tray.diameter, space, style.width * 0.8);
    let across = scale.units(tray.diameter);
    let face = Rect::new(left + (space - across) / 2.0, top, across, across);
    from_above(style, &mut canvas, tray, face, scale, name);
    let x = face.right() + 9.0;
    let section = Rect::new(
        face.x,
        face.bottom() + 14.0,
        across,
        scale.units(tray.base_thickness + tray.ring_thickness),
    );
    let seam = section.y + scale.units(tray.ring_thickness);
    cut_through(style, &mut canvas, tray, section, seam, scale);
    dimension_down(
        &mut canvas,
        x,
        section.y,
        seam,
        &style.show(tray.ring_thickness),
    );
    dimension_down(
        &mut canvas,
        x,
        seam,
        section.bottom(),
        &style.show(tray.base_thickness),
    );
    let rim = scale.units(tray.rim);
    let mut y = section.bottom() + 14.0;
    dimension_across(
        &mut canvas,
        section.x,
        section.x + rim,
        y,
        &style.show(tray.rim),
    );
    y += 17.0;
    dimension_across(
        &mut canvas,
        face.x,
        face.right(),
        y,
        &style.show(tray.diameter),
    );
    canvas.finish(y + 14.0)
}

/// Disc and ring from above, in the square `face`.
pub(super) fn from_above(
    style: &Style,
    canvas: &mut Canvas,
    tray: &RoundTray,
    face: Rect,
    scale: Scale,
    name: &str,
) {
    let middle = face.centre();
    let radius = face.width / 2.0;
    let hole = (radius - scale.units(tray.rim)).max(0.0);
    let (outer, inner) = (
        Path::from_circle(middle, radius),
        Path::from_circle(middle, hole),
    );
    canvas.open_clipped("disc", &outer);
    fill_with_blank(style, canvas, &tray.ring, face, scale, "ring");
    light_on_edge(canvas, &outer, tray.edge, scale);
    canvas.close();
    canvas.open_clipped("hole", &inner);
    fill_with_blank(style, canvas, &tray.base, face, scale, name);
    // The ring casts a soft shadow on the base, from the upper left.
    let shade = Path::from_circle((middle.0 + 1.5, middle.1 + 1.5), hole);
    canvas.path(&shade, &Paint::line(palette::INK, 5.0).opacity(0.22));
    canvas.close();
    canvas.circle(
        middle,
        hole,
        &Paint::line(palette::INK, 1.1).class("ring-hole"),
    );
    canvas.circle(
        middle,
        radius,
        &Paint::line(palette::INK, 1.4).class("disc"),
    );
}

fn cut_through(
    style: &Style,
    canvas: &mut Canvas,
    tray: &RoundTray,
    section: Rect,
    seam: f64,
    scale: Scale,
) {
    let rim = scale.units(tray.rim);
    let colour = |blank: &Blank| {
        bands(blank, Length::ZERO)
            .first()
            .map_or(palette::UNKNOWN_WOOD, |(species, _)| style.colour(species))
    };
    let base = Rect::new(section.x, seam, section.width, section.bottom() - seam);
    let rings =
        [section.x, section.right() - rim].map(|x| Rect::new(x, section.y, rim, seam - section.y));
    canvas.open_clipped(
        "section",
        &treatment::edge_outline(section, scale, tray.edge),
    );
    canvas.rect(base, &Paint::fill(colour(&tray.base)));
    grain_lines(canvas, base, colour(&tray.base), 0xba5e);
    for ring in rings {
        canvas.rect(ring, &Paint::fill(colour(&tray.ring)));
    }
    canvas.close();
    let outline = Paint::line(palette::INK, 1.2);
    canvas.rect(base, &outline);
    for ring in rings {
        canvas.rect(ring, &outline.clone().class("ring"));
    }
}

fn small(style: &Style, name: &str, tray: &RoundTray) -> Drawing {
    let mut canvas = miniature::canvas(
        style,
        name,
        "board in the base",
        "boards in the base",
        &miniature::strips_of(&tray.base),
    );
    let (scale, face) = miniature::place(style, tray.diameter, tray.diameter);
    let centre = face.centre();
    let outer = face.width / 2.0;
    let inner = (outer - scale.units(tray.rim)).max(0.0);
    for (part, radius, blank) in [("ring", outer, &tray.ring), ("base", inner, &tray.base)] {
        canvas.open_clipped(part, &Path::from_circle(centre, radius));
        fill_with_blank(style, &mut canvas, blank, face, scale, part);
        canvas.close();
        canvas.circle(centre, radius, &Paint::line(palette::INK, 0.8));
    }
    canvas.finish(face.bottom() + miniature::MARGIN)
}
