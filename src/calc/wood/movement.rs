//! Change of size across the grain when moisture changes.

use std::fmt;

use crate::units::{Length, Moisture, Source, WoodFigures};

/// Which way a dimension runs in the tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Along the growth rings: the width of a flat-sawn board.
    Tangential,
    /// Across the growth rings: the width of a quarter-sawn board.
    Radial,
}

/// How the growth rings of a piece lie to its face.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum GrowthRings {
    /// The face follows the rings.
    FlatSawn,
    /// The rings stand on the face.
    QuarterSawn,
    /// Nobody looked: both are reckoned with.
    #[default]
    Unknown,
}

impl GrowthRings {
    /// The rings as they lie once the piece stands on its edge.
    pub const fn on_edge(self) -> GrowthRings {
        match self {
            GrowthRings::FlatSawn => GrowthRings::QuarterSawn,
            GrowthRings::QuarterSawn => GrowthRings::FlatSawn,
            GrowthRings::Unknown => GrowthRings::Unknown,
        }
    }

    /// The directions that the width may run in.
    pub const fn across_width(self) -> &'static [Direction] {
        match self {
            GrowthRings::FlatSawn => &[Direction::Tangential],
            GrowthRings::QuarterSawn => &[Direction::Radial],
            GrowthRings::Unknown => &[Direction::Tangential, Direction::Radial],
        }
    }

    /// The directions that the thickness may run in.
    pub const fn through_thickness(self) -> &'static [Direction] {
        self.on_edge().across_width()
    }
}

/// Why a movement cannot be calculated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MovementError {
    /// Neither a coefficient nor a shrinkage of this wood is known.
    NoFigure,
    /// Only a coefficient is known, and it holds from 6 to 14 % alone.
    OutsideCoefficient,
}

impl fmt::Display for MovementError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            MovementError::NoFigure => "has no published shrinkage or movement coefficient",
            MovementError::OutsideCoefficient => {
                "has a movement coefficient only, which holds from 6 to 14 % moisture"
            }
        })
    }
}

impl std::error::Error for MovementError {}

/// Moistures for which the published coefficients hold (Wood Handbook, title of Table 13-5).
const COEFFICIENT_RANGE: std::ops::RangeInclusive<f64> = 6.0..=14.0;
/// The moisture at which wood is taken to start to shrink (Wood Handbook, chapter 13).
const ONSET: f64 = 30.0;

/// Change of `size` from one moisture to another: by the coefficient where both moistures lie
/// within 6 to 14 %, otherwise from the total shrinkage.
pub fn change(
    size: Length,
    wood: &WoodFigures,
    direction: Direction,
    from: Moisture,
    to: Moisture,
) -> Result<Length, MovementError> {
    let shrinkage = match direction {
        Direction::Tangential => wood.shrinkage_tangential,
        Direction::Radial => wood.shrinkage_radial,
    };
    let coefficient = coefficient(wood, direction);
    let in_range = [from, to]
        .iter()
        .all(|moisture| COEFFICIENT_RANGE.contains(&moisture.percent()));
    match (coefficient, shrinkage) {
        (Some(coefficient), _) if in_range => {
            Ok(change_by_coefficient(size, coefficient, from, to))
        }
        (_, Some(shrinkage)) => Ok(change_by_shrinkage(size, shrinkage, from, to)),
        (Some(_), None) => Err(MovementError::OutsideCoefficient),
        (None, None) => Err(MovementError::NoFigure),
    }
}

/// The published coefficient, or what the shrinkage gives where none is published.
pub fn coefficient(wood: &WoodFigures, direction: Direction) -> Option<f64> {
    let (published, shrinkage) = match direction {
        Direction::Tangential => (wood.coefficient_tangential, wood.shrinkage_tangential),
        Direction::Radial => (wood.coefficient_radial, wood.shrinkage_radial),
    };
    published.or_else(|| shrinkage.map(coefficient_from_shrinkage))
}

/// The equation by which [`change`] reckons between two moistures.
pub fn movement_source(from: Moisture, to: Moisture) -> Source {
    let in_range = [from, to]
        .iter()
        .all(|moisture| COEFFICIENT_RANGE.contains(&moisture.percent()));
    if in_range {
        Source::read("USDA Wood Handbook, FPL-GTR-190 (2010), equation (13-2)")
    } else {
        Source::memory("USDA Wood Handbook, FPL-GTR-190 (2010), equation (13-3)")
    }
}

/// `D * C * (M_to - M_from)`: Wood Handbook, equation (13-2).
pub fn change_by_coefficient(
    size: Length,
    coefficient: f64,
    from: Moisture,
    to: Moisture,
) -> Length {
    Length::from_mm_rounded(size.mm() * coefficient * (to.percent() - from.percent()))
}

/// `D * (M_to - M_from) / (30 * 100 / S - 30 + M_from)`: Wood Handbook, equation (13-3). Above
/// 30 % wood does not move, so both moistures count as at most that.
pub fn change_by_shrinkage(size: Length, shrinkage: f64, from: Moisture, to: Moisture) -> Length {
    let from = from.percent().min(ONSET);
    let to = to.percent().min(ONSET);
    let denominator = ONSET * 100.0 / shrinkage - ONSET + from;
    Length::from_mm_rounded(size.mm() * (to - from) / denominator)
}

/// The slope of equation (13-3) at 10 % moisture, which reproduces the published coefficients of
/// most North American woods to 0.00003.
pub fn coefficient_from_shrinkage(shrinkage: f64) -> f64 {
    let share = shrinkage / (ONSET * 100.0);
    share / (1.0 - 20.0 * share)
}
