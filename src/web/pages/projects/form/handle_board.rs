use super::lengths::{length, length_or_zero};
use super::{blank, extras};
use crate::calc::work::{HandleBoard, Hole};
use crate::units::{Length, LengthFormat};
use crate::web::Typed;

/// What the form offers before a hole is wanted.
const USUAL_HOLE: Hole = Hole {
    diameter: Length::from_inches(1, 2),
    from_tip: Length::from_inches(7, 8),
};

pub(super) fn fill(board: &HandleBoard, lengths: LengthFormat) -> Vec<(String, String)> {
    let show = |length| lengths.show_exact(length);
    let hole = board.hole.unwrap_or(USUAL_HOLE);
    let mut values: Vec<(String, String)> = [
        ("body_length", show(board.body_length)),
        ("body_width", show(board.body_width)),
        ("thickness", show(board.thickness)),
        ("handle_length", show(board.handle_length)),
        ("handle_width", show(board.handle_width)),
        ("slant_degrees", board.slant_degrees.to_string()),
        ("corner_radius", show(board.corner_radius)),
        ("throat_radius", show(board.throat_radius)),
        ("tip_radius", show(board.tip_radius)),
        ("hole_diameter", show(hole.diameter)),
        ("hole_from_tip", show(hole.from_tip)),
        (
            "relief_drill",
            board.relief_drill.map_or_else(String::new, show),
        ),
    ]
    .map(|(name, value)| (name.to_owned(), value))
    .to_vec();
    if board.hole.is_some() {
        values.push(("hole".to_owned(), "yes".to_owned()));
    }
    extras::fill_edge(&mut values, board.edge, lengths);
    blank::fill(&mut values, "blank_", &board.blank, lengths);
    values
}

pub(super) fn read(typed: &mut Typed, lengths: LengthFormat) -> Option<HandleBoard> {
    let body_length = length(typed, "body_length", lengths);
    let body_width = length(typed, "body_width", lengths);
    let thickness = length(typed, "thickness", lengths);
    let handle_length = length(typed, "handle_length", lengths);
    let handle_width = length(typed, "handle_width", lengths);
    let slant_degrees = typed.take("slant_degrees", |text| {
        let shown: String = text.chars().take(30).collect();
        let number = text.trim_end_matches('°').trim().parse::<f64>();
        number
            .ok()
            .filter(|degrees| degrees.is_finite())
            .ok_or_else(|| format!("is \"{shown}\"; must be a number of degrees such as 0 or -15"))
    });
    let corner_radius = length_or_zero(typed, "corner_radius", lengths);
    let throat_radius = length_or_zero(typed, "throat_radius", lengths);
    let tip_radius = length_or_zero(typed, "tip_radius", lengths);
    let hole = if typed.is_ticked("hole") {
        let diameter = length(typed, "hole_diameter", lengths);
        let from_tip = length(typed, "hole_from_tip", lengths);
        diameter
            .zip(from_tip)
            .map(|(diameter, from_tip)| Some(Hole { diameter, from_tip }))
    } else {
        Some(None)
    };
    let relief_drill = typed.take_if_any("relief_drill", |text| {
        Length::parse_positive(text, Some(lengths.unit()))
    });
    let edge = extras::read_edge(typed, lengths);
    let blank = blank::read(typed, "blank_", lengths);
    Some(HandleBoard {
        body_length: body_length?,
        body_width: body_width?,
        thickness: thickness?,
        handle_length: handle_length?,
        handle_width: handle_width?,
        slant_degrees: slant_degrees?,
        corner_radius: corner_radius?,
        throat_radius: throat_radius?,
        tip_radius: tip_radius?,
        hole: hole?,
        relief_drill: relief_drill?,
        edge: edge?,
        blank: blank?,
    })
}
