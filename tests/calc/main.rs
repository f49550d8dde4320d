//! Calculations against properties, oracles and brute force.

mod pattern;
mod units;
mod woods;
mod work_plan;
mod work_striped_board;
