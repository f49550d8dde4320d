//! Layouts as columns of a linear program, and answers made of them.

use std::sync::Arc;

use super::model::Part;
use super::plan::Plan;

/// A layout of one class of pieces, by what it takes and costs.
#[derive(Clone, Debug)]
pub(super) struct Column {
    pub piece: usize,
    /// Strips of each class, by class; at least one.
    pub takes: Vec<(u16, u32)>,
    /// Wood used less credit for what is kept, in the grid's units of volume.
    pub wood: f64,
    pub plan: Arc<Plan>,
}

impl Column {
    /// `None` where the plan does not fit or gives nothing.
    pub fn new(part: &Part, piece: usize, plan: Plan) -> Option<Column> {
        let takes = plan.takes();
        if takes.is_empty() {
            return None;
        }
        let class = &part.pieces[piece];
        let kept = plan.kept(part, class)?;
        Some(Column {
            piece,
            takes,
            wood: class.wood - part.kept_wood(class, kept),
            plan: Arc::new(plan),
        })
    }

    /// The layout without the strips that go beyond `left` of each class.
    pub fn limited(&self, part: &Part, left: &[u32]) -> Option<Column> {
        if self.fits(left) {
            return Some(self.clone());
        }
        let mut plan = (*self.plan).clone();
        for &(class, count) in &self.takes {
            let most = left[usize::from(class)];
            if count > most {
                plan.limit(class, most);
            }
        }
        Column::new(part, self.piece, plan)
    }

    pub fn fits(&self, left: &[u32]) -> bool {
        self.takes
            .iter()
            .all(|&(class, count)| count <= left[usize::from(class)])
    }

    pub fn strips(&self) -> u32 {
        self.takes.iter().map(|take| take.1).sum()
    }
}

/// What an answer is worth, in the order of the goals: less is better throughout.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub(super) struct Worth {
    pub missing: u32,
    /// In cents.
    pub spend: i64,
    pub wood: f64,
    pub touched: u32,
}

/// Columns with the number of pieces that are cut so.
#[derive(Clone, Debug, Default)]
pub(super) struct Answer {
    pub uses: Vec<(Column, u32)>,
}

impl Answer {
    pub fn worth(&self, part: &Part) -> Worth {
        let mut worth = Worth {
            missing: part.wanted(),
            spend: 0,
            wood: 0.0,
            touched: 0,
        };
        for (column, count) in &self.uses {
            worth.missing -= column.strips() * count;
            worth.spend += part.pieces[column.piece].price * i64::from(*count);
            worth.wood += column.wood * f64::from(*count);
            worth.touched += count;
        }
        worth
    }

    /// Strips of each class that are still wanted.
    pub fn left(&self, part: &Part) -> Vec<u32> {
        let mut left: Vec<u32> = part.strips.iter().map(|strip| strip.count).collect();
        for (column, count) in &self.uses {
            for &(class, taken) in &column.takes {
                left[usize::from(class)] -= taken * count;
            }
        }
        left
    }

    /// Pieces of each class that are not cut.
    pub fn pieces_left(&self, part: &Part) -> Vec<u32> {
        let mut left: Vec<u32> = part.pieces.iter().map(|piece| piece.count).collect();
        for (column, count) in &self.uses {
            left[column.piece] -= count;
        }
        left
    }
}

impl Column {
    /// The column of `plan`, without its last rips and strips where it does not fit otherwise.
    ///
    /// The more have been left out, the more are at once: plans on a coarse grid may be far too long.
    pub fn fitting(part: &Part, piece: usize, mut plan: Plan) -> Option<Column> {
        if let Some(column) = Column::new(part, piece, plan.clone()) {
            return Some(column);
        }
        plan.leave_out_beside(part, &part.pieces[piece]);
        let mut left: u32 = plan.takes().iter().map(|take| take.1).sum();
        let mut left_out = 0;
        while left > 0 {
            if let Some(column) = Column::new(part, piece, plan.clone()) {
                return Some(column);
            }
            // Never all that is left at once: a few strips fit nearly always.
            let next = (1 + left_out / 4).min(left.div_ceil(2));
            for _ in 0..next {
                plan.leave_out_last()?;
            }
            left_out += next;
            left -= next;
        }
        None
    }
}
