//! What one stage of the search makes small, in whole units.

use super::column::{Column, Worth};
use super::model::{Part, PieceClass};

/// Weights of the goals, and what must not be exceeded. All weights are whole numbers, so that
/// sums of costs are exact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Goal {
    /// Of a missing strip; what may be missing is limited instead where `limit` is given.
    pub missing: f64,
    /// Of a cent.
    pub spend: f64,
    /// Of a unit of wood.
    pub wood: f64,
    /// Of a touched piece: far below a unit of wood.
    pub touched: f64,
    pub limit: Option<Limit>,
}

/// The best that has been reached in the goals before this one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Limit {
    pub missing: u32,
    /// In cents.
    pub spend: Option<i64>,
}

const EXACT: f64 = (1_u64 << 50) as f64;

impl Goal {
    /// All goals in one, weighted so that earlier ones nearly always come first.
    pub fn all(part: &Part) -> Goal {
        let dearest = part
            .pieces
            .iter()
            .map(|piece| piece.wood)
            .fold(1.0, f64::max);
        let most_price = part
            .pieces
            .iter()
            .map(|piece| piece.price)
            .max()
            .unwrap_or(0);
        let most_price = most_price.max(1) as f64;
        // A missing strip weighs like several whole pieces, a bought board like a few.
        let spend = (4.0 * dearest / most_price).ceil().max(1.0);
        let missing = (8.0 * dearest + 3.0 * spend * most_price).ceil();
        let wanted = f64::from(part.wanted());
        let mut scale = 1.0;
        while 2.0 * scale * missing * wanted < EXACT {
            scale *= 2.0;
        }
        Goal {
            missing: missing * scale,
            spend: spend * scale,
            wood: scale,
            touched: touched(scale, wanted),
            limit: None,
        }
    }

    pub fn missing(part: &Part) -> Goal {
        let mut scale = 1.0;
        while 2.0 * scale * f64::from(part.wanted()) < EXACT / 1024.0 {
            scale *= 2.0;
        }
        Goal {
            missing: scale,
            spend: 0.0,
            wood: 0.0,
            touched: 0.0,
            limit: None,
        }
    }

    pub fn spend(part: &Part, missing: u32) -> Goal {
        let most_price = part
            .pieces
            .iter()
            .map(|piece| piece.price)
            .max()
            .unwrap_or(0);
        let most = most_price.max(1) as f64 * f64::from(part.wanted());
        let mut scale = 1.0;
        while 2.0 * scale * most < EXACT {
            scale *= 2.0;
        }
        Goal {
            missing: 0.0,
            spend: scale,
            wood: 0.0,
            touched: 0.0,
            limit: Some(Limit {
                missing,
                spend: None,
            }),
        }
    }

    pub fn wood(part: &Part, missing: u32, spend: i64) -> Goal {
        Goal {
            missing: 0.0,
            spend: 0.0,
            wood: part.grid.scale,
            touched: touched(part.grid.scale, f64::from(part.wanted())),
            limit: Some(Limit {
                missing,
                spend: Some(spend),
            }),
        }
    }

    /// Cost of cutting a piece, nothing kept.
    pub fn piece_cost(&self, piece: &PieceClass) -> f64 {
        self.spend * piece.price as f64 + self.wood * piece.wood + self.touched
    }

    pub fn column_cost(&self, part: &Part, column: &Column) -> f64 {
        let price = part.pieces[column.piece].price as f64;
        self.spend * price + self.wood * column.wood + self.touched
    }

    pub fn cost(&self, worth: &Worth) -> f64 {
        self.missing * f64::from(worth.missing)
            + self.spend * worth.spend as f64
            + self.wood * worth.wood
            + self.touched * f64::from(worth.touched)
    }

    /// How many of a class can be cut.
    pub fn cap(&self, piece: &PieceClass) -> u32 {
        match self.limit.and_then(|limit| limit.spend) {
            Some(spend) if piece.price > 0 => {
                let affordable = u32::try_from(spend / piece.price).unwrap_or(u32::MAX);
                piece.count.min(affordable)
            }
            _ => piece.count,
        }
    }
}

/// One unit for each piece, if a thousandth of a unit of wood outweighs them all.
fn touched(scale: f64, wanted: f64) -> f64 {
    if scale > 1000.0 * (wanted + 1.0) {
        1.0
    } else {
        0.0
    }
}
