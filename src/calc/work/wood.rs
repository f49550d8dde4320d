//! Sums over the species of a piece.

use super::needs::{Wood, WoodUse};
use crate::units::Mass;

/// The lowest specific gravity among the species: the wood that clamps crush first.
pub(super) fn softest<'a>(species: impl IntoIterator<Item = &'a str>, woods: &[Wood]) -> f64 {
    species
        .into_iter()
        .filter_map(|name| woods.iter().find(|wood| wood.species == name))
        .map(|wood| wood.specific_gravity_12)
        .fold(f64::INFINITY, f64::min)
}

/// Of the finished wood at 12 % moisture.
pub(super) fn weight(uses: &[WoodUse], woods: &[Wood]) -> Mass {
    uses.iter()
        .filter_map(|used| {
            let wood = woods.iter().find(|wood| wood.species == used.species)?;
            Some(Mass::from_grams(
                used.finished.m3() * wood.density_kg_m3 * 1000.0,
            ))
        })
        .sum()
}
