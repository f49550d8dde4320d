//! How long flattening takes.

use crate::units::{Area, Length, Minutes, Source};

pub const SANDING_SOURCE: Source = Source::PRACTICE;

/// Minutes for one face of a known size; other faces take as long as their area asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SandingRate {
    pub minutes: Minutes,
    pub face: Area,
}

impl SandingRate {
    /// About 20 minutes with 40 grit for one face of an 18 in by 10 in board; common practice, no
    /// single source.
    pub fn usual() -> SandingRate {
        SandingRate {
            minutes: Minutes(20),
            face: Area::of(Length::from_inches(18, 1), Length::from_inches(10, 1)),
        }
    }
}

/// Minutes to flatten `faces` altogether, to the next whole minute.
pub fn flattening_time(faces: Area, rate: &SandingRate) -> Minutes {
    if rate.face <= Area::ZERO {
        return rate.minutes;
    }
    Minutes::from_minutes_up(rate.minutes.0 as f64 * faces.mm2() / rate.face.mm2() - 1e-9)
}
