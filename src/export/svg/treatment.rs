//! What is done to a board besides its shape, as it shows from above and from the side.

use super::drawing::{Canvas, Rect};
use super::paint::Paint;
use super::palette;
use super::path::Path;
use super::style::{Scale, Style};
use crate::calc::work::{EdgeTreatment, Extras, Size};
use crate::units::Length;

/// One sentence for each treatment, each with a space before it.
pub(super) fn describe(style: &Style, extras: &Extras) -> String {
    let mut text = describe_edge(style, extras.edge);
    if let Some(groove) = extras.groove {
        text.push_str(&format!(
            " A groove {} wide, its middle {} from the edges.",
            style.show(groove.width),
            style.show(groove.inset)
        ));
    }
    if extras.grips.is_some() {
        text.push_str(" Finger grips in both ends.");
    }
    if extras.feet > 0 {
        text.push_str(&match extras.feet {
            1 => " It stands on one foot in its middle.".to_owned(),
            feet => format!(" It stands on {feet} feet."),
        });
    }
    text
}

pub(super) fn describe_edge(style: &Style, edge: EdgeTreatment) -> String {
    match edge {
        EdgeTreatment::Eased => String::new(),
        EdgeTreatment::RoundOver { radius } => {
            format!(" Edges rounded over at {}.", style.show(radius))
        }
        EdgeTreatment::Chamfer { size } => format!(" Edges chamfered {}.", style.show(size)),
    }
}

/// The outline of a side with its treated edges.
pub(super) fn side_outline(side: Rect, scale: Scale, extras: &Extras) -> Path {
    edge_outline(side, scale, extras.edge)
}

pub(super) fn edge_outline(side: Rect, scale: Scale, edge: EdgeTreatment) -> Path {
    match edge {
        EdgeTreatment::Eased => Path::from_rounded_rect(side, 0.8),
        EdgeTreatment::RoundOver { radius } => Path::from_rounded_rect(side, scale.units(radius)),
        EdgeTreatment::Chamfer { size } => chamfered(side, scale.units(size)),
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

/// The light on the edges, the groove, and as hidden lines what lies below: grips and feet.
pub(super) fn draw_on_face(
    canvas: &mut Canvas,
    scale: Scale,
    top: Rect,
    extras: &Extras,
    size: Size,
) {
    match extras.edge {
        EdgeTreatment::Eased => {}
        EdgeTreatment::RoundOver { radius } => {
            let inset = scale.units(radius).max(1.2);
            let inner = Path::from_rect(top.inset(inset));
            let soft = Paint::line(palette::PAPER, (inset * 0.9).min(4.0)).opacity(0.28);
            canvas.path(&inner, &soft.class("round-over"));
            canvas.path(&inner, &Paint::line(palette::INK, 0.5).opacity(0.35));
        }
        EdgeTreatment::Chamfer { size } => {
            let inner = top.inset(scale.units(size).max(1.2));
            let line = Paint::line(palette::INK, 0.6).opacity(0.5);
            canvas.rect(inner, &line.clone().class("chamfer"));
            for (outer, inside) in [
                ((top.x, top.y), (inner.x, inner.y)),
                ((top.right(), top.y), (inner.right(), inner.y)),
                ((top.x, top.bottom()), (inner.x, inner.bottom())),
                ((top.right(), top.bottom()), (inner.right(), inner.bottom())),
            ] {
                canvas.line(outer, inside, &line);
            }
        }
    }
    if let Some(groove) = extras.groove {
        let wide = scale.units(groove.width).max(1.5);
        // The bit turns its corners round.
        let path = Path::from_rounded_rect(top.inset(scale.units(groove.inset)), wide);
        let shade = Paint::line(palette::INK, wide).opacity(0.42);
        canvas.path(&path, &shade.class("groove"));
        canvas.path(
            &path,
            &Paint::line(palette::PAPER, wide * 0.35).opacity(0.3),
        );
    }
    if let Some(grips) = extras.grips {
        let (long, deep) = (scale.units(grips.length), scale.units(grips.depth).max(2.0));
        let y = top.y + (top.height - long) / 2.0;
        for x in [top.x, top.right() - deep] {
            let recess = Rect::new(x, y, deep, long);
            let hidden = Paint::line(palette::INK, 1.0).dash("3 2").class("grip");
            canvas.rounded_rect(recess, deep / 2.0, &hidden);
        }
    }
    for (along, across) in extras.foot_places(size) {
        let centre = (
            top.x + scale.units(along),
            top.bottom() - scale.units(across),
        );
        let hidden = Paint::line(palette::INK, 1.0).dash("3 2");
        let radius = (scale.units(FOOT_ACROSS) / 2.0).max(2.5);
        canvas.circle(centre, radius, &hidden.class("foot-below"));
    }
}

/// Feet as they are sold: about 16 mm across and 8 mm high.
const FOOT_ACROSS: Length = Length::from_mm(16);
const FOOT_HEIGHT: Length = Length::from_mm(8);

/// The outline of the side, the grips as hidden lines, and the feet; returns the lowest point.
pub(super) fn draw_on_side(
    canvas: &mut Canvas,
    scale: Scale,
    side: Rect,
    extras: &Extras,
    size: Size,
) -> f64 {
    let outline = side_outline(side, scale, extras);
    canvas.path(&outline, &Paint::line(palette::INK, 1.2));
    if let Some(grips) = extras.grips {
        let (deep, high) = (scale.units(grips.depth), scale.units(grips.height));
        for x in [side.x, side.right() - deep] {
            let recess = Rect::new(x, side.bottom() - high, deep, high);
            let hidden = Paint::line(palette::INK, 0.9).dash("3 2");
            canvas.rect(recess, &hidden.class("grip-side"));
        }
    }
    if extras.feet == 0 {
        return side.bottom();
    }
    let tall = scale.units(FOOT_HEIGHT).max(2.5);
    let wide = scale.units(FOOT_ACROSS).max(5.0);
    // Feet across from each other are one from the side.
    let mut along: Vec<Length> = extras
        .foot_places(size)
        .into_iter()
        .map(|(along, _)| along)
        .collect();
    along.sort_unstable();
    along.dedup();
    for along in along {
        let x = side.x + scale.units(along) - wide / 2.0;
        let foot = Rect::new(x, side.bottom(), wide, tall);
        canvas.rounded_rect(foot, 1.0, &Paint::fill(palette::STEEL_DARK).class("foot"));
    }
    side.bottom() + tall
}
