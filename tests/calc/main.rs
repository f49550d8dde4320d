//! Calculations against properties, oracles and brute force.

mod advice;
mod matching;
mod outline;
mod pattern;
mod pattern_stock;
mod schedule;
mod units;
mod wood_and_glue;
mod woods;
mod work_clamps;
mod work_makers;
mod work_plan;
mod work_shaped;
mod work_striped_board;
