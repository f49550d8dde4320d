//! Physical quantities that are measured rather than counted, each a newtype over one unit.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Div, Mul, Sub};

/// A number outside the range that its quantity can have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RangeError {
    pub value: f64,
    pub low: f64,
    pub high: f64,
    pub unit: &'static str,
}

impl fmt::Display for RangeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let RangeError {
            value,
            low,
            high,
            unit,
        } = self;
        write!(f, "is {value} {unit}; must be from {low} to {high} {unit}")
    }
}

impl std::error::Error for RangeError {}

fn in_range(value: f64, low: f64, high: f64, unit: &'static str) -> Result<f64, RangeError> {
    // A NaN is in no range.
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(RangeError {
            value,
            low,
            high,
            unit,
        })
    }
}

/// A mass in grams.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Mass(f64);

impl Mass {
    pub const ZERO: Mass = Mass(0.0);

    pub const fn from_grams(grams: f64) -> Mass {
        Mass(grams)
    }

    pub const fn grams(self) -> f64 {
        self.0
    }

    pub fn kilograms(self) -> f64 {
        self.0 / 1000.0
    }

    /// Avoirdupois pounds of 453.592 37 g exactly.
    pub fn pounds(self) -> f64 {
        self.0 / 453.592_37
    }
}

/// `850 g`; from a kilogram on `1.25 kg`.
impl fmt::Display for Mass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.abs() < 999.5 {
            write!(f, "{:.0} g", self.0)
        } else {
            write!(f, "{:.2} kg", self.0 / 1000.0)
        }
    }
}

impl Add for Mass {
    type Output = Mass;
    fn add(self, other: Mass) -> Mass {
        Mass(self.0 + other.0)
    }
}

impl Sum for Mass {
    fn sum<I: Iterator<Item = Mass>>(masses: I) -> Mass {
        masses.fold(Mass::ZERO, Add::add)
    }
}

/// Newtons in one pound-force: 0.453 592 37 kg times the standard 9.806 65 m/s².
const NEWTONS_PER_POUND: f64 = 4.448_221_615_260_5;

/// A force in newtons.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Force(f64);

impl Force {
    pub const fn from_newtons(newtons: f64) -> Force {
        Force(newtons)
    }

    pub fn from_pounds(pounds: f64) -> Force {
        Force(pounds * NEWTONS_PER_POUND)
    }

    pub const fn newtons(self) -> f64 {
        self.0
    }

    pub fn pounds(self) -> f64 {
        self.0 / NEWTONS_PER_POUND
    }
}

/// A force in whole newtons, as clamps are told apart by it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Newtons(pub u32);

impl From<Force> for Newtons {
    /// Less than a whole newton is left out.
    fn from(force: Force) -> Newtons {
        Newtons(force.newtons().clamp(0.0, f64::from(u32::MAX)) as u32)
    }
}

/// `850 N`; from a kilonewton on `21.0 kN`.
impl fmt::Display for Force {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.abs() < 999.5 {
            write!(f, "{:.0} N", self.0)
        } else {
            write!(f, "{:.1} kN", self.0 / 1000.0)
        }
    }
}

impl Add for Force {
    type Output = Force;
    fn add(self, other: Force) -> Force {
        Force(self.0 + other.0)
    }
}

impl Sub for Force {
    type Output = Force;
    fn sub(self, other: Force) -> Force {
        Force(self.0 - other.0)
    }
}

impl Mul<f64> for Force {
    type Output = Force;
    fn mul(self, times: f64) -> Force {
        Force(self.0 * times)
    }
}

/// How many times `other` goes into this force.
impl Div for Force {
    type Output = f64;
    fn div(self, other: Force) -> f64 {
        self.0 / other.0
    }
}

/// A pressure in kilopascals.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Pressure(f64);

impl Pressure {
    pub const fn from_kpa(kpa: f64) -> Pressure {
        Pressure(kpa)
    }

    /// From pounds-force per square inch.
    pub fn from_psi(psi: f64) -> Pressure {
        Pressure(psi * KPA_PER_PSI)
    }

    pub const fn kpa(self) -> f64 {
        self.0
    }

    pub fn psi(self) -> f64 {
        self.0 / KPA_PER_PSI
    }
}

/// One pound-force on a square inch of 645.16 mm².
const KPA_PER_PSI: f64 = NEWTONS_PER_POUND / 645.16 * 1000.0;

impl fmt::Display for Pressure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.0} kPa", self.0)
    }
}

/// Moisture content of wood: the mass of its water in per cent of its ovendry mass.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Moisture(f64);

impl Moisture {
    /// From 0 (ovendry) to 200 % (sodden green wood).
    pub fn from_percent(percent: f64) -> Result<Moisture, RangeError> {
        in_range(percent, 0.0, 200.0, "%").map(Moisture)
    }

    pub const fn percent(self) -> f64 {
        self.0
    }
}

impl fmt::Display for Moisture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} %", self.0)
    }
}

/// Relative humidity of air.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Humidity(f64);

impl Humidity {
    pub fn from_percent(percent: f64) -> Result<Humidity, RangeError> {
        in_range(percent, 0.0, 100.0, "%").map(Humidity)
    }

    pub const fn percent(self) -> f64 {
        self.0
    }

    pub fn fraction(self) -> f64 {
        self.0 / 100.0
    }
}

impl fmt::Display for Humidity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.0} %", self.0)
    }
}

/// An air temperature in degrees Celsius.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Temperature(f64);

impl Temperature {
    /// From -60 to 150 °C: wider than any workshop or kiln.
    pub fn from_celsius(celsius: f64) -> Result<Temperature, RangeError> {
        in_range(celsius, -60.0, 150.0, "°C").map(Temperature)
    }

    pub const fn celsius(self) -> f64 {
        self.0
    }

    pub fn fahrenheit(self) -> f64 {
        self.0 * 9.0 / 5.0 + 32.0
    }
}

impl fmt::Display for Temperature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} °C", self.0)
    }
}
