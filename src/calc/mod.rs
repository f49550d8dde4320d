//! Every calculation, pure: no clock, no I/O, no randomness without a seed.

pub mod budget;
pub mod matching;
pub mod pattern;
pub mod schedule;
pub mod work;
