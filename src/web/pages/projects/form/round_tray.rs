use super::lengths::length;
use super::{blank, extras};
use crate::calc::work::RoundTray;
use crate::units::LengthFormat;
use crate::web::Typed;

pub(super) fn fill(tray: &RoundTray, lengths: LengthFormat) -> Vec<(String, String)> {
    let show = |length| lengths.show_exact(length);
    let mut values: Vec<(String, String)> = [
        ("diameter", show(tray.diameter)),
        ("rim", show(tray.rim)),
        ("base_thickness", show(tray.base_thickness)),
        ("ring_thickness", show(tray.ring_thickness)),
        ("bit", show(tray.bit)),
        // What the boards side by side should fill.
        ("width", show(tray.diameter + tray.bit * 2)),
    ]
    .map(|(name, value)| (name.to_owned(), value))
    .to_vec();
    extras::fill_edge(&mut values, tray.edge, lengths);
    blank::fill(&mut values, "base_", &tray.base, lengths);
    blank::fill(&mut values, "ring_", &tray.ring, lengths);
    values
}

pub(super) fn read(typed: &mut Typed, lengths: LengthFormat) -> Option<RoundTray> {
    let diameter = length(typed, "diameter", lengths);
    let rim = length(typed, "rim", lengths);
    let base_thickness = length(typed, "base_thickness", lengths);
    let ring_thickness = length(typed, "ring_thickness", lengths);
    let bit = length(typed, "bit", lengths);
    let edge = extras::read_edge(typed, lengths);
    let base = blank::read(typed, "base_", lengths);
    let ring = blank::read(typed, "ring_", lengths);
    Some(RoundTray {
        diameter: diameter?,
        rim: rim?,
        base_thickness: base_thickness?,
        ring_thickness: ring_thickness?,
        bit: bit?,
        edge: edge?,
        base: base?,
        ring: ring?,
    })
}
