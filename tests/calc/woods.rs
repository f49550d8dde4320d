//! A few species for the tests of designs; figures as the program's table of species has them.

use scrapwright::calc::work::Wood;
use scrapwright::units::{FoodGrade, WoodFigures};

pub fn woods() -> Vec<Wood> {
    [
        ("hard maple", 0.63, FoodGrade::Cutting),
        ("black walnut", 0.55, FoodGrade::Cutting),
        ("black cherry", 0.50, FoodGrade::Cutting),
        ("red oak", 0.63, FoodGrade::Serving),
        ("padauk", 0.67, FoodGrade::Accent),
    ]
    .into_iter()
    .map(|(species, specific_gravity, food)| Wood {
        species: species.to_owned(),
        figures: WoodFigures {
            specific_gravity,
            shrinkage_tangential: None,
            shrinkage_radial: None,
            coefficient_tangential: None,
            coefficient_radial: None,
        },
        food,
    })
    .collect()
}
