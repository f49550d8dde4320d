use super::lengths::{length, word};
use super::{extras, strips};
use crate::calc::work::{StripedBoard, Surface};
use crate::units::LengthFormat;
use crate::web::Typed;

pub(super) const SURFACES: [(&str, Surface); 3] = [
    ("edge grain", Surface::EdgeGrain),
    ("face grain", Surface::FaceGrain),
    ("either", Surface::Either),
];

pub(super) fn surface_word(surface: Surface) -> String {
    let found = SURFACES.iter().find(|(_, meaning)| *meaning == surface);
    found.map_or_else(String::new, |(word, _)| (*word).to_owned())
}

pub(super) fn fill(board: &StripedBoard, lengths: LengthFormat) -> Vec<(String, String)> {
    let mut values: Vec<(String, String)> = [
        ("length", lengths.show_exact(board.length)),
        ("width", lengths.show_exact(board.width)),
        ("thickness", lengths.show_exact(board.thickness)),
        ("surface", surface_word(board.surface)),
    ]
    .map(|(name, value)| (name.to_owned(), value))
    .to_vec();
    strips::fill(&mut values, "", &board.arrangement, lengths);
    extras::fill(&mut values, &board.extras, lengths);
    values
}

pub(super) fn read(typed: &mut Typed, lengths: LengthFormat) -> Option<StripedBoard> {
    let long = length(typed, "length", lengths);
    let width = length(typed, "width", lengths);
    let thickness = length(typed, "thickness", lengths);
    let surface = word(typed, "surface", &SURFACES);
    let arrangement = strips::read(typed, "", lengths);
    let extras = extras::read(typed, lengths);
    Some(StripedBoard {
        length: long?,
        width: width?,
        thickness: thickness?,
        surface: surface?,
        arrangement: arrangement?,
        extras: extras?,
    })
}
