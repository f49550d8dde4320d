//! All layouts of a piece that are worth at least so much under given prices.
//!
//! The tables of the pricing bound what the rest of a piece can still be worth, so that the
//! search goes down no branch in vain but for the counts of strips.

use std::collections::BTreeMap;

use super::column::Column;
use super::goal::Goal;
use super::master::Dual;
use super::model::Part;
use super::plan::{Plan, RipPlan, SectionPlan};
use super::price::{Prices, Reach, Tables};
use super::shape::Shape;

/// Columns of one class of pieces beyond which the enumeration gives up.
const MOST_COLUMNS: usize = 40_000;

/// What an enumeration found.
pub(super) struct Found {
    pub columns: Vec<Column>,
    /// Whether nothing was left out.
    pub is_complete: bool,
}

/// Every column whose reduced cost is at most `slack`, as long as one group needs no more than
/// `most_nodes` nodes; only the best column of equal strips from equal pieces.
#[expect(
    clippy::too_many_arguments,
    reason = "one call site; each is a different thing to bound the enumeration by"
)]
pub(super) fn columns(
    part: &Part,
    shapes: &[Shape],
    goal: &Goal,
    dual: &Dual,
    slack: f64,
    most_nodes: u64,
    threads: usize,
    is_spent: &(dyn Fn() -> bool + Sync),
) -> Found {
    let prices = Prices {
        rewards: dual.rewards.clone(),
        keep: goal.wood,
        // Seen to along a line only.
        limits: Some(part.strips.iter().map(|strip| strip.count).collect()),
    };
    let work = |group: usize| {
        let mut tables = Tables::new(part, group, &shapes[group], &prices);
        let mut nodes = most_nodes;
        let mut columns = Vec::new();
        let mut is_complete = true;
        for (index, piece) in part.pieces.iter().enumerate() {
            if piece.group != group || goal.cap(piece) == 0 {
                continue;
            }
            let cost = goal.piece_cost(piece) + dual.spend * piece.price as f64;
            let least = cost + dual.gains[index] - slack;
            let tolerance = 1e-12 * cost.abs() + 1e-3;
            if tables.value(piece) < least - tolerance {
                continue;
            }
            let width = shapes[group].width_of(piece);
            if let [clear] = piece.clear.as_slice()
                && tables.line(width).is_some()
            {
                let length = tables.units(clear.to - clear.from);
                let before = columns.len();
                is_complete &=
                    tables.each_along(width, length, least - tolerance, &mut |classes| {
                        if nodes == 0 || columns.len() - before >= MOST_COLUMNS {
                            return false;
                        }
                        nodes -= 1;
                        if nodes.is_multiple_of(1 << 11) && is_spent() {
                            nodes = 0;
                        }
                        columns.extend(Column::new(
                            part,
                            index,
                            tables.plan_of_strips(width, classes),
                        ));
                        true
                    });
                continue;
            }
            tables.fill_rips();
            let mut search = Search {
                part,
                piece: index,
                width,
                tables: &mut tables,
                left: part.strips.iter().map(|strip| strip.count).collect(),
                plan: Plan::default(),
                best: BTreeMap::new(),
                nodes: &mut nodes,
                is_spent,
                is_complete: true,
            };
            search.piece(least - tolerance);
            is_complete &= search.is_complete;
            columns.extend(search.best.into_values());
        }
        (columns, is_complete)
    };
    let mut found = Found {
        columns: Vec::new(),
        is_complete: true,
    };
    for (columns, is_complete) in super::threads::map(shapes.len(), threads, work) {
        found.columns.extend(columns);
        found.is_complete &= is_complete;
    }
    found
}

struct Search<'a, 'b> {
    part: &'a Part,
    piece: usize,
    width: usize,
    tables: &'b mut Tables<'a>,
    /// Strips of each class that a layout may still take.
    left: Vec<u32>,
    plan: Plan,
    best: BTreeMap<Vec<(u16, u32)>, Column>,
    nodes: &'b mut u64,
    is_spent: &'b (dyn Fn() -> bool + Sync),
    is_complete: bool,
}

/// What is still to be cut: a clear stretch and its place.
#[derive(Clone, Copy)]
struct Rest {
    clear: usize,
    length: usize,
    reach: Reach,
    /// No section of the stretch has been cut yet.
    is_all: bool,
    /// Sections without reach come longest first; the next is at most so long.
    longest: usize,
}

