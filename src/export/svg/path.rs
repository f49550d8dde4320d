//! The outline of a shape, as SVG path data.

use std::fmt::Write as _;

use super::drawing::{Rect, number};

/// The outline of a shape.
#[derive(Clone, Debug, Default)]
pub struct Path {
    data: String,
}

impl Path {
    pub fn new() -> Path {
        Path::default()
    }

    pub fn from_rect(rect: Rect) -> Path {
        Path::new()
            .to(rect.x, rect.y)
            .line(rect.right(), rect.y)
            .line(rect.right(), rect.bottom())
            .line(rect.x, rect.bottom())
            .shut()
    }

    pub fn from_circle(centre: (f64, f64), radius: f64) -> Path {
        Path::new()
            .to(centre.0 - radius, centre.1)
            .arc(radius, false, true, centre.0 + radius, centre.1)
            .arc(radius, false, true, centre.0 - radius, centre.1)
            .shut()
    }

    pub fn from_rounded_rect(rect: Rect, radius: f64) -> Path {
        let radius = radius.min(rect.width / 2.0).min(rect.height / 2.0);
        if radius <= 0.0 {
            return Path::from_rect(rect);
        }
        Path::new()
            .to(rect.x + radius, rect.y)
            .line(rect.right() - radius, rect.y)
            .arc(radius, false, true, rect.right(), rect.y + radius)
            .line(rect.right(), rect.bottom() - radius)
            .arc(radius, false, true, rect.right() - radius, rect.bottom())
            .line(rect.x + radius, rect.bottom())
            .arc(radius, false, true, rect.x, rect.bottom() - radius)
            .line(rect.x, rect.y + radius)
            .arc(radius, false, true, rect.x + radius, rect.y)
            .shut()
    }

    pub fn to(mut self, x: f64, y: f64) -> Path {
        let _ = write!(self.data, "M{} {}", number(x), number(y));
        self
    }

    pub fn line(mut self, x: f64, y: f64) -> Path {
        let _ = write!(self.data, "L{} {}", number(x), number(y));
        self
    }

    pub fn curve(mut self, by: (f64, f64), x: f64, y: f64) -> Path {
        let _ = write!(
            self.data,
            "Q{} {} {} {}",
            number(by.0),
            number(by.1),
            number(x),
            number(y)
        );
        self
    }

    /// An arc of a circle; `clockwise` as seen on the page.
    pub fn arc(mut self, radius: f64, large: bool, clockwise: bool, x: f64, y: f64) -> Path {
        let _ = write!(
            self.data,
            "A{0} {0} 0 {1} {2} {3} {4}",
            number(radius),
            u8::from(large),
            u8::from(clockwise),
            number(x),
            number(y)
        );
        self
    }

    pub fn shut(mut self) -> Path {
        self.data.push('Z');
        self
    }

    /// Both outlines as one shape; where they overlap an even number of times it is hollow only
    /// if they run in opposite directions.
    pub fn and(mut self, other: &Path) -> Path {
        self.data.push_str(&other.data);
        self
    }

    pub(super) fn data(&self) -> &str {
        &self.data
    }

    pub fn is_empty(&self) -> bool {
        self.data.is_empty()
    }
}
