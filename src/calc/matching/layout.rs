//! How one piece is cut, and where everything lies in it.

use super::request::{Shop, Stock};
use crate::units::{Area, Length};

/// How `copies` equal pieces are cut.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Layout {
    /// The id of the piece of stock or of the board for sale.
    pub stock: String,
    pub copies: u32,
    /// The parts of the first crosscut of the usable rectangle, in order along the grain.
    pub parts: Vec<Part>,
}

/// A part of a cut.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Part {
    /// Along the cut piece where the cut is a crosscut, across it where it is a rip.
    pub size: Length,
    pub content: Content,
}

/// What becomes of a part.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Content {
    /// It is cut again: a section by a rip, a rip by a crosscut.
    Cut(Vec<Part>),
    /// It is a strip with this id.
    Strip(String),
    /// It goes back to a bin.
    Keep,
    Waste,
}

/// The direction of a cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    Crosscut,
    Rip,
}

impl Direction {
    /// First crosscut, then rip, then crosscut.
    pub fn of_level(level: usize) -> Direction {
        if level == 1 {
            Direction::Rip
        } else {
            Direction::Crosscut
        }
    }

    pub fn kerf(self, shop: &Shop) -> Length {
        match self {
            Direction::Crosscut => shop.crosscut_kerf,
            Direction::Rip => shop.rip_kerf,
        }
    }
}

/// What a rectangle of a piece is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Use<'a> {
    Strip(&'a str),
    Keep,
    Waste,
    /// Taken by the saw: a cut of the given level (0 to 2).
    Kerf {
        level: usize,
    },
}

/// A rectangle in the coordinates of the untrimmed piece: `along` from the end at which the
/// layout starts, `across` from the straight edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rectangle<'a> {
    pub along: Length,
    pub across: Length,
    pub length: Length,
    pub width: Length,
    pub used_as: Use<'a>,
}

impl Rectangle<'_> {
    pub fn area(&self) -> Area {
        Area::of(self.length, self.width)
    }
}

impl Layout {
    /// Every strip, kept remainder, waste and kerf, in the order of the cuts. Parts of size 0
    /// are left out, and a kerf that runs off the end is cut short.
    pub fn rectangles<'a>(&'a self, stock: &Stock<'_>, shop: &Shop) -> Vec<Rectangle<'a>> {
        let (length, width) = stock.usable(shop);
        let whole = Rectangle {
            along: stock.start(shop),
            across: Length::ZERO,
            length,
            width,
            used_as: Use::Waste,
        };
        let mut rectangles = Vec::new();
        place(&self.parts, 0, whole, shop, &mut rectangles);
        rectangles
    }

    /// How many strips of each id one copy gives, in the order of the cuts.
    pub fn strips(&self) -> Vec<(&str, u32)> {
        let mut strips: Vec<(&str, u32)> = Vec::new();
        count_strips(&self.parts, &mut strips);
        strips
    }
}

fn count_strips<'a>(parts: &'a [Part], strips: &mut Vec<(&'a str, u32)>) {
    for part in parts {
        match &part.content {
            Content::Cut(parts) => count_strips(parts, strips),
            Content::Strip(id) => match strips.iter_mut().find(|(known, _)| known == id) {
                Some((_, count)) => *count += 1,
                None => strips.push((id, 1)),
            },
            Content::Keep | Content::Waste => {}
        }
    }
}

fn place<'a>(
    parts: &'a [Part],
    level: usize,
    whole: Rectangle<'_>,
    shop: &Shop,
    rectangles: &mut Vec<Rectangle<'a>>,
) {
    let direction = Direction::of_level(level);
    let kerf = direction.kerf(shop);
    let size = match direction {
        Direction::Crosscut => whole.length,
        Direction::Rip => whole.width,
    };
    let stretch = |at: Length, size: Length, used_as| match direction {
        Direction::Crosscut => Rectangle {
            along: whole.along + at,
            length: size,
            used_as,
            ..whole
        },
        Direction::Rip => Rectangle {
            across: whole.across + at,
            width: size,
            used_as,
            ..whole
        },
    };
    let mut at = Length::ZERO;
    for (position, part) in parts.iter().enumerate() {
        if position > 0 {
            let removed = kerf.min(size - at);
            if removed.is_positive() {
                rectangles.push(stretch(at, removed, Use::Kerf { level }));
            }
            at += kerf;
        }
        match &part.content {
            Content::Cut(parts) => {
                let inner = stretch(at, part.size, Use::Waste);
                place(parts, level + 1, inner, shop, rectangles);
            }
            Content::Strip(id) => rectangles.push(stretch(at, part.size, Use::Strip(id))),
            Content::Keep => rectangles.push(stretch(at, part.size, Use::Keep)),
            Content::Waste if part.size.is_positive() => {
                rectangles.push(stretch(at, part.size, Use::Waste));
            }
            Content::Waste => {}
        }
        at += part.size;
    }
}
