//! A disc, and a ring, cut by a router that turns about a pivot.
//!
//! The bit cuts outside the line of the disc, so its near edge runs at the disc's radius; and
//! inside the line of the ring's hole, so its far edge runs at the hole's radius. Plain geometry.

use std::fmt;

use crate::units::{Length, Source};

pub const CIRCLE_SOURCE: Source = Source::PRACTICE;

/// What is to be cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Circle {
    /// Of the finished disc, or of the ring's outside.
    pub diameter: Length,
    /// Width of the ring; `None` for a plain disc.
    pub rim: Option<Length>,
    /// Diameter of the bit.
    pub bit: Length,
    /// Of the wood.
    pub thickness: Length,
    pub depth_per_pass: Length,
}

/// Where the pivot goes, measured from the bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pivot {
    /// To the edge of the bit that is nearer to the pivot.
    pub to_near_edge: Length,
    pub to_bit_centre: Length,
}

/// How to cut it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CircleCuts {
    pub outside: Pivot,
    /// For the ring's hole.
    pub inside: Option<Pivot>,
    /// The round that falls out of the ring.
    pub falls_out: Option<Length>,
    /// Depth of each pass; their sum is the thickness.
    pub passes: Vec<Length>,
    /// Side of the square that holds the disc with the bit's whole kerf around it.
    pub blank_at_least: Length,
}

/// Why it cannot be cut so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CircleFlaw {
    NotPositive(&'static str),
    /// Rim and bit leave no round inside; holds the most that the rim may be.
    RimTooWide {
        at_most: Length,
    },
    /// More passes than anyone makes: the depth is a slip of the pen.
    TooManyPasses,
}

impl fmt::Display for CircleFlaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CircleFlaw::NotPositive(what) => write!(f, "the {what} must be more than 0"),
            CircleFlaw::RimTooWide { at_most } => write!(
                f,
                "leaves nothing inside the ring; must be less than {at_most} with this bit"
            ),
            CircleFlaw::TooManyPasses => {
                f.write_str("asks more than 1000 passes; must be a larger part of the thickness")
            }
        }
    }
}

impl std::error::Error for CircleFlaw {}

/// Router settings for a disc or a ring. Halves of odd nanometres are rounded down.
pub fn cut_circle(circle: &Circle) -> Result<CircleCuts, CircleFlaw> {
    for (what, length) in [
        ("diameter", circle.diameter),
        ("rim", circle.rim.unwrap_or(circle.diameter)),
        ("bit", circle.bit),
        ("thickness", circle.thickness),
        ("depth per pass", circle.depth_per_pass),
    ] {
        if !length.is_positive() {
            return Err(CircleFlaw::NotPositive(what));
        }
    }
    let half = |length: Length| Length::from_nm(length.nm() / 2);
    let radius = half(circle.diameter);
    let inside = match circle.rim {
        None => None,
        Some(rim) => {
            let near_edge = radius - rim - circle.bit;
            if !near_edge.is_positive() {
                return Err(CircleFlaw::RimTooWide {
                    at_most: radius.saturating_sub(circle.bit),
                });
            }
            Some(Pivot {
                to_near_edge: near_edge,
                to_bit_centre: radius - rim - half(circle.bit),
            })
        }
    };
    Ok(CircleCuts {
        outside: Pivot {
            to_near_edge: radius,
            to_bit_centre: radius + half(circle.bit),
        },
        falls_out: inside.map(|pivot| pivot.to_near_edge * 2),
        inside,
        passes: passes(circle.thickness, circle.depth_per_pass).ok_or(CircleFlaw::TooManyPasses)?,
        blank_at_least: circle.diameter + circle.bit * 2,
    })
}

/// Full passes and a last one with what is left; `None` for more than a thousand.
pub fn passes(thickness: Length, depth_per_pass: Length) -> Option<Vec<Length>> {
    const MOST_PASSES: i64 = 1000;
    let full = thickness.nm() / depth_per_pass.nm().max(1);
    let left = thickness - depth_per_pass * full.min(MOST_PASSES);
    if full > MOST_PASSES || (full == MOST_PASSES && left.is_positive()) {
        return None;
    }
    let mut passes = vec![depth_per_pass; full as usize];
    if left.is_positive() {
        passes.push(left);
    }
    Some(passes)
}
