//! Templates to cut or drill by, at full size: one unit is one millimetre, black on clear ground.

use super::drawing::{Canvas, Drawing, Rect};
use super::paint::{Lettering, Paint};
use super::path::Path;
use super::style::{Style, listed};
use crate::calc::shaping::{Circle, CircleCuts};
use crate::units::Length;

const BLACK: &str = "#000000";
/// Room around a shape for words and for the paper to be cut.
const AROUND: f64 = 4.0;

fn cut_line() -> Paint {
    Paint::line(BLACK, 0.3)
}

fn fine_line() -> Paint {
    Paint::line(BLACK, 0.15).dash("3 1.5")
}

fn words() -> Lettering {
    Lettering::new(4.0).colour(BLACK)
}

/// A cross with its circle, to put a point through.
fn centre_mark(canvas: &mut Canvas, (x, y): (f64, f64), diameter: f64) {
    let arm = (diameter / 2.0 + 4.0).max(6.0);
    canvas.line((x - arm, y), (x + arm, y), &Paint::line(BLACK, 0.2));
    canvas.line((x, y - arm), (x, y + arm), &Paint::line(BLACK, 0.2));
    if diameter > 0.0 {
        canvas.circle((x, y), diameter / 2.0, &cut_line().class("hole"));
    }
}

/// The disc of a tray and the hole of its ring about one pivot.
pub fn circle_template(style: &Style, circle: &Circle) -> Drawing {
    let side = circle.diameter.mm() + 2.0 * AROUND;
    let middle = (side / 2.0, side / 2.0);
    let mut said = vec![format!("disc {}", style.show(circle.diameter))];
    if let Some(rim) = circle.rim {
        said.push(format!("rim {}", style.show(rim)));
    }
    let mut canvas = Canvas::new(
        style.prefix,
        side,
        "Circle template",
        &format!("At full size: {}, with the pivot.", listed(&said)),
    );
    canvas.circle(
        middle,
        circle.diameter.mm() / 2.0,
        &cut_line().class("disc"),
    );
    if let Some(rim) = circle.rim {
        let hole = (circle.diameter.mm() / 2.0 - rim.mm()).max(0.0);
        canvas.circle(middle, hole, &fine_line().class("ring-hole"));
    }
    // Diameters along and across the grain help to lay it on a glue line.
    let radius = circle.diameter.mm() / 2.0;
    for (dx, dy) in [(radius, 0.0), (0.0, radius)] {
        let axis = Paint::line(BLACK, 0.15).dash("8 2 1 2");
        canvas.line(
            (middle.0 - dx, middle.1 - dy),
            (middle.0 + dx, middle.1 + dy),
            &axis,
        );
    }
    centre_mark(&mut canvas, middle, 3.0);
    canvas.words(
        (middle.0 + 6.0, middle.1 - 4.0),
        &format!("pivot: {}", listed(&said)),
        &words(),
    );
    canvas.finish_full_size(side)
}

