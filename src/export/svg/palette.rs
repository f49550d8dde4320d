//! The colours of the drawings: warm paper, near-black ink, and the blue of a chalk line.
//! Everything else that has colour is wood. Contrast against the paper by WCAG 2.2 relative
//! luminance: ink 16.5, quiet 6.9, chalk 7.9, warning 7.8.

use std::fmt;

/// The ground that every drawing brings along.
pub const PAPER: &str = "#fcf9f2";
pub const INK: &str = "#1d1a16";
/// Dimension lines, secondary words.
pub const QUIET: &str = "#5d564a";
/// Faint rules and grids.
pub const FAINT: &str = "#d8cfbe";
/// Where the workshop is open.
pub const OPEN: &str = "#f1e8d6";
/// The accent.
pub const CHALK: &str = "#1d4e8f";
/// A pale wash of the accent, behind words.
pub const CHALK_WASH: &str = "#e3eaf3";
/// Lines of the hatch on waste.
pub const HATCH: &str = "#857a68";
/// What would go wrong. Always beside words and a different line, never colour alone.
pub const WARNING: &str = "#93291a";
/// Bare metal: clamps, bits, pins.
pub const STEEL: &str = "#a9adb0";
pub const STEEL_DARK: &str = "#5a6066";
/// Cauls and jig sheets, where the species does not matter.
pub const PLAIN_WOOD: &str = "#e0cfae";

/// Wood whose species nobody said.
pub const UNKNOWN_WOOD: Colour = Colour::new(190, 160, 120);

/// A colour in sRGB.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Colour {
    pub red: u8,
    pub green: u8,
    pub blue: u8,
}

impl Colour {
    pub const fn new(red: u8, green: u8, blue: u8) -> Colour {
        Colour { red, green, blue }
    }

    /// Reads `#rrggbb`.
    pub fn parse(text: &str) -> Option<Colour> {
        let digits = text.strip_prefix('#')?;
        if digits.len() != 6 || !digits.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return None;
        }
        let value = u32::from_str_radix(digits, 16).ok()?;
        Some(Colour::new(
            (value >> 16) as u8,
            (value >> 8) as u8,
            value as u8,
        ))
    }

    /// This colour with a share of `other`, from 0 to 1.
    pub fn mix(self, other: Colour, share: f64) -> Colour {
        let part = |own: u8, their: u8| {
            (f64::from(own) + (f64::from(their) - f64::from(own)) * share.clamp(0.0, 1.0)).round()
                as u8
        };
        Colour::new(
            part(self.red, other.red),
            part(self.green, other.green),
            part(self.blue, other.blue),
        )
    }

    pub fn darker(self, share: f64) -> Colour {
        self.mix(Colour::new(20, 12, 6), share)
    }

    pub fn lighter(self, share: f64) -> Colour {
        self.mix(Colour::new(255, 250, 240), share)
    }

    /// Relative luminance of WCAG 2.2, 0 for black to 1 for white.
    pub fn luminance(self) -> f64 {
        let linear = |channel: u8| {
            let share = f64::from(channel) / 255.0;
            if share <= 0.04045 {
                share / 12.92
            } else {
                ((share + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * linear(self.red) + 0.7152 * linear(self.green) + 0.0722 * linear(self.blue)
    }

    /// Ink or paper, whichever reads better on this colour.
    pub fn lettering(self) -> &'static str {
        // At this luminance ink and paper have the same contrast.
        const EQUAL: f64 = 0.196;
        if self.luminance() > EQUAL { INK } else { PAPER }
    }
}

impl fmt::Display for Colour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.red, self.green, self.blue)
    }
}
