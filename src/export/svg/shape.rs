//! Shapes of lines and arcs, filled with wood.

use super::drawing::{Canvas, Rect};
use super::paint::Paint;
use super::palette;
use super::path::Path;
use super::style::{Scale, Style};
use super::wood::{long_grain, seed_of};
use crate::calc::shaping::{Outline, Point, Segment};
use crate::calc::work::{Blank, EdgeTreatment};
use crate::units::Length;

/// From the coordinates of an outline, in millimetres with y upwards, to the page.
#[derive(Clone, Copy)]
pub(super) struct OnPage {
    /// Where the outline's origin lies.
    pub origin: (f64, f64),
    pub per_mm: f64,
}

impl OnPage {
    pub fn place(self, point: Point) -> (f64, f64) {
        (
            self.origin.0 + point.x * self.per_mm,
            self.origin.1 - point.y * self.per_mm,
        )
    }
}

/// The outline as a path, each arc an arc.
pub(super) fn outline_path(outline: &Outline, on_page: OnPage) -> Path {
    let mut path = Path::new();
    for (index, segment) in outline.segments().iter().enumerate() {
        if index == 0 {
            let (x, y) = on_page.place(segment.from());
            path = path.to(x, y);
        }
        match *segment {
            Segment::Line { to, .. } => {
                let (x, y) = on_page.place(to);
                path = path.line(x, y);
            }
            Segment::Arc {
                centre,
                radius,
                start,
                sweep,
            } => {
                // Two halves: an arc that ends where it began would be no arc at all.
                for half in [0.5, 1.0] {
                    let angle = start + sweep * half;
                    let end = Point::new(
                        centre.x + radius * angle.cos(),
                        centre.y + radius * angle.sin(),
                    );
                    let (x, y) = on_page.place(end);
                    // What runs counter-clockwise with y upwards does so on the page too.
                    path = path.arc(radius * on_page.per_mm, false, sweep < 0.0, x, y);
                }
            }
        }
    }
    path.shut()
}

/// The strips of a blank across its width; a single piece is as wide as is asked.
pub(super) fn bands(blank: &Blank, asked: Length) -> Vec<(&str, Length)> {
    match blank {
        Blank::OnePiece { species } => vec![(species.as_str(), asked)],
        Blank::Glued { arrangement, .. } => arrangement
            .strips
            .iter()
            .map(|strip| (strip.species.as_str(), strip.width))
            .collect(),
    }
}

/// Wood behind a shape that fills `space`: the blank's strips, its middle on the shape's middle.
/// The caller clips it.
pub(super) fn fill_with_blank(
    style: &Style,
    canvas: &mut Canvas,
    blank: &Blank,
    space: Rect,
    scale: Scale,
    name: &str,
) {
    let asked = Length::from_mm_rounded(space.height / scale.per_mm());
    let bands = bands(blank, asked);
    let total: Length = bands.iter().map(|(_, width)| *width).sum();
    let mut y = space.y + (space.height - scale.units(total)) / 2.0;
    for (index, (species, width)) in bands.iter().enumerate() {
        let height = scale.units(*width);
        let band = Rect::new(space.x, y, space.width, height);
        let seed = seed_of(name).wrapping_add(index as u64);
        long_grain(canvas, band, style.colour(species), seed);
        if index > 0 {
            let seam = Paint::line(palette::INK, 0.5).opacity(0.45);
            canvas.line((space.x, y), (space.right(), y), &seam);
        }
        y += height;
    }
}

/// Light on a treated edge: a band along the outline. The caller clips it to the shape.
pub(super) fn light_on_edge(canvas: &mut Canvas, path: &Path, edge: EdgeTreatment, scale: Scale) {
    let size = match edge {
        EdgeTreatment::Eased => return,
        EdgeTreatment::RoundOver { radius } => radius,
        EdgeTreatment::Chamfer { size } => size,
    };
    // Half of the line lies outside the shape and is cut off.
    let wide = 2.0 * scale.units(size).max(1.2);
    let light = Paint::line(palette::PAPER, wide).opacity(0.22);
    canvas.path(path, &light.class("edge"));
}
