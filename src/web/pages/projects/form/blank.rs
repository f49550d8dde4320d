//! The flat wood that a shape is cut from: one piece, or boards glued side by side.

use super::lengths::word;
use super::striped_board::{SURFACES, surface_word};
use super::strips;
use crate::calc::work::Blank;
use crate::units::LengthFormat;
use crate::web::Typed;

#[derive(Clone, Copy)]
enum Made {
    OnePiece,
    Glued,
}

const MADE: [(&str, Made); 2] = [("one piece", Made::OnePiece), ("glued", Made::Glued)];

/// `prefix` is the blank's field in the design with `_` behind it.
pub(super) fn fill(
    values: &mut Vec<(String, String)>,
    prefix: &str,
    blank: &Blank,
    lengths: LengthFormat,
) {
    let mut put = |name: &str, value: String| values.push((format!("{prefix}{name}"), value));
    match blank {
        Blank::OnePiece { species } => {
            put("made", "one piece".to_owned());
            put("species", species.clone());
            put("surface", "face grain".to_owned());
        }
        Blank::Glued {
            surface,
            arrangement,
        } => {
            put("made", "glued".to_owned());
            put("surface", surface_word(*surface));
            let species = arrangement.strips.first();
            put(
                "species",
                species.map_or_else(String::new, |strip| strip.species.clone()),
            );
            strips::fill(values, prefix, arrangement, lengths);
        }
    }
}

pub(super) fn read(typed: &mut Typed, prefix: &str, lengths: LengthFormat) -> Option<Blank> {
    match word(typed, &format!("{prefix}made"), &MADE)? {
        Made::OnePiece => {
            let species = typed.take(&format!("{prefix}species"), |text| {
                if text.is_empty() {
                    Err("is empty; must be the name of a species")
                } else {
                    Ok(text.to_owned())
                }
            });
            species.map(|species| Blank::OnePiece { species })
        }
        Made::Glued => {
            let surface = word(typed, &format!("{prefix}surface"), &SURFACES);
            let arrangement = strips::read(typed, prefix, lengths);
            Some(Blank::Glued {
                surface: surface?,
                arrangement: arrangement?,
            })
        }
    }
}
