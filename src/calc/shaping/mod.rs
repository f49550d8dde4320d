//! Shapes that are cut after gluing: rounds and rings with a router.

mod circle;
mod outline;

pub use circle::{CIRCLE_SOURCE, Circle, CircleCuts, CircleFlaw, Pivot, cut_circle, passes};
pub use outline::{Corner, CornerError, Extent, Outline, Point, Segment};
