//! Lengths in whole nanometres.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

/// A length in whole nanometres.
///
/// One inch is 25 400 000 nm exactly, so 1/64 in (396 875 nm) and 0.1 mm are both exact and sums
/// compare with `==`. Differences may be negative; what a person types never is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length(i64);

/// Nanometres in one millimetre.
pub const NM_PER_MM: i64 = 1_000_000;
/// Nanometres in one inch, exact by the international yard and pound agreement of 1959.
pub const NM_PER_INCH: i64 = 25_400_000;

impl Length {
    pub const ZERO: Length = Length(0);
    /// The longest length that is read from a person or a program: 100 m.
    pub const LONGEST: Length = Length(100_000 * NM_PER_MM);

    pub const fn from_nm(nm: i64) -> Length {
        Length(nm)
    }

    pub const fn from_mm(mm: i64) -> Length {
        Length(mm * NM_PER_MM)
    }

    /// `numerator / denominator` inches; the result must be a whole number of nanometres.
    pub const fn from_inches(numerator: i64, denominator: i64) -> Length {
        let nm = numerator * NM_PER_INCH;
        assert!(nm % denominator == 0, "not a whole number of nanometres");
        Length(nm / denominator)
    }

    /// The nearest whole nanometre to a calculated number of millimetres.
    pub fn from_mm_rounded(mm: f64) -> Length {
        Length((mm * NM_PER_MM as f64).round() as i64)
    }

    pub const fn nm(self) -> i64 {
        self.0
    }

    pub fn mm(self) -> f64 {
        self.0 as f64 / NM_PER_MM as f64
    }

    pub fn inches(self) -> f64 {
        self.0 as f64 / NM_PER_INCH as f64
    }

    pub fn is_positive(self) -> bool {
        self.0 > 0
    }

    pub fn saturating_sub(self, other: Length) -> Length {
        Length((self.0 - other.0).max(0))
    }

    pub fn abs(self) -> Length {
        Length(self.0.abs())
    }
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0 + other.0)
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Length) {
        self.0 += other.0;
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0 - other.0)
    }
}

impl SubAssign for Length {
    fn sub_assign(&mut self, other: Length) {
        self.0 -= other.0;
    }
}

impl Neg for Length {
    type Output = Length;
    fn neg(self) -> Length {
        Length(-self.0)
    }
}

impl Mul<i64> for Length {
    type Output = Length;
    fn mul(self, times: i64) -> Length {
        Length(self.0 * times)
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Length>>(lengths: I) -> Length {
        lengths.fold(Length::ZERO, Add::add)
    }
}

/// Exact millimetres with at most six decimals, the form of the calculation contract.
impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let magnitude = self.0.unsigned_abs();
        let (whole, rest) = (magnitude / NM_PER_MM as u64, magnitude % NM_PER_MM as u64);
        let decimals = format!("{rest:06}");
        let decimals = decimals.trim_end_matches('0');
        if decimals.is_empty() {
            write!(f, "{sign}{whole} mm")
        } else {
            write!(f, "{sign}{whole}.{decimals} mm")
        }
    }
}
