//! How a glued board moves as a whole, and what crosses its grain.

use super::movement::{Direction, GrowthRings, MovementError, change};
use crate::units::{Between, Length, Moisture, WoodFigures};

/// A strip as it lies in a board.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strip {
    /// Across the board's face.
    pub width: Length,
    pub wood: WoodFigures,
    /// To the board's face.
    pub rings: GrowthRings,
}

/// Expected changes; negative is shrinking.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoardMovement {
    /// Of the whole width.
    pub width: Between<Length>,
    /// Of each strip's width.
    pub strips: Vec<Between<Length>>,
    /// Of each strip's thickness.
    pub thickness: Vec<Between<Length>>,
    /// At each glue line, the largest ridge that unlike neighbours may show at a face.
    pub ridges: Vec<Length>,
}

/// Change of a board of strips, `thickness` thick, from one moisture to another; the error names
/// the strip whose wood lacks a figure.
///
/// A ridge is what one neighbour's thickness may change more than the other's: half of it at
/// either face if they were flush.
pub fn board_movement(
    strips: &[Strip],
    thickness: Length,
    from: Moisture,
    to: Moisture,
) -> Result<BoardMovement, (usize, MovementError)> {
    let mut widths = Vec::with_capacity(strips.len());
    let mut thicknesses = Vec::with_capacity(strips.len());
    for (place, strip) in strips.iter().enumerate() {
        let range = |size: Length, directions: &[Direction]| {
            range(size, &strip.wood, directions, from, to).map_err(|error| (place, error))
        };
        widths.push(range(strip.width, strip.rings.across_width())?);
        thicknesses.push(range(thickness, strip.rings.through_thickness())?);
    }
    let width = Between {
        low: widths.iter().map(|range| range.low).sum(),
        high: widths.iter().map(|range| range.high).sum(),
    };
    let ridges = thicknesses
        .windows(2)
        .map(|pair| largest_difference(pair[0], pair[1]))
        .collect();
    Ok(BoardMovement {
        width,
        strips: widths,
        thickness: thicknesses,
        ridges,
    })
}

/// How a part lies to a joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Run {
    /// Its grain runs along the joint: it hardly moves.
    Along,
    /// Its grain crosses the joint.
    Across(GrowthRings),
}

/// One part of a joint between two pieces of wood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Side {
    pub wood: WoodFigures,
    pub run: Run,
}

/// How far the two sides of a joint want to part over its length; never negative.
///
/// This serves an inlay, a ring glued on a disc, and cross pieces at the ends of a board.
/// Movement along the grain is 0.1 to 0.2 % from green to ovendry, nothing in use.
pub fn mismatch(
    joint: Length,
    one: &Side,
    other: &Side,
    from: Moisture,
    to: Moisture,
) -> Result<Between<Length>, MovementError> {
    let side = |side: &Side| match side.run {
        Run::Along => Ok(Between::exactly(Length::ZERO)),
        Run::Across(rings) => range(joint, &side.wood, rings.across_width(), from, to),
    };
    let (one, other) = (side(one)?, side(other)?);
    let overlap = one.low <= other.high && other.low <= one.high;
    let low = if overlap {
        Length::ZERO
    } else {
        (one.low - other.high)
            .abs()
            .min((other.low - one.high).abs())
    };
    Ok(Between {
        low,
        high: largest_difference(one, other),
    })
}

/// A glue joint across the grain, judged against the workshop's limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrossGrain {
    /// How long the two are glued crosswise.
    pub joint: Length,
    pub mismatch: Between<Length>,
    /// The longest crosswise joint that the workshop glues solid.
    pub longest: Length,
}

impl CrossGrain {
    /// Our own default for the longest solid joint across the grain: 3 in (common practice, no
    /// single source).
    pub const USUAL_LONGEST: Length = Length::from_inches(3, 1);

    pub fn is_too_long(&self) -> bool {
        self.joint > self.longest
    }
}

fn range(
    size: Length,
    wood: &WoodFigures,
    directions: &[Direction],
    from: Moisture,
    to: Moisture,
) -> Result<Between<Length>, MovementError> {
    let mut changes = Vec::with_capacity(2);
    for direction in directions {
        changes.push(change(size, wood, *direction, from, to)?);
    }
    changes.sort_unstable();
    Ok(Between {
        low: changes.first().copied().unwrap_or(Length::ZERO),
        high: changes.last().copied().unwrap_or(Length::ZERO),
    })
}

fn largest_difference(one: Between<Length>, other: Between<Length>) -> Length {
    (one.high - other.low)
        .abs()
        .max((other.high - one.low).abs())
}
