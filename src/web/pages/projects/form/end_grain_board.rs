use super::lengths::{length, whole, word};
use super::striped_board::{SURFACES, surface_word};
use super::{extras, strips};
use crate::calc::work::{EndGrainBoard, Turn};
use crate::units::LengthFormat;
use crate::web::Typed;

const TURNS: [(&str, Turn); 3] = [
    ("flip", Turn::Flip),
    ("shift", Turn::Shift),
    ("plain", Turn::Plain),
];

pub(super) fn fill(board: &EndGrainBoard, lengths: LengthFormat) -> Vec<(String, String)> {
    let turn = TURNS.iter().find(|(_, turn)| *turn == board.turn);
    let mut values: Vec<(String, String)> = [
        ("length", lengths.show_exact(board.length)),
        ("thickness", lengths.show_exact(board.thickness)),
        ("panel_thickness", lengths.show_exact(board.panel_thickness)),
        ("slices", board.slices.to_string()),
        (
            "turn",
            turn.map_or_else(String::new, |(word, _)| (*word).to_owned()),
        ),
        ("surface", surface_word(board.surface)),
        ("width", lengths.show_exact(board.arrangement.width())),
    ]
    .map(|(name, value)| (name.to_owned(), value))
    .to_vec();
    strips::fill(&mut values, "", &board.arrangement, lengths);
    extras::fill(&mut values, &board.extras, lengths);
    values
}

pub(super) fn read(typed: &mut Typed, lengths: LengthFormat) -> Option<EndGrainBoard> {
    let long = length(typed, "length", lengths);
    let thickness = length(typed, "thickness", lengths);
    let panel_thickness = length(typed, "panel_thickness", lengths);
    let slices = whole(typed, "slices", 1, 1000);
    let turn = word(typed, "turn", &TURNS);
    let surface = word(typed, "surface", &SURFACES);
    let arrangement = strips::read(typed, "", lengths);
    let extras = extras::read(typed, lengths);
    Some(EndGrainBoard {
        length: long?,
        thickness: thickness?,
        arrangement: arrangement?,
        surface: surface?,
        panel_thickness: panel_thickness?,
        slices: slices?,
        turn: turn?,
        extras: extras?,
    })
}