/// The base of a circle jig: the bit's hole, and a pivot hole for each cut. Material and how the router
/// is screwed on are the maker's; its own base plate is the pattern for the screws.
pub fn jig_template(style: &Style, circle: &Circle, cuts: &CircleCuts) -> Drawing {
    let mut pivots = vec![("disc", cuts.outside.to_bit_centre)];
    pivots.extend(
        cuts.inside
            .map(|inside| ("inside of the ring", inside.to_bit_centre)),
    );
    // The arm ends 25 mm (1 in) beyond the farthest pivot; the bit's end carries the router.
    let beyond = 25.0;
    let base = Length::from_inches(3, 1).mm();
    let wide = 2.0 * base;
    let farthest = pivots
        .iter()
        .map(|(_, distance)| distance.mm())
        .fold(0.0, f64::max);
    let (width, height) = (AROUND * 2.0 + beyond + farthest + base, AROUND * 2.0 + wide);
    let said: Vec<String> = pivots
        .iter()
        .map(|(what, distance)| format!("{what} {}", style.show(*distance)))
        .collect();
    let mut canvas = Canvas::new(
        style.prefix,
        width,
        "Jig base template",
        &format!(
            "At full size: the base of a jig for a router on an arm. From the middle of the bit to the pivot: {}.",
            listed(&said)
        ),
    );
    let bit = (AROUND + beyond + farthest, height / 2.0);
    let arm = 30.0;
    let outline = Path::new()
        .to(AROUND, bit.1 - arm)
        .line(bit.0 - base, bit.1 - arm)
        .line(bit.0 - base * 0.5, bit.1 - base)
        .line(bit.0 + base, bit.1 - base)
        .line(bit.0 + base, bit.1 + base)
        .line(bit.0 - base * 0.5, bit.1 + base)
        .line(bit.0 - base, bit.1 + arm)
        .line(AROUND, bit.1 + arm)
        .shut();
    canvas.path(&outline, &cut_line().class("outline"));
    let axis = Paint::line(BLACK, 0.15).dash("8 2 1 2");
    canvas.line((AROUND, bit.1), (bit.0 + base, bit.1), &axis);
    // The hole lets the bit and its chips through.
    let opening = circle.bit.mm() + 12.0;
    centre_mark(&mut canvas, bit, opening);
    canvas.words(
        (bit.0 + opening / 2.0 + 2.0, bit.1 - 3.0),
        "middle of the bit",
        &words(),
    );
    canvas.words(
        (bit.0 - base * 0.5, bit.1 + base - 6.0),
        "mark the screws from your router's own base plate",
        &Lettering::new(3.2).colour(BLACK),
    );
    for (index, (what, distance)) in pivots.iter().enumerate() {
        let at = (bit.0 - distance.mm(), bit.1);
        centre_mark(&mut canvas, at, 3.0);
        // Pivots lie near each other; one is named above the axis, the next below.
        let y = if index % 2 == 0 {
            bit.1 - 10.0
        } else {
            bit.1 + 14.0
        };
        canvas.words(
            (at.0, y),
            &format!("pivot, {what}: {}", style.show(*distance)),
            &words(),
        );
    }
    canvas.finish_full_size(height)
}

/// A hole to drill, measured from the lower left corner of the board's face.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DrillHole<'a> {
    pub along: Length,
    pub across: Length,
    pub diameter: Length,
    pub what: &'a str,
}

/// Where to drill a face of `length` by `width`: its outline with every hole's middle.
pub fn drilling_template(
    style: &Style,
    length: Length,
    width: Length,
    holes: &[DrillHole],
) -> Drawing {
    let said: Vec<String> = holes
        .iter()
        .map(|hole| {
            format!(
                "{} of {} at {} along and {} across",
                hole.what,
                style.show(hole.diameter),
                style.show(hole.along),
                style.show(hole.across)
            )
        })
        .collect();
    let face = Rect::new(AROUND, AROUND, length.mm(), width.mm());
    let mut canvas = Canvas::new(
        style.prefix,
        face.width + 2.0 * AROUND,
        "Drilling template",
        &format!(
            "At full size, from the lower left corner of the face: {}.",
            listed(&said)
        ),
    );
    canvas.rect(face, &cut_line().class("outline"));
    for hole in holes {
        let at = (face.x + hole.along.mm(), face.bottom() - hole.across.mm());
        centre_mark(&mut canvas, at, hole.diameter.mm());
        let beside = hole.diameter.mm() / 2.0 + 2.0;
        canvas.words(
            (at.0 + beside, at.1 - beside),
            &format!("{}, {}", hole.what, style.show(hole.diameter)),
            &words(),
        );
    }
    canvas.words((face.x + 3.0, face.bottom() - 3.0), "corner", &words());
    canvas.finish_full_size(face.height + 2.0 * AROUND)
}
