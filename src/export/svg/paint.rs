//! How shapes are filled and outlined, and how words are set.

use std::fmt::{self, Write as _};

use super::drawing::number;
use super::palette;

/// How a shape is filled and outlined. Without a fill a shape is hollow.
#[derive(Clone, Debug, Default)]
pub struct Paint {
    fill: Option<String>,
    stroke: Option<String>,
    stroke_width: f64,
    dash: Option<&'static str>,
    opacity: Option<f64>,
    class: Option<&'static str>,
}

impl Paint {
    pub fn fill(fill: impl fmt::Display) -> Paint {
        Paint {
            fill: Some(fill.to_string()),
            ..Paint::default()
        }
    }

    pub fn line(stroke: impl fmt::Display, width: f64) -> Paint {
        Paint::default().stroke(stroke, width)
    }

    pub fn stroke(mut self, stroke: impl fmt::Display, width: f64) -> Paint {
        self.stroke = Some(stroke.to_string());
        self.stroke_width = width;
        self
    }

    /// Lengths of dashes and gaps, as `stroke-dasharray` wants them.
    pub fn dash(mut self, dash: &'static str) -> Paint {
        self.dash = Some(dash);
        self
    }

    pub fn opacity(mut self, opacity: f64) -> Paint {
        self.opacity = Some(opacity);
        self
    }

    pub fn class(mut self, class: &'static str) -> Paint {
        self.class = Some(class);
        self
    }

    pub(super) fn write(&self, out: &mut String) {
        if let Some(class) = self.class {
            let _ = write!(out, " class=\"{class}\"");
        }
        match &self.fill {
            Some(fill) => {
                let _ = write!(out, " fill=\"{fill}\"");
            }
            None => out.push_str(" fill=\"none\""),
        }
        if let Some(stroke) = &self.stroke {
            let _ = write!(out, " stroke=\"{stroke}\"");
            let _ = write!(out, " stroke-width=\"{}\"", number(self.stroke_width));
            if let Some(dash) = self.dash {
                let _ = write!(out, " stroke-dasharray=\"{dash}\"");
            }
        }
        if let Some(opacity) = self.opacity {
            let _ = write!(out, " opacity=\"{}\"", number(opacity));
        }
    }
}

/// Where a line of words stands against its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// How words are set.
#[derive(Clone, Debug)]
pub struct Lettering {
    pub size: f64,
    pub anchor: Anchor,
    pub colour: String,
    pub bold: bool,
    /// A pale edge behind the letters, for words over lines or wood.
    pub halo: bool,
}

impl Lettering {
    pub fn new(size: f64) -> Lettering {
        Lettering {
            size,
            anchor: Anchor::Start,
            colour: palette::INK.to_string(),
            bold: false,
            halo: false,
        }
    }

    pub fn middle(mut self) -> Lettering {
        self.anchor = Anchor::Middle;
        self
    }

    pub fn end(mut self) -> Lettering {
        self.anchor = Anchor::End;
        self
    }

    pub fn colour(mut self, colour: impl fmt::Display) -> Lettering {
        self.colour = colour.to_string();
        self
    }

    pub fn bold(mut self) -> Lettering {
        self.bold = true;
        self
    }

    pub fn halo(mut self) -> Lettering {
        self.halo = true;
        self
    }
}

/// The width that words take, in user units: an estimate on the safe side, from the widths of a
/// broad sans-serif face.
pub fn words_width(words: &str, size: f64) -> f64 {
    let ems: f64 = words
        .chars()
        .map(|letter| match letter {
            'i' | 'l' | 'j' | '.' | ',' | ':' | '\'' | '|' | ' ' | '/' | 'I' | '-' => 0.36,
            'm' | 'w' | 'M' | 'W' | '—' | '×' | '≈' => 0.92,
            'A'..='Z' => 0.7,
            _ => 0.63,
        })
        .sum();
    ems * size
}
