//! Any design as it will look: one drawing for each kind.

use super::board::{BoardFace, board, end_grain_board};
use super::drawing::Drawing;
use super::handle::handle_board;
use super::style::Style;
use super::tray::round_tray;
use crate::calc::matching::Shop;
use crate::calc::work::{Design, Practice};

/// The finished piece. Gives nothing where the design's shape does not close, which the design's
/// flaws then say. A further kind needs one more arm here and the drawing that it calls.
pub fn finished_piece(
    style: &Style,
    name: &str,
    design: &Design,
    practice: &Practice,
    shop: &Shop,
    seed: u64,
) -> Option<Drawing> {
    Some(match design {
        Design::StripedBoard(striped) => board(
            style,
            &BoardFace {
                name,
                length: striped.length,
                thickness: striped.thickness,
                strips: &striped.arrangement.strips,
                extras: striped.extras,
                seed,
            },
        ),
        Design::EndGrainBoard(checker) => {
            end_grain_board(style, name, checker, &checker.layout(practice, shop), seed)
        }
        Design::HandleBoard(handle) => handle_board(style, name, handle, &handle.shape().ok()?),
        Design::RoundTray(tray) => round_tray(style, name, tray),
    })
}
