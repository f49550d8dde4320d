//! What is asked: stock, boards for sale, wanted strips, and the habits of the shop.

use crate::units::{Length, Money, Volume};

/// A stretch of a piece, full width, that may lie in no strip and in nothing kept: a knot, a crack,
/// a painted end. Positions are measured along the untrimmed length.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stretch {
    pub from: Length,
    pub to: Length,
}

/// An offcut, or `count` equal ones. `length` runs along the grain, `width` across it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    pub id: String,
    pub species: String,
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    pub count: u32,
    pub unusable: Vec<Stretch>,
    /// The ends are square already, so no `end_trim` is lost.
    pub square_ends: bool,
    /// The edges are straight already, so no `edge_trim` is lost.
    pub straight_edges: bool,
    /// Which of equally good pieces to take first: the lowest. It breaks ties only, after every
    /// other goal; 0 throughout where nobody minds.
    pub preference: u32,
}

/// A board that can be bought, any number of times.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Board {
    pub id: String,
    pub species: String,
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    pub unusable: Vec<Stretch>,
    pub square_ends: bool,
    pub straight_edges: bool,
    pub price: Money,
}

/// One way in which a strip can be had: ripped `rip` wide from stock of at least `thickness`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Section {
    pub rip: Length,
    pub thickness: Length,
}

/// `count` equal strips that are wanted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Strip {
    pub id: String,
    /// Any of these will do.
    pub species: Vec<String>,
    pub count: u32,
    pub length: Length,
    /// Any of these will do.
    pub sections: Vec<Section>,
}

/// The share of a kept remainder's volume that counts as not used: 0 to 1, in whole billionths.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct KeepCredit {
    billionths: u32,
}

impl KeepCredit {
    const ONE: u32 = 1_000_000_000;

    /// `None` above one.
    pub const fn from_billionths(billionths: u32) -> Option<KeepCredit> {
        if billionths <= KeepCredit::ONE {
            Some(KeepCredit { billionths })
        } else {
            None
        }
    }

    pub fn share(self) -> f64 {
        f64::from(self.billionths) / f64::from(KeepCredit::ONE)
    }

    /// Numerator and denominator in lowest terms.
    pub fn fraction(self) -> (i128, i128) {
        let (mut a, mut b) = (KeepCredit::ONE, self.billionths);
        while b > 0 {
            (a, b) = (b, a % b);
        }
        (
            i128::from(self.billionths / a),
            i128::from(KeepCredit::ONE / a),
        )
    }
}

/// How the shop cuts and what it keeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shop {
    /// What a rip cut removes, across the grain.
    pub rip_kerf: Length,
    /// What a crosscut removes, along the grain.
    pub crosscut_kerf: Length,
    /// Lost from the width when one rough edge is made straight.
    pub edge_trim: Length,
    /// Lost at each rough end.
    pub end_trim: Length,
    /// The shortest section that may be ripped into more than one part.
    pub min_rip_length: Length,
    /// The least length of a remainder worth keeping.
    pub keep_length: Length,
    /// The least width of a remainder worth keeping.
    pub keep_width: Length,
    pub keep_credit: KeepCredit,
}

impl Default for Shop {
    /// Common practice, no single source; a workshop sets its own.
    fn default() -> Shop {
        Shop {
            rip_kerf: Length::from_inches(1, 8),
            crosscut_kerf: Length::from_inches(1, 8),
            edge_trim: Length::from_inches(1, 16),
            end_trim: Length::from_inches(1, 4),
            min_rip_length: Length::from_inches(12, 1),
            keep_length: Length::from_inches(8, 1),
            keep_width: Length::from_inches(3, 4),
            keep_credit: KeepCredit {
                billionths: 750_000_000,
            },
        }
    }
}

/// One matching problem, unchecked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Request {
    pub stock: Vec<Piece>,
    pub buy: Vec<Board>,
    pub strips: Vec<Strip>,
    pub shop: Shop,
}

/// What a piece from `stock` and a board from `buy` have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stock<'a> {
    pub id: &'a str,
    pub species: &'a str,
    pub length: Length,
    pub width: Length,
    pub thickness: Length,
    pub unusable: &'a [Stretch],
    pub square_ends: bool,
    pub straight_edges: bool,
    /// `None`: as many as wanted can be bought.
    pub count: Option<u32>,
    pub price: Money,
    pub preference: u32,
}

impl Stock<'_> {
    /// Full size, trims included.
    pub fn volume(&self) -> Volume {
        Volume::of(self.length, self.width, self.thickness)
    }

    /// Where the rectangle that may be cut begins along the untrimmed length.
    pub fn start(&self, shop: &Shop) -> Length {
        if self.square_ends {
            Length::ZERO
        } else {
            shop.end_trim
        }
    }

    /// Length and width of the rectangle that may be cut; not positive where the trims take all.
    pub fn usable(&self, shop: &Shop) -> (Length, Length) {
        let edge_trim = if self.straight_edges {
            Length::ZERO
        } else {
            shop.edge_trim
        };
        (self.length - self.start(shop) * 2, self.width - edge_trim)
    }
}

impl Request {
    /// All pieces, then all boards for sale.
    pub fn pieces(&self) -> impl Iterator<Item = Stock<'_>> {
        let stock = self.stock.iter().map(|piece| Stock {
            id: &piece.id,
            species: &piece.species,
            length: piece.length,
            width: piece.width,
            thickness: piece.thickness,
            unusable: &piece.unusable,
            square_ends: piece.square_ends,
            straight_edges: piece.straight_edges,
            count: Some(piece.count),
            price: Money::ZERO,
            preference: piece.preference,
        });
        let buy = self.buy.iter().map(|board| Stock {
            id: &board.id,
            species: &board.species,
            length: board.length,
            width: board.width,
            thickness: board.thickness,
            unusable: &board.unusable,
            square_ends: board.square_ends,
            straight_edges: board.straight_edges,
            count: None,
            price: board.price,
            preference: 0,
        });
        stock.chain(buy)
    }
}
