//! Which form a kind of design has.

use super::{end_grain_board, handle_board, round_tray, striped_board};
use crate::calc::work::{Design, Kind};
use crate::units::LengthFormat;
use crate::web::Typed;

/// The fields of a design as its form shows it.
pub fn fill(design: &Design, lengths: LengthFormat) -> Vec<(String, String)> {
    match design {
        Design::StripedBoard(board) => striped_board::fill(board, lengths),
        Design::EndGrainBoard(board) => end_grain_board::fill(board, lengths),
        Design::HandleBoard(board) => handle_board::fill(board, lengths),
        Design::RoundTray(tray) => round_tray::fill(tray, lengths),
    }
}

/// The design in a form, or flaws beside its fields.
pub fn read(typed: &mut Typed, kind: Kind, lengths: LengthFormat) -> Option<Design> {
    match kind {
        Kind::StripedBoard => striped_board::read(typed, lengths).map(Design::StripedBoard),
        Kind::EndGrainBoard => end_grain_board::read(typed, lengths).map(Design::EndGrainBoard),
        Kind::HandleBoard => handle_board::read(typed, lengths).map(Design::HandleBoard),
        Kind::RoundTray => round_tray::read(typed, lengths).map(Design::RoundTray),
    }
}

/// The lists of strips in a kind's form: what stands before the names of their fields, and their title.
pub fn strip_lists(kind: Kind) -> &'static [(&'static str, &'static str)] {
    match kind {
        Kind::StripedBoard => &[("", "Strips, from one side to the other")],
        Kind::EndGrainBoard => &[("", "Strips of the first panel")],
        Kind::HandleBoard => &[("blank_", "Boards of the blank")],
        Kind::RoundTray => &[
            ("base_", "Boards of the base"),
            ("ring_", "Boards of the ring"),
        ],
    }
}

/// The field that shows the value at this place of a design.
pub fn field_of(place: &[String]) -> String {
    match place {
        [parents @ .., strips, number, field] if strips == "strips" => {
            let prefix: String = parents.iter().map(|parent| format!("{parent}_")).collect();
            format!("{prefix}strip_{field}-{number}")
        }
        [edge, radius] if edge == "edge" && (radius == "radius" || radius == "size") => {
            "edge_size".to_owned()
        }
        _ => place.join("_"),
    }
}

#[cfg(test)]
mod tests {
    use super::field_of;

    #[test]
    fn every_place_of_a_design_has_its_field() {
        let field = |place: &str| {
            let place: Vec<String> = place.split('/').map(str::to_owned).collect();
            field_of(&place)
        };
        assert_eq!(field("length"), "length");
        assert_eq!(field("groove/depth"), "groove_depth");
        assert_eq!(field("edge/radius"), "edge_size");
        assert_eq!(field("strips/3/width"), "strip_width-3");
        assert_eq!(field("blank/strips/0/species"), "blank_strip_species-0");
        assert_eq!(field("strips"), "strips");
    }
}
