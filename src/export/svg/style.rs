//! What a caller chooses for a drawing, and the scale that follows.

use super::drawing::{Canvas, Rect};
use super::paint::{Lettering, Paint, words_width};
use super::palette::{self, Colour};
use crate::units::{Length, LengthFormat};

/// How a drawing is asked for.
#[derive(Clone, Copy)]
pub struct Style<'a> {
    /// Makes ids unique on a page with several drawings.
    pub prefix: &'a str,
    /// Width of the view box in user units; letters are 12 units high. [`Style::PHONE`] reads on
    /// a phone, [`Style::SHEET`] on a desk screen and on paper.
    pub width: f64,
    /// The member's unit.
    pub lengths: LengthFormat,
    /// The colour of each species when oiled.
    pub colour: &'a dyn Fn(&str) -> Colour,
}

impl Style<'_> {
    pub const PHONE: f64 = 380.0;
    pub const SHEET: f64 = 640.0;
    /// Height of words, in user units.
    pub const WORDS: f64 = 12.0;
    pub const SMALL: f64 = 10.5;

    pub fn show(&self, length: Length) -> String {
        self.lengths.show(length)
    }

    /// `length` by `width`, the unit said once.
    pub fn show_by(&self, length: Length, width: Length) -> String {
        let (first, second) = (self.show(length), self.show(width));
        match first.rsplit_once(' ') {
            Some((number, unit)) if second.ends_with(unit) => format!("{number} × {second}"),
            _ => format!("{first} × {second}"),
        }
    }

    pub fn colour(&self, species: &str) -> Colour {
        (self.colour)(species)
    }
}

/// User units for a real length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale(f64);

impl Scale {
    /// The largest scale at which `long` by `wide` fits into `width` by `height` user units.
    pub fn fitting(long: Length, wide: Length, width: f64, height: f64) -> Scale {
        let along = width / long.mm().max(1.0);
        let across = height / wide.mm().max(1.0);
        Scale(along.min(across))
    }

    pub fn units(self, length: Length) -> f64 {
        length.mm() * self.0
    }

    /// User units for one millimetre.
    pub fn per_mm(self) -> f64 {
        self.0
    }
}

/// A dimension line from `from` to `to` at height `y`, with its words over the line's middle.
pub fn dimension_across(canvas: &mut Canvas, from: f64, to: f64, y: f64, words: &str) {
    let line = Paint::line(palette::QUIET, 0.8);
    canvas.line((from, y), (to, y), &line);
    for x in [from, to] {
        canvas.line(
            (x - 2.5, y + 2.5),
            (x + 2.5, y - 2.5),
            &Paint::line(palette::INK, 1.1),
        );
    }
    let lettering = Lettering::new(Style::SMALL);
    let width = words_width(words, Style::SMALL);
    let middle = (from + to) / 2.0;
    // Words wider than their line stand beside it, inside the drawing.
    if width + 12.0 <= to - from {
        let gap = Rect::new(middle - width / 2.0 - 4.0, y - 6.0, width + 8.0, 12.0);
        canvas.rect(gap, &Paint::fill(palette::PAPER).class("paper"));
        canvas.words((middle, y + 3.6), words, &lettering.middle());
    } else if to + 6.0 + width <= canvas.width() {
        canvas.words((to + 6.0, y + 3.6), words, &lettering);
    } else {
        canvas.words((from - 6.0, y + 3.6), words, &lettering.end());
    }
}

/// A dimension line from `from` down to `to` at `x`, with its words to the right.
pub fn dimension_down(canvas: &mut Canvas, x: f64, from: f64, to: f64, words: &str) {
    canvas.line((x, from), (x, to), &Paint::line(palette::QUIET, 0.8));
    for y in [from, to] {
        canvas.line(
            (x - 2.5, y + 2.5),
            (x + 2.5, y - 2.5),
            &Paint::line(palette::INK, 1.1),
        );
    }
    // Words that would leave the drawing are set smaller, down to what can still be read.
    let room = canvas.width() - x - 7.0;
    let size = (room / words_width(words, 1.0)).clamp(8.0, Style::SMALL);
    canvas.words(
        (x + 5.0, (from + to) / 2.0 + 3.6),
        words,
        &Lettering::new(size),
    );
}

/// Several things in one sentence: `a`, `a and b`, `a, b and c`.
pub fn listed(things: &[String]) -> String {
    match things {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// `1 strip`, `3 strips`: a count and its noun.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
