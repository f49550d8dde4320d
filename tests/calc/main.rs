//! Calculations against properties, oracles and brute force.

mod pattern;
mod units;