impl Search<'_, '_> {
    fn spend_node(&mut self) -> bool {
        if *self.nodes == 0 {
            self.is_complete = false;
            return false;
        }
        *self.nodes -= 1;
        if self.nodes.is_multiple_of(1 << 13) && (self.is_spent)() {
            *self.nodes = 0;
        }
        true
    }

    fn piece(&mut self, least: f64) {
        let piece = &self.part.pieces[self.piece];
        // Such sections are not listed.
        if self.tables.spanning_matters(piece) {
            self.is_complete = false;
        }
        let rest = self.rest(0);
        self.sections(rest, 0.0, least);
    }

    fn rest(&self, clear: usize) -> Rest {
        let piece = &self.part.pieces[self.piece];
        let stretch = &piece.clear[clear];
        let reach = if self.tables.reach_matters(self.width) {
            Reach {
                before: if clear == 0 { stretch.before } else { 0 },
                after: stretch.after,
            }
        } else {
            Reach::default()
        };
        Rest {
            clear,
            length: self.tables.units(stretch.to - stretch.from),
            reach,
            is_all: piece.clear.len() == 1,
            longest: usize::MAX,
        }
    }

    /// The most that the stretches after `clear` can be worth.
    fn later(&mut self, clear: usize) -> f64 {
        let piece = &self.part.pieces[self.piece];
        let mut sum = 0.0;
        for index in clear + 1..piece.clear.len() {
            let rest = self.rest(index);
            sum += self
                .tables
                .reaching(self.width, rest.length, rest.reach, rest.is_all)
                .0;
        }
        sum
    }

