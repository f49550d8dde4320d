//! What wood does: it follows the damp of the air, moves across the grain, weighs something, is
//! sold by the board foot, and suits food or does not.
//!
//! Symbols: `M` moisture content in per cent of ovendry mass, `h` relative humidity, `T`
//! temperature, `D` a dimension across the grain, `C` change of size per per cent of moisture,
//! `S` shrinkage from green to ovendry in per cent, `G` ovendry mass over volume at 12 %,
//! relative to water.
//!
//! Not attempted: drying stresses, warp from grain that runs out, the difference between taking
//! up and giving off water (1 to 2 % of moisture, from memory), preservative-treated wood.
//!
//! Literature: USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-190 (2010), chapters 4, 5
//! and 13; W. T. Simpson, FPL-RN-0268 (1998).

mod board;
mod board_feet;
mod moisture;
mod movement;
mod suitability;
mod weight;

pub use board::{BoardMovement, CrossGrain, Run, Side, Strip, board_movement, mismatch};
pub use board_feet::{BOARD_FOOT_SOURCE, TALLY_SOURCE, Tally, tally};
pub use moisture::{
    EQUILIBRIUM_SOURCE, MoistureConcern, MoistureLimits, compare_moistures, equilibrium,
    equilibrium_in_fahrenheit,
};
pub use movement::{
    Direction, GrowthRings, MovementError, change, change_by_coefficient, change_by_shrinkage,
    coefficient, coefficient_from_shrinkage, movement_source,
};
pub use suitability::{FoodVerdict, MOST_ACCENT_SHARE, ServedAs, judge_for_food};
pub use weight::{WEIGHT_SOURCE, density, weight};
