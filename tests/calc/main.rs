//! Calculations against properties, oracles and brute force.

mod units;
