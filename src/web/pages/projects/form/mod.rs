//! The form of a design, a file for each kind and one for each thing that kinds share.
//!
//! A field is named after the place of its value in the design, joined by `_`, so that a flaw that a calculation finds
//! lands beside the field it is about. Strips are lists: several fields of one name, in the order of the strips.

mod blank;
mod end_grain_board;
mod extras;
mod handle_board;
mod kind;
mod lengths;
mod practice;
mod round_tray;
mod striped_board;
mod strips;

pub(super) use kind::{field_of, fill, read, strip_lists};
pub(super) use practice::{
    PRACTICE_LENGTHS, fill_practice, judge_choices, minutes_field, read_practice, workshop_value,
};
pub(super) use strips::{CHANGE, Changed, StripRow, change_strips, rows};
