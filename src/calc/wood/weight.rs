//! Density and weight.

use crate::units::{Mass, Moisture, Source, Volume, WoodFigures};

/// The form of [`density`].
pub const WEIGHT_SOURCE: Source = Source::read("USDA Wood Handbook, FPL-GTR-190 (2010), chapter 4");

/// Kilograms per cubic metre with its water: `1000 * G * (1 + M / 100)`.
///
/// `G` is the wood's specific gravity at 12 %; within the moistures of a heated house the change
/// of volume makes it err by less than 2 %.
pub fn density(wood: &WoodFigures, moisture: Moisture) -> f64 {
    1000.0 * wood.specific_gravity * (1.0 + moisture.percent() / 100.0)
}

pub fn weight(volume: Volume, wood: &WoodFigures, moisture: Moisture) -> Mass {
    Mass::from_grams(volume.m3() * density(wood, moisture) * 1000.0)
}
