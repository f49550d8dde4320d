//! Glue lines: how many, how much glue, how hard to press.

use crate::units::{Area, Between, Length, Mass, Pressure, Source};

/// The pressure bands.
pub const PRESSURE_SOURCE: Source = Source::PRACTICE;
/// The usual spread of PVA, 146 to 244 g/m².
pub const GLUE_AMOUNT_SOURCE: Source =
    Source::memory("M. L. Selbo, Adhesive Bonding of Wood, USDA Technical Bulletin 1512 (1975)");

/// The glue lines of one panel, all alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GlueLines {
    pub count: i64,
    pub length: Length,
    pub height: Length,
}

impl GlueLines {
    /// Of a panel of `strips` strips: one fewer than strips, none on the outer faces.
    pub fn between(strips: usize, length: Length, height: Length) -> GlueLines {
        GlueLines {
            count: strips.saturating_sub(1) as i64,
            length,
            height,
        }
    }

    /// Of one line.
    pub fn area(&self) -> Area {
        Area::of(self.length, self.height)
    }
}

/// Glue for all lines at `spread` grams per square metre of line, and `extra` (0.1 for a tenth)
/// for what is squeezed out and left in the pot.
pub fn glue_amount(lines: &GlueLines, spread: f64, extra: f64) -> Mass {
    Mass::from_grams(lines.area().m2() * lines.count as f64 * spread * (1.0 + extra))
}

/// How hard to press, by the softest wood of the panel, so as not to crush it: specific gravity
/// at 12 % below 0.45, up to 0.60, above. Within 690 to 1720 kPa of the Wood Handbook, chapter
/// 10 (from memory); the bands are common practice with no single source.
pub fn pressure_band(softest_specific_gravity: f64) -> Between<Pressure> {
    let (low, high) = if softest_specific_gravity < 0.45 {
        (100.0, 150.0)
    } else if softest_specific_gravity <= 0.60 {
        (125.0, 175.0)
    } else {
        (175.0, 250.0)
    };
    Between::new(Pressure::from_psi(low), Pressure::from_psi(high))
}
