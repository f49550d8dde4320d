//! Whether the species of a piece suit the food that meets it.

use super::needs::{FoodUse, Warning, WarningKind, Wood, WoodUse};
use super::sentence::say;

/// An accent species may have at most this share of the wood; our own limit.
const MOST_ACCENT: f64 = 0.25;

/// A warning for each species that is not fit for `wanted`.
pub(super) fn food_warnings(uses: &[WoodUse], wanted: FoodUse, woods: &[Wood]) -> Vec<Warning> {
    let total: f64 = uses.iter().map(|used| used.finished.mm3()).sum();
    uses.iter()
        .filter_map(|used| {
            let wood = woods.iter().find(|wood| wood.species == used.species)?;
            let share = if total > 0.0 { used.finished.mm3() / total } else { 0.0 };
            let name = &used.species;
            let (about, cure) = match wood.food {
                FoodUse::Avoid => (
                    format!("{name} should not touch food."),
                    "Take another species; its page says why.",
                ),
                FoodUse::Accent if share > MOST_ACCENT => (
                    format!(
                        "{name} suits thin accents only; here it is {:.0} % of the wood.",
                        share * 100.0
                    ),
                    "Use fewer or thinner strips of it.",
                ),
                FoodUse::Serving if wanted == FoodUse::Cutting => (
                    format!("{name} suits serving, not knives."),
                    "Take a hard, closed-grained species, such as hard maple, for the cutting face.",
                ),
                _ => return None,
            };
            Some(Warning { kind: WarningKind::Food, about: say![about], cure: say![cure] })
        })
        .collect()
}
