//! Sections that span the flaws inside a piece.
//!
//! Where the clear stretches beside a flaw are too short to be ripped alone, the whole piece may still be ripped from end
//! to end, and each rip crosscut on both sides of the flaw. Where they are long enough, sections on each side do
//! at least as well, since each may be ripped otherwise; so only sections of the whole usable length are planned.

use super::layout::{Content, Part as LayoutPart};
use super::model::{Part, PieceClass};
use super::plan::{Plan, RipPlan, SectionPlan, finish, waste};
use super::price::Tables;
use crate::units::Length;

/// Where something lies along a rip: a strip of a class, or what is kept.
struct Cell {
    from: i64,
    to: i64,
    class: Option<u16>,
}

impl Plan {
    /// The section that spans flaws; it is the only one.
    pub fn spanning(&self) -> Option<&SectionPlan> {
        match self.sections.as_slice() {
            [section] if section.spans => Some(section),
            _ => None,
        }
    }
}

impl RipPlan {
    /// What lies along it in each clear stretch of the piece; `None` where that does not fit.
    fn cells(&self, part: &Part, piece: &PieceClass) -> Option<Vec<Cell>> {
        let habits = &part.habits;
        let kerf = habits.crosscut_kerf;
        if self.behind.len() >= piece.clear.len().max(1) {
            return None;
        }
        let mut cells: Vec<Cell> = Vec::new();
        let mut free = 0;
        for (place, clear) in piece.clear.iter().enumerate() {
            // What is not wanted before it is cut off on both sides.
            let mut at = if clear.earliest <= free {
                free
            } else {
                clear.earliest.max(free + kerf)
            };
            let classes = match place.checked_sub(1) {
                None => Some(&self.classes),
                Some(behind) => self.behind.get(behind),
            };
            let count = cells.len();
            for &class in classes.into_iter().flatten() {
                let to = at + part.strips[usize::from(class)].length;
                if to > clear.to {
                    return None;
                }
                let class = Some(class);
                cells.push(Cell {
                    from: at,
                    to,
                    class,
                });
                at = to + kerf;
            }
            if clear.to - at >= habits.keep_length && self.width >= habits.keep_width {
                let (from, to) = (at, clear.to);
                let class = None;
                cells.push(Cell { from, to, class });
                at = to + kerf;
            }
            if cells.len() > count {
                free = at;
            }
        }
        Some(cells)
    }
}

impl SectionPlan {
    /// Its rips, with what is left beside them as a last one.
    fn all_rips(&self, part: &Part, piece: &PieceClass) -> Option<Vec<RipPlan>> {
        let fits = self.fits_across(part, piece)
            && (piece.usable_length >= part.habits.min_rip_length || !self.is_ripped(piece));
        let mut rips = fits.then(|| self.rips.clone())?;
        let width = self.beside(part, piece);
        if width >= part.habits.keep_width {
            rips.push(RipPlan {
                width,
                ..RipPlan::default()
            });
        }
        Some(rips)
    }

    /// The area that is kept of a piece that it spans; `None` where it does not fit.
    pub fn spanning_kept(&self, part: &Part, piece: &PieceClass) -> Option<i128> {
        let mut kept = 0;
        for rip in self.all_rips(part, piece)? {
            let cells = rip.cells(part, piece)?;
            let cells = cells.iter().filter(|cell| cell.class.is_none());
            kept += cells
                .map(|cell| i128::from(cell.to - cell.from) * i128::from(rip.width))
                .sum::<i128>();
        }
        Some(kept)
    }

    /// The cuts of a piece that it spans; `None` where it does not fit.
    pub fn spanning_layout(
        &self,
        part: &Part,
        piece: &PieceClass,
        name: &mut dyn FnMut(u16) -> String,
    ) -> Option<Vec<LayoutPart>> {
        let habits = &part.habits;
        let mut rips = Vec::new();
        let mut across = 0;
        for rip in self.all_rips(part, piece)? {
            let mut parts = Vec::new();
            let mut at = 0;
            for cell in rip.cells(part, piece)? {
                if cell.from > at {
                    parts.push(waste(cell.from - at - habits.crosscut_kerf));
                }
                parts.push(LayoutPart {
                    size: Length::from_nm(cell.to - cell.from),
                    content: match cell.class {
                        Some(class) => Content::Strip(name(class)),
                        None => Content::Keep,
                    },
                });
                at = cell.to + habits.crosscut_kerf;
            }
            if parts.is_empty() {
                continue;
            }
            finish(&mut parts, at, habits.crosscut_kerf, piece.usable_length);
            rips.push(LayoutPart {
                size: Length::from_nm(rip.width),
                content: Content::Cut(parts),
            });
            across += rip.width + habits.rip_kerf;
        }
        finish(&mut rips, across, habits.rip_kerf, piece.usable_width);
        Some(vec![LayoutPart {
            size: Length::from_nm(piece.usable_length),
            content: Content::Cut(rips),
        }])
    }
}

impl Tables<'_> {
    /// Whether a section that spans a flaw can give more than sections beside it: where these may be too short to be
    /// ripped, or the flaw is so short that contents behind it may begin where others before it do not let them.
    pub fn spanning_matters(&self, piece: &PieceClass) -> bool {
        let is_tight = piece.clear.iter().any(|clear| clear.earliest < clear.from);
        let is_parted = piece.clear.len() > 1;
        is_parted && (is_tight || self.reach_matters(self.shape.width_of(piece)))
    }

    /// A layout of one section that spans the flaws inside a piece, where that can give more than sections beside
    /// them.
    pub fn spanning_plan(&mut self, piece: &PieceClass) -> Option<Plan> {
        let width = self.shape.width_of(piece);
        let is_long = piece.usable_length >= self.part.habits.min_rip_length;
        if piece.clear.len() < 2 || !is_long || !self.spanning_matters(piece) {
            return None;
        }
        let clear = piece.clear.iter();
        let lengths: Vec<usize> = clear
            .map(|clear| self.units(clear.to - clear.earliest))
            .collect();
        let value = |rip: usize| -> f64 {
            lengths
                .iter()
                .map(|&length| self.rip_value(rip, length))
                .sum()
        };
        let items: Vec<(usize, usize, f64)> = (0..self.rips_count())
            .map(|rip| (rip, self.rip_units(rip), value(rip)))
            .filter(|item| item.2 > 0.0)
            .collect();
        // The best rips by width, and the last of them.
        let mut best: Vec<(f64, Option<(usize, usize)>)> = vec![(0.0, None)];
        for at in 1..=self.width_units(width) {
            let mut here = (best[at - 1].0, None);
            for &(rip, units, value) in &items {
                if units <= at && best[at - units].0 + value > here.0 {
                    here = (best[at - units].0 + value, Some((rip, units)));
                }
            }
            best.push(here);
        }
        let mut rips = Vec::new();
        let mut at = self.width_units(width);
        while at > 0 {
            let Some((rip, units)) = best[at].1 else {
                at -= 1;
                continue;
            };
            let mut classes = lengths.iter().map(|&length| self.rip_plan(rip, length));
            rips.push(RipPlan {
                width: self.rip_width(rip),
                classes: classes.next().unwrap_or_default(),
                behind: classes.collect(),
            });
            at -= units;
        }
        rips.retain(|rip| !rip.is_empty());
        let clear = piece.clear.first()?;
        let section = SectionPlan {
            clear: 0,
            length: clear.to - clear.from,
            reaches_before: true,
            reaches_after: true,
            spans: true,
            rips,
        };
        (!section.rips.is_empty()).then(|| Plan {
            sections: vec![section],
        })
    }
}
