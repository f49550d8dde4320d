//! Every calculation, pure: no clock, no I/O, no randomness without a seed.

pub mod advice;
pub mod budget;
pub mod cautions;
pub mod cost;
pub mod finishing;
pub mod gluing;
pub mod matching;
pub mod pattern;
pub mod schedule;
pub mod shaping;
pub mod wood;
pub mod work;
