//! Whether a wood suits the food that touches it.

use crate::units::FoodGrade;

/// What a piece is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ServedAs {
    /// A surface to cut on.
    CuttingSurface,
    /// Trays, bread and the like.
    Serving,
    /// Nothing to eat touches it.
    NoFood,
}

/// How a wood suits its use, from good to bad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FoodVerdict {
    Fit,
    /// Fit for less than it is used for, or too much of an accent wood: say why.
    Warned,
    /// Not for food.
    Unfit,
}

/// The most that accent woods may be of a food surface; our own limit.
pub const MOST_ACCENT_SHARE: f64 = 0.25;

/// Judges a wood of `grade` that is `share` (0 to 1) of what food touches.
pub fn judge_for_food(grade: FoodGrade, share: f64, served_as: ServedAs) -> FoodVerdict {
    match (served_as, grade) {
        (ServedAs::NoFood, _) => FoodVerdict::Fit,
        (_, FoodGrade::Avoid) => FoodVerdict::Unfit,
        (_, FoodGrade::Cutting) | (ServedAs::Serving, FoodGrade::Serving) => FoodVerdict::Fit,
        (ServedAs::CuttingSurface, FoodGrade::Serving) => FoodVerdict::Warned,
        (_, FoodGrade::Accent) if share <= MOST_ACCENT_SHARE => FoodVerdict::Fit,
        (_, FoodGrade::Accent) => FoodVerdict::Warned,
    }
}
