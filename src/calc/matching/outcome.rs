//! What a solve gives back.

use super::layout::Layout;
use super::request::KeepCredit;
use crate::units::{Money, Sentence, Volume};

/// The best answer found, and how good any answer can be.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    pub layouts: Vec<Layout>,
    /// Strips that the layouts give.
    pub covered: u32,
    /// What the layouts do not give, in the order of the request.
    pub uncovered: Vec<Uncovered>,
    pub spend: Money,
    pub net_wood: NetWood,
    /// Pieces that are cut, bought ones included.
    pub touched: u32,
    pub bound: Bound,
    /// Whether all three bounds equal their values.
    pub proven: bool,
    pub statistics: Statistics,
}

/// Strips that could not be had.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Uncovered {
    pub id: String,
    pub count: u32,
    /// The nearest thing in stock and what it lacks, as one sentence.
    pub why: Sentence,
}

/// The volume of the cut pieces less the credited share of what is kept of them, exact.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NetWood {
    pub cut: Volume,
    pub kept: Volume,
    pub credit: KeepCredit,
}

impl NetWood {
    /// In cubic nanometres times the credit's denominator, so that answers compare exactly.
    pub fn scaled(&self) -> i128 {
        let (numerator, denominator) = self.credit.fraction();
        self.cut.nm3() * denominator - self.kept.nm3() * numerator
    }

    pub fn mm3(&self) -> f64 {
        let (_, denominator) = self.credit.fraction();
        scaled_to_mm3(self.scaled(), denominator)
    }
}

/// Divides in whole numbers first, so that what is lost is far below a billionth.
pub(super) fn scaled_to_mm3(scaled: i128, denominator: i128) -> f64 {
    const NM3_PER_MM3: i128 = 1_000_000_000_000_000_000;
    let unit = NM3_PER_MM3 * denominator;
    let whole = scaled.div_euclid(unit);
    whole as f64 + scaled.rem_euclid(unit) as f64 / unit as f64
}

/// What no answer can beat, in the order of the goals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bound {
    /// Holds for every answer.
    pub covered: u32,
    /// Holds for every answer that covers at least as many strips as this one.
    pub spend: Money,
    /// Holds for every answer that covers as many and spends no more.
    pub net_wood_mm3: f64,
}

/// How much work a solve took.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Statistics {
    /// Rounds of column generation.
    pub rounds: u64,
    /// Layouts that were considered as columns.
    pub columns: u64,
    /// Nodes of all exact searches.
    pub nodes: u64,
    /// Neighbourhoods that were searched.
    pub neighbourhoods: u64,
}

/// Where a running solve stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    pub covered: u32,
    pub spend: Money,
    pub net_wood_mm3: f64,
    pub bound: Bound,
}
