//! Whether the species of a piece suit the food that meets it.

use super::needs::{Warning, WarningKind, Wood, WoodUse};
use crate::calc::wood::{FoodVerdict, MOST_ACCENT_SHARE, ServedAs, judge_for_food};
use crate::units::{FoodGrade, say};

/// A warning for each species that does not suit what the piece is for.
pub(super) fn food_warnings(uses: &[WoodUse], served_as: ServedAs, woods: &[Wood]) -> Vec<Warning> {
    let total: f64 = uses.iter().map(|used| used.finished.mm3()).sum();
    uses.iter()
        .filter_map(|used| {
            let wood = woods.iter().find(|wood| wood.species == used.species)?;
            let share = if total > 0.0 {
                used.finished.mm3() / total
            } else {
                0.0
            };
            if judge_for_food(wood.food, share, served_as) == FoodVerdict::Fit {
                return None;
            }
            let name = &used.species;
            let (about, cure) = match wood.food {
                FoodGrade::Avoid => (
                    format!("{name} should not touch food."),
                    "Take another species; its page says why.".to_owned(),
                ),
                FoodGrade::Accent => (
                    format!(
                        "{name} suits thin accents only; here it is {:.0} % of the wood.",
                        share * 100.0
                    ),
                    format!("Use at most {:.0} % of it.", MOST_ACCENT_SHARE * 100.0),
                ),
                FoodGrade::Serving | FoodGrade::Cutting => (
                    format!("{name} suits serving, not knives."),
                    "Take a hard, closed-grained species, such as hard maple, for the cutting face."
                        .to_owned(),
                ),
            };
            Some(Warning {
                kind: WarningKind::Food,
                about: say![about],
                cure: say![cure],
            })
        })
        .collect()
}
