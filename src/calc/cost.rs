//! What a project costs: wood, glue, abrasive and finish.

use crate::units::{Money, Volume};

/// The workshop's prices; any may be nil.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Prices {
    /// Of wood from the bins, per board foot.
    pub bin_wood_board_foot: Money,
    /// Of glue, per kilogram.
    pub glue_kilogram: Money,
    /// Of sandpaper for one square metre of board, all grits together.
    pub abrasive_square_metre: Money,
    /// Of finish, per litre.
    pub finish_litre: Money,
}

/// What a project uses.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Used {
    /// From the bins, as cut.
    pub bin_wood: Volume,
    pub bought: Vec<Bought>,
    pub glue_grams: f64,
    /// Sanded surface.
    pub sanded_m2: f64,
    pub finish_litres: f64,
}

/// Boards that are bought for the project.
#[derive(Clone, Debug, PartialEq)]
pub struct Bought {
    pub name: String,
    pub price: BoardPrice,
    pub count: i64,
}

/// How a board is sold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BoardPrice {
    /// For the piece.
    Piece(Money),
    /// By the board foot as tallied.
    BoardFoot { tallied: f64, price: Money },
}

/// The sum and its parts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Cost {
    pub bin_wood: Money,
    pub bought_wood: Money,
    pub glue: Money,
    pub abrasive: Money,
    pub finish: Money,
}

impl Cost {
    pub fn total(&self) -> Money {
        self.bin_wood + self.bought_wood + self.glue + self.abrasive + self.finish
    }
}

/// Each part to the nearest cent.
pub fn cost(used: &Used, prices: &Prices) -> Cost {
    let times = |price: Money, amount: f64| Money::from_units_rounded(price.units() * amount);
    let bought_wood = used
        .bought
        .iter()
        .map(|board| match board.price {
            BoardPrice::Piece(price) => price * board.count,
            BoardPrice::BoardFoot { tallied, price } => times(price, tallied) * board.count,
        })
        .sum();
    Cost {
        bin_wood: times(prices.bin_wood_board_foot, used.bin_wood.board_feet()),
        bought_wood,
        glue: times(prices.glue_kilogram, used.glue_grams / 1000.0),
        abrasive: times(prices.abrasive_square_metre, used.sanded_m2),
        finish: times(prices.finish_litre, used.finish_litres),
    }
}
