//! Whether a glue may hold a piece together.

use crate::units::{GlueFigures, Source, Temperature, WaterClass};

pub const WATER_CLASS_SOURCE: Source = Source::memory("EN 204:2016, Table 2; EN 12765");

/// The least class for what is washed: D3 (or C3) stands running and condensed water often and
/// for a short time; D2 only now and then.
pub const LEAST_WATER_LEVEL: u8 = 3;

/// Why a glue is refused; a member may override it by saying so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GlueFlaw {
    /// The piece is for food, so it is washed, and nobody classes the glue for water.
    NoWaterClass,
    /// The piece is for food, so it is washed, and the glue's class is too low.
    TooLittleWater { has: WaterClass, least_level: u8 },
    /// Wood, glue and air must be at least this warm.
    TooCold {
        has: Temperature,
        least: Temperature,
    },
}

/// Everything that speaks against `glue` for a piece that is washed or not, in a workshop of that
/// temperature.
pub fn judge_glue(
    glue: &GlueFigures,
    washed: bool,
    workshop: Option<Temperature>,
) -> Vec<GlueFlaw> {
    let mut flaws = Vec::new();
    if washed {
        match glue.water_class.level() {
            None => flaws.push(GlueFlaw::NoWaterClass),
            Some(level) if level < LEAST_WATER_LEVEL => flaws.push(GlueFlaw::TooLittleWater {
                has: glue.water_class,
                least_level: LEAST_WATER_LEVEL,
            }),
            Some(_) => {}
        }
    }
    if let (Some(has), Some(least)) = (workshop, glue.least_temperature)
        && has < least.high
    {
        // Makes differ: below the highest of their least temperatures some makes do not harden.
        flaws.push(GlueFlaw::TooCold {
            has,
            least: least.high,
        });
    }
    flaws
}
