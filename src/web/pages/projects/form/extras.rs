use super::lengths::{length, whole, word};
use crate::calc::work::{EdgeTreatment, Extras, GripRecesses, JuiceGroove};
use crate::units::{Length, LengthFormat};
use crate::web::Typed;

#[derive(Clone, Copy)]
enum Shape {
    Eased,
    RoundOver,
    Chamfer,
}

const SHAPES: [(&str, Shape); 3] = [
    ("eased", Shape::Eased),
    ("round over", Shape::RoundOver),
    ("chamfer", Shape::Chamfer),
];

const MOST_FEET: u32 = 12;

/// Common sizes that a form offers before anybody has chosen one; common practice, no single source.
const USUAL_ROUND_OVER: Length = Length::from_inches(1, 8);
const USUAL_GROOVE: JuiceGroove = JuiceGroove {
    width: Length::from_inches(1, 2),
    depth: Length::from_inches(1, 4),
    inset: Length::from_inches(3, 4),
};
const USUAL_GRIPS: GripRecesses = GripRecesses {
    length: Length::from_inches(4, 1),
    height: Length::from_inches(1, 2),
    depth: Length::from_inches(1, 2),
};

pub(super) fn fill_edge(
    values: &mut Vec<(String, String)>,
    edge: EdgeTreatment,
    lengths: LengthFormat,
) {
    let (shape, size) = match edge {
        EdgeTreatment::Eased => ("eased", USUAL_ROUND_OVER),
        EdgeTreatment::RoundOver { radius } => ("round over", radius),
        EdgeTreatment::Chamfer { size } => ("chamfer", size),
    };
    values.push(("edge".to_owned(), shape.to_owned()));
    values.push(("edge_size".to_owned(), lengths.show_exact(size)));
}

pub(super) fn read_edge(typed: &mut Typed, lengths: LengthFormat) -> Option<EdgeTreatment> {
    match word(typed, "edge", &SHAPES)? {
        Shape::Eased => Some(EdgeTreatment::Eased),
        Shape::RoundOver => {
            length(typed, "edge_size", lengths).map(|radius| EdgeTreatment::RoundOver { radius })
        }
        Shape::Chamfer => {
            length(typed, "edge_size", lengths).map(|size| EdgeTreatment::Chamfer { size })
        }
    }
}

pub(super) fn fill(values: &mut Vec<(String, String)>, extras: &Extras, lengths: LengthFormat) {
    fill_edge(values, extras.edge, lengths);
    let mut put = |name: &str, value: String| values.push((name.to_owned(), value));
    if extras.groove.is_some() {
        put("groove", "yes".to_owned());
    }
    let groove = extras.groove.unwrap_or(USUAL_GROOVE);
    put("groove_width", lengths.show_exact(groove.width));
    put("groove_depth", lengths.show_exact(groove.depth));
    put("groove_inset", lengths.show_exact(groove.inset));
    if extras.grips.is_some() {
        put("grips", "yes".to_owned());
    }
    let grips = extras.grips.unwrap_or(USUAL_GRIPS);
    put("grips_length", lengths.show_exact(grips.length));
    put("grips_height", lengths.show_exact(grips.height));
    put("grips_depth", lengths.show_exact(grips.depth));
    put("feet", extras.feet.to_string());
}

pub(super) fn read(typed: &mut Typed, lengths: LengthFormat) -> Option<Extras> {
    let edge = read_edge(typed, lengths);
    // What is not ticked may hold anything.
    let groove = if typed.is_ticked("groove") {
        let width = length(typed, "groove_width", lengths);
        let depth = length(typed, "groove_depth", lengths);
        let inset = length(typed, "groove_inset", lengths);
        width.zip(depth).zip(inset).map(|((width, depth), inset)| {
            Some(JuiceGroove {
                width,
                depth,
                inset,
            })
        })
    } else {
        Some(None)
    };
    let grips = if typed.is_ticked("grips") {
        let along = length(typed, "grips_length", lengths);
        let height = length(typed, "grips_height", lengths);
        let depth = length(typed, "grips_depth", lengths);
        along
            .zip(height)
            .zip(depth)
            .map(|((length, height), depth)| {
                Some(GripRecesses {
                    length,
                    height,
                    depth,
                })
            })
    } else {
        Some(None)
    };
    let feet = whole(typed, "feet", 0, MOST_FEET);
    Some(Extras {
        edge: edge?,
        groove: groove?,
        grips: grips?,
        feet: feet?,
    })
}
