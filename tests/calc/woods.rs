//! A few species for the tests of designs; figures as the program's table of species has them.

use scrapwright::calc::work::{FoodUse, Wood};

pub fn woods() -> Vec<Wood> {
    [
        ("hard maple", 706.0, 0.63, 0.75, FoodUse::Cutting),
        ("black walnut", 616.0, 0.55, 0.28, FoodUse::Cutting),
        ("black cherry", 560.0, 0.50, 0.48, FoodUse::Cutting),
        ("red oak", 706.0, 0.63, 0.62, FoodUse::Serving),
        ("padauk", 750.0, 0.67, 0.35, FoodUse::Accent),
    ]
    .into_iter()
    .map(|(species, density, gravity, lightness, food)| Wood {
        species: species.to_owned(),
        density_kg_m3: density,
        specific_gravity_12: gravity,
        lightness,
        food,
    })
    .collect()
}
