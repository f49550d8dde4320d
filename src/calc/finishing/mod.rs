//! From the clamps to the hand-over: flattening, sanding, raising the grain, coats and cure.
//!
//! Most figures are common practice with no single source, and all can be changed by a workshop.

mod coat;
mod grit;
mod sanding;

pub use coat::{
    FinishChoice, FinishFlaw, FinishPlan, FinishStep, Moment, judge_finish, plan_finish,
    surface_area,
};
pub use grit::{GRIT_SOURCE, GritGap, GritSequence, LARGEST_STEP, grit_sequence};
pub use sanding::{SANDING_SOURCE, SandingRate, flattening_time};
