//! Drawings to scale, the same on a page, on paper and in a PDF.
//!
//! Each function takes a [`Style`] and plain values, and gives a [`Drawing`]: one complete `<svg>`
//! element with a title and a description for those who cannot see it. Nothing depends on colour
//! alone: what is kept is dashed, what is waste is hatched, what is unusable is crossed out, and
//! strips carry their numbers.

mod bin;
mod board;
mod chart;
mod drawing;
mod end_grain;
mod glue_up;
mod handle;
mod layout;
mod miniature;
mod offcut;
mod paint;
mod palette;
mod path;
mod piece;
mod plan;
mod router;
mod shape;
mod slicing;
mod style;
mod template;
mod tray;
mod treatment;
mod wood;

pub use bin::{Shelved, bin};
pub use board::{BoardFace, board, exploded_strips};
pub use chart::{Bar, ChartWords, InAndOut, bars, in_and_out, use_by_hour};
pub use drawing::Drawing;
pub(super) use drawing::{Canvas, Rect};
pub use glue_up::glue_up;
pub use handle::{handle_board, handle_on_piece, handle_template};
pub use layout::{CutPiece, layout};
pub use miniature::miniature_board;
pub use offcut::{OffcutFace, offcut};
pub(super) use paint::{Lettering, Paint, words_width};
pub use palette::Colour;
pub(super) use path::Path;
pub use piece::{Bench, Template, finished_piece, miniature, template, templates};
pub use plan::{ClampUse, Lane, LaneStep, PlanFace, Presence, plan};
pub use router::router_circle;
pub use slicing::slicing;
pub use style::Style;
pub use template::{DrillHole, circle_template, drilling_template, jig_template};
pub use tray::round_tray;