    /// Cuts `rest`, after sections of value `done`.
    fn sections(&mut self, rest: Rest, done: f64, least: f64) {
        if !self.spend_node() {
            return;
        }
        let later = self.later(rest.clear);
        // Nothing more from this stretch but what is kept whole.
        let kept = self.tables.kept_length(self.width, rest.length);
        if done + kept + later >= least {
            if rest.clear + 1 < self.part.pieces[self.piece].clear.len() {
                let next = self.rest(rest.clear + 1);
                self.sections(next, done + kept, least);
            } else {
                self.finish();
            }
        }
        let reach = rest.reach;
        let none = Reach::default();
        let mut ways: Vec<(Reach, Reach)> = vec![(none, reach)];
        if reach.before > 0 {
            ways.push((Reach { after: 0, ..reach }, Reach { before: 0, ..reach }));
        }
        if reach.after > 0 {
            ways.push((Reach { before: 0, ..reach }, Reach { after: 0, ..reach }));
        }
        if reach.before > 0 && reach.after > 0 && rest.is_all {
            ways.push((reach, none));
        }
        for (by, left) in ways {
            let over = by.before + by.after;
            let mut lengths = if over > 0 {
                self.tables.reaching_lengths(over)
            } else {
                self.tables.section_lengths(self.width)
            };
            if by == reach && reach.before > 0 && reach.after > 0 {
                lengths.clear();
            }
            lengths.retain(|&length| length < rest.length && (over > 0 || length <= rest.longest));
            lengths.push(rest.length);
            for length in lengths {
                // A section may be worth nothing under these prices and yet be needed.
                let value = self.tables.section(self.width, length, over);
                let behind = if length == rest.length {
                    0.0
                } else {
                    self.tables
                        .reaching(self.width, rest.length - length, left, false)
                        .0
                };
                if done + value + behind + later < least {
                    continue;
                }
                let next = Rest {
                    length: rest.length - length,
                    reach: left,
                    is_all: false,
                    longest: if over > 0 { rest.longest } else { length },
                    ..rest
                };
                self.section(rest.clear, length, by, next, done, behind + later, least);
            }
        }
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "the state of one level of the recursion"
    )]
    fn section(
        &mut self,
        clear: usize,
        length: usize,
        by: Reach,
        next: Rest,
        done: f64,
        behind: f64,
        least: f64,
    ) {
        let unit = self.part.grid.along;
        self.plan.sections.push(SectionPlan {
            clear,
            length: length as i64 * unit - self.part.habits.crosscut_kerf,
            reaches_before: by.before > 0,
            reaches_after: by.after > 0,
            spans: false,
            rips: Vec::new(),
        });
        let across = Across {
            length,
            units: self.tables.width_units(self.width),
            may_rip: self.tables.may_rip(length, by.before + by.after),
            last_rip: usize::MAX,
            next,
            behind,
            least,
        };
        self.rips(across, done);
        self.plan.sections.pop();
    }

    fn rips(&mut self, across: Across, done: f64) {
        if !self.spend_node() {
            return;
        }
        let is_first = self.section_rips() == 0;
        if !is_first {
            let beside = if across.may_rip {
                self.tables.kept_beside(across.length, across.units)
            } else {
                0.0
            };
            if done + beside + across.behind >= across.least {
                let next = across.next;
                if next.length > 0 {
                    self.sections(next, done + beside, across.least);
                } else if next.clear + 1 < self.part.pieces[self.piece].clear.len() {
                    let next = self.rest(next.clear + 1);
                    self.sections(next, done + beside, across.least);
                } else {
                    self.finish();
                }
            }
            if !across.may_rip {
                return;
            }
        }
        for rip in 0..self.tables.rips_count() {
            if rip > across.last_rip {
                break;
            }
            let units = self.tables.rip_units(rip);
            let fits = if across.may_rip {
                units <= across.units
            } else {
                self.tables.is_whole(self.width, rip)
            };
            if !fits {
                continue;
            }
            let beside = if across.may_rip {
                self.tables
                    .section_units(across.length, across.units - units)
            } else {
                0.0
            };
            let value = self.tables.rip_value(rip, across.length);
            if done + value + beside + across.behind < across.least {
                continue;
            }
            let width = self.tables.rip_width(rip);
            self.open_rips().push(RipPlan {
                width,
                ..RipPlan::default()
            });
            let along = Along {
                rip,
                length: across.length,
                last_strip: usize::MAX,
                beside,
                across: Across {
                    units: if across.may_rip {
                        across.units - units
                    } else {
                        0
                    },
                    last_rip: rip,
                    ..across
                },
            };
            self.strips(along, done);
            self.open_rips().pop();
        }
    }

    fn section_rips(&self) -> usize {
        self.plan
            .sections
            .last()
            .map_or(0, |section| section.rips.len())
    }

    fn open_rips(&mut self) -> &mut Vec<RipPlan> {
        let section = self.plan.sections.last_mut();
        &mut section.expect("a section is being cut").rips
    }

    fn strips(&mut self, along: Along, done: f64) {
        if !self.spend_node() {
            return;
        }
        let across = along.across;
        let rest = along.beside + across.behind;
        let depth = self.open_rips().last().map_or(0, |rip| rip.classes.len());
        if depth > 0 {
            let kept = self.tables.kept_behind(along.rip, along.length);
            if done + kept + rest >= across.least {
                self.rips(across, done + kept);
            }
        }
        for place in 0..self.tables.strips_count(along.rip) {
            if place > along.last_strip {
                break;
            }
            let (length, class) = self.tables.strip(along.rip, place);
            if length > along.length || self.left[class] == 0 {
                continue;
            }
            let reward = self.tables.reward(class);
            let behind = self.tables.rip_value(along.rip, along.length - length);
            if done + reward + behind + rest < across.least {
                continue;
            }
            self.left[class] -= 1;
            if let Some(rip) = self.open_rips().last_mut() {
                rip.classes.push(class as u16);
            }
            let next = Along {
                length: along.length - length,
                last_strip: place,
                ..along
            };
            self.strips(next, done + reward);
            if let Some(rip) = self.open_rips().last_mut() {
                rip.classes.pop();
            }
            self.left[class] += 1;
        }
    }

    fn finish(&mut self) {
        let Some(column) = Column::new(self.part, self.piece, self.plan.clone()) else {
            // Too tight for the exact sizes, which is so only on a coarse grid.
            return;
        };
        if self.best.len() >= MOST_COLUMNS {
            self.is_complete = false;
            *self.nodes = 0;
            return;
        }
        let known = self.best.get(&column.takes);
        if known.is_none_or(|known| column.wood < known.wood) {
            self.best.insert(column.takes.clone(), column);
        }
    }
}

/// A section being ripped: what is left of its width, and what comes after it.
#[derive(Clone, Copy)]
struct Across {
    length: usize,
    units: usize,
    may_rip: bool,
    last_rip: usize,
    next: Rest,
    behind: f64,
    least: f64,
}

/// A rip being cut to length.
#[derive(Clone, Copy)]
struct Along {
    rip: usize,
    length: usize,
    last_strip: usize,
    beside: f64,
    across: Across,
}
