//! Areas and volumes of rectangular pieces, exact.

use std::iter::Sum;
use std::ops::{Add, Mul, Sub};

use super::length::{Length, NM_PER_INCH, NM_PER_MM};

/// An area in whole square nanometres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Area(i128);

/// A volume in whole cubic nanometres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Volume(i128);

const NM2_PER_MM2: i128 = (NM_PER_MM as i128).pow(2);
const NM3_PER_MM3: i128 = (NM_PER_MM as i128).pow(3);
/// A board foot is 144 cubic inches.
const NM3_PER_BOARD_FOOT: i128 = 144 * (NM_PER_INCH as i128).pow(3);

impl Area {
    pub const ZERO: Area = Area(0);

    pub fn of(length: Length, width: Length) -> Area {
        Area(i128::from(length.nm()) * i128::from(width.nm()))
    }

    pub fn mm2(self) -> f64 {
        self.0 as f64 / NM2_PER_MM2 as f64
    }

    pub fn m2(self) -> f64 {
        self.mm2() / 1e6
    }

    pub fn square_feet(self) -> f64 {
        self.0 as f64 / (144 * i128::from(NM_PER_INCH).pow(2)) as f64
    }
}

impl Volume {
    pub const ZERO: Volume = Volume(0);

    pub fn of(length: Length, width: Length, thickness: Length) -> Volume {
        Volume(i128::from(length.nm()) * i128::from(width.nm()) * i128::from(thickness.nm()))
    }

    /// The nearest whole cubic nanometre.
    pub fn from_mm3(mm3: f64) -> Volume {
        Volume((mm3 * NM3_PER_MM3 as f64).round() as i128)
    }

    /// Exact.
    pub const fn from_nm3(nm3: i128) -> Volume {
        Volume(nm3)
    }

    pub const fn nm3(self) -> i128 {
        self.0
    }

    pub fn mm3(self) -> f64 {
        self.0 as f64 / NM3_PER_MM3 as f64
    }

    pub fn m3(self) -> f64 {
        self.mm3() / 1e9
    }

    pub fn board_feet(self) -> f64 {
        self.0 as f64 / NM3_PER_BOARD_FOOT as f64
    }
}

impl Add for Area {
    type Output = Area;
    fn add(self, other: Area) -> Area {
        Area(self.0 + other.0)
    }
}

impl Mul<i64> for Area {
    type Output = Area;
    fn mul(self, times: i64) -> Area {
        Area(self.0 * i128::from(times))
    }
}

impl Sum for Area {
    fn sum<I: Iterator<Item = Area>>(areas: I) -> Area {
        areas.fold(Area::ZERO, Add::add)
    }
}

impl Add for Volume {
    type Output = Volume;
    fn add(self, other: Volume) -> Volume {
        Volume(self.0 + other.0)
    }
}

impl Sub for Volume {
    type Output = Volume;
    fn sub(self, other: Volume) -> Volume {
        Volume(self.0 - other.0)
    }
}

impl Mul<i64> for Volume {
    type Output = Volume;
    fn mul(self, times: i64) -> Volume {
        Volume(self.0 * i128::from(times))
    }
}

impl Sum for Volume {
    fn sum<I: Iterator<Item = Volume>>(volumes: I) -> Volume {
        volumes.fold(Volume::ZERO, Add::add)
    }
}
