//! The moisture that wood settles at, and pieces that differ from it or from each other.

use crate::units::{Humidity, Moisture, RangeError, Source, Temperature};

/// The equation, its constants and its table.
pub const EQUILIBRIUM_SOURCE: Source = Source::read(
    "USDA Wood Handbook, FPL-GTR-190 (2010), equation (4-5); W. T. Simpson, FPL-RN-0268 (1998)",
);

/// Below this the equation's constants no longer mean anything.
const COLDEST: f64 = -20.0;
/// The handbook's table ends at 270 °F.
const HOTTEST: f64 = 132.5;

/// The moisture content that wood of any species settles at in still air.
///
/// The published table spans -1.1 to 132 °C and 5 to 95 % humidity; near saturation and above
/// about 100 °C the equation is weak. Wood takes hours at its surface and weeks inside to settle.
///
/// Source: [`EQUILIBRIUM_SOURCE`], constants for degrees Celsius.
pub fn equilibrium(temperature: Temperature, humidity: Humidity) -> Result<Moisture, RangeError> {
    let t = checked(temperature)?;
    settled(
        349.0 + 1.29 * t + 0.0135 * t * t,
        0.805 + 0.000_736 * t - 0.000_002_73 * t * t,
        6.27 - 0.009_38 * t - 0.000_303 * t * t,
        1.91 + 0.0407 * t - 0.000_293 * t * t,
        humidity,
    )
}

/// The same by the constants that are published for degrees Fahrenheit; the two sets agree within
/// 0.013 % of moisture from 30 to 140 °F.
pub fn equilibrium_in_fahrenheit(
    temperature: Temperature,
    humidity: Humidity,
) -> Result<Moisture, RangeError> {
    checked(temperature)?;
    let t = temperature.fahrenheit();
    settled(
        330.0 + 0.452 * t + 0.004_15 * t * t,
        0.791 + 0.000_463 * t - 0.000_000_844 * t * t,
        6.34 + 0.000_775 * t - 0.000_093_5 * t * t,
        1.09 + 0.0284 * t - 0.000_090_4 * t * t,
        humidity,
    )
}

fn checked(temperature: Temperature) -> Result<f64, RangeError> {
    let celsius = temperature.celsius();
    if (COLDEST..=HOTTEST).contains(&celsius) {
        Ok(celsius)
    } else {
        Err(RangeError {
            value: celsius,
            low: COLDEST,
            high: HOTTEST,
            unit: "°C",
        })
    }
}

/// Two hydrates of water in wood (Hailwood and Horrobin): molar mass `w` of the wood, constants
/// `k`, `k1`, `k2`.
fn settled(w: f64, k: f64, k1: f64, k2: f64, humidity: Humidity) -> Result<Moisture, RangeError> {
    let kh = k * humidity.fraction();
    let dissolved = kh / (1.0 - kh);
    let bound = (k1 * kh + 2.0 * k1 * k2 * kh * kh) / (1.0 + k1 * kh + k1 * k2 * kh * kh);
    Moisture::from_percent(1800.0 / w * (dissolved + bound))
}

/// When moistures are too far apart to glue; both are common practice with no single source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MoistureLimits {
    /// Between two pieces of one glue-up, in points of per cent.
    pub between_pieces: f64,
    /// From what the workshop's air gives, in points of per cent.
    pub from_equilibrium: f64,
}

impl Default for MoistureLimits {
    fn default() -> MoistureLimits {
        MoistureLimits {
            between_pieces: 2.0,
            from_equilibrium: 2.0,
        }
    }
}

/// What is wrong with the moistures of a glue-up; pieces are named by their place in the list.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MoistureConcern {
    /// The driest and the wettest piece are too far apart.
    Apart {
        driest: usize,
        wettest: usize,
        points: f64,
    },
    /// A piece has yet to settle: `points` above (or, negative, below) the workshop's equilibrium.
    Unsettled { piece: usize, points: f64 },
}

/// Compares measured moistures with each other and with the workshop's equilibrium; pieces that
/// were not measured are left out.
pub fn compare_moistures(
    pieces: &[Option<Moisture>],
    equilibrium: Option<Moisture>,
    limits: &MoistureLimits,
) -> Vec<MoistureConcern> {
    // Readings are to a tenth; a millionth keeps 8.0 against 10.0 at exactly two points.
    const TINY: f64 = 1e-6;
    let measured: Vec<(usize, f64)> = pieces
        .iter()
        .enumerate()
        .filter_map(|(piece, moisture)| moisture.map(|moisture| (piece, moisture.percent())))
        .collect();
    let mut concerns = Vec::new();
    let driest = measured.iter().min_by(|a, b| a.1.total_cmp(&b.1));
    let wettest = measured.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    if let (Some((driest, low)), Some((wettest, high))) = (driest, wettest)
        && high - low > limits.between_pieces + TINY
    {
        concerns.push(MoistureConcern::Apart {
            driest: *driest,
            wettest: *wettest,
            points: high - low,
        });
    }
    if let Some(equilibrium) = equilibrium {
        for (piece, moisture) in measured {
            let points = moisture - equilibrium.percent();
            if points.abs() > limits.from_equilibrium + TINY {
                concerns.push(MoistureConcern::Unsettled { piece, points });
            }
        }
    }
    concerns
}
