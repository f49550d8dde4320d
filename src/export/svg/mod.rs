//! Drawings to scale, the same on a page, on paper and in a PDF.
//!
//! Each function takes a [`Style`] and plain values, and gives a [`Drawing`]: one complete `<svg>`
//! element with a title and a description for those who cannot see it. Nothing depends on colour
//! alone: what is kept is dashed, what is waste is hatched, what is unusable is crossed out, and
//! strips carry their numbers.

mod bin;
mod board;
mod drawing;
mod layout;
mod offcut;
mod palette;
mod style;
mod treatment;
mod wood;

pub use bin::{Shelved, bin};
pub use board::{BoardFace, EndGrainFace, Slice, board, end_grain_board, exploded_strips};
pub use drawing::Drawing;
pub use layout::{CutPiece, layout};
pub use offcut::{OffcutFace, offcut};
pub use palette::Colour;
pub use style::Style;
