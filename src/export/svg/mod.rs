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
mod glue_up;
mod layout;
mod miniature;
mod offcut;
mod palette;
mod plan;
mod router;
mod style;
mod template;
mod treatment;
mod wood;

pub use bin::{Shelved, bin};
pub use board::{BoardFace, EndGrainFace, Slice, board, end_grain_board, exploded_strips};
pub use chart::{Bar, ChartWords, InAndOut, bars, in_and_out, use_by_hour};
pub use drawing::Drawing;
pub(super) use drawing::{Canvas, Lettering, Paint, Path, Rect, words_width};
pub use glue_up::glue_up;
pub use layout::{CutPiece, layout};
pub use miniature::{miniature, miniature_board};
pub use offcut::{OffcutFace, offcut};
pub use palette::Colour;
pub use plan::{ClampUse, Lane, LaneStep, PlanFace, Presence, plan};
pub use router::router_circle;
pub use style::Style;
pub use template::{DrillHole, circle_template, drilling_template, jig_template};
