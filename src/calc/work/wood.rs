//! Sums over the species of a piece.

use super::needs::{Wood, WoodUse};
use crate::calc::wood;
use crate::units::{Mass, Moisture};

/// The lowest specific gravity among the species: the wood that clamps crush first.
pub(super) fn softest<'a>(species: impl IntoIterator<Item = &'a str>, woods: &[Wood]) -> f64 {
    species
        .into_iter()
        .filter_map(|name| woods.iter().find(|wood| wood.species == name))
        .map(|wood| wood.figures.specific_gravity)
        .fold(f64::INFINITY, f64::min)
}

/// Of the finished wood at 12 % moisture.
pub(super) fn weight(uses: &[WoodUse], woods: &[Wood]) -> Mass {
    let moisture = Moisture::from_percent(12.0).expect("wood can be at 12 %");
    uses.iter()
        .filter_map(|used| {
            let wood = woods.iter().find(|wood| wood.species == used.species)?;
            Some(wood::weight(used.finished, &wood.figures, moisture))
        })
        .sum()
}
