//! Board feet as hardwood is tallied when it is bought.

use crate::units::{Length, Source};

/// The definition of the board foot.
pub const BOARD_FOOT_SOURCE: Source =
    Source::read("NHLA grading rules; American Hardwood Export Council, grading guide");
/// The rule for stock under one inch; the rest of [`tally`] was read in the same rules.
pub const TALLY_SOURCE: Source = Source::memory("NHLA Rules, measurement section");

/// What a board counts as when it is sold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tally {
    /// Square feet of one face, to the nearest whole one.
    pub surface_measure: i64,
    /// Surface measure times nominal thickness, in quarters of a board foot.
    pub quarter_board_feet: i64,
}

impl Tally {
    pub fn board_feet(self) -> f64 {
        self.quarter_board_feet as f64 / 4.0
    }
}

/// Tallies one rough board: length cut back to the whole foot; surface measure = width in inches
/// times length in feet over 12, to the nearest whole number; thickness in full quarters of an
/// inch as bought rough, and stock under one inch counts as one inch.
pub fn tally(length: Length, width: Length, rough_thickness: Length) -> Tally {
    let inch = Length::from_inches(1, 1).nm();
    let feet = length.nm() / (12 * inch);
    // Twice the surface measure over its denominator, so that a half rounds up in whole numbers.
    let twelve_inches = i128::from(12 * inch);
    let twice = 2 * i128::from(width.nm()) * i128::from(feet);
    let surface_measure = ((twice + twelve_inches) / (2 * twelve_inches)) as i64;
    let quarters = (rough_thickness.nm() * 4 / inch).max(4);
    Tally {
        surface_measure,
        quarter_board_feet: surface_measure * quarters,
    }
}
