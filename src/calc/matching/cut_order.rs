//! In which order pieces go to the saws: the fewest settings of stop and fence over all pieces, long and safe cuts first.
//!
//! A layout is cut in three levels, and each level is one visit to a saw for all pieces together: first every piece is
//! crosscut into sections, then sections are ripped, then rips are crosscut into strips. The three visits
//! never wait for each other's results the other way round, so within a visit all cuts of one setting can be made one
//! after the other, and a visit needs as many settings as there are different sizes. That is the fewest there can be for these
//! layouts; `ties` chooses layouts that need few. In each
//! visit the largest setting comes first, and the longest piece of each setting, so that what is in the hands stays long
//! and wide as long as it can, and the smallest parts are cut last, when they can be held by what is left beside them.
//!
//! What is left over is not cut to a size: it is what remains after the last cut.

use std::collections::BTreeSet;

use super::layout::{Content, Direction, Layout, Part};
use super::request::{Shop, Stock};
use crate::units::Length;

/// A visit to one saw.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Visit {
    pub direction: Direction,
    /// 0 for sections, 1 for rips, 2 for strips.
    pub level: usize,
    /// From the largest on.
    pub settings: Vec<Setting>,
}

/// One setting of the stop (crosscuts) or the fence (rips), and everything that is cut with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setting {
    pub size: Length,
    /// The longest first; of equally long ones in the order of the layouts.
    pub cuts: Vec<Cut>,
}

/// Equal cuts in the pieces of one layout.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cut {
    /// Place in the list of layouts.
    pub layout: usize,
    /// Parts that come from it, over all copies of the piece.
    pub parts: u32,
    /// The shortest thing that must be held: along the grain what is ripped, or the part that is cut off.
    pub held: Length,
}

/// The visits for these layouts; levels at which nothing is cut are left out.
///
/// `layouts` come with their pieces. Where a rough end or edge is trimmed first, that is the beginning of the first
/// visit and no setting of its own.
pub fn cut_order(layouts: &[(&Layout, Stock<'_>)], shop: &Shop) -> Vec<Visit> {
    let mut visits: Vec<Visit> = (0..3)
        .map(|level| Visit {
            direction: Direction::of_level(level),
            level,
            settings: Vec::new(),
        })
        .collect();
    for (place, (layout, stock)) in layouts.iter().enumerate() {
        let (length, _) = stock.usable(shop);
        collect(&layout.parts, 0, length, layout.copies, place, &mut visits);
    }
    for visit in &mut visits {
        visit
            .settings
            .sort_by_key(|setting| std::cmp::Reverse(setting.size));
        for setting in &mut visit.settings {
            setting
                .cuts
                .sort_by_key(|cut| (std::cmp::Reverse(cut.held), cut.layout));
        }
    }
    visits.retain(|visit| !visit.settings.is_empty());
    visits
}

/// What the cuts of one layout ask of the saws.
pub(super) struct Marks {
    /// Level and size of each setting.
    pub settings: BTreeSet<(usize, Length)>,
    /// Parts that come from the rip saw.
    pub rips: u32,
}

pub(super) fn marks(parts: &[Part]) -> Marks {
    let mut marks = Marks {
        settings: BTreeSet::new(),
        rips: 0,
    };
    marks.collect(parts, 0);
    marks
}

impl Marks {
    fn collect(&mut self, parts: &[Part], level: usize) {
        for part in parts {
            if parts.len() > 1 && matters(part) {
                self.settings.insert((level, part.size));
                self.rips += u32::from(Direction::of_level(level) == Direction::Rip);
            }
            if let Content::Cut(inner) = &part.content {
                self.collect(inner, level + 1);
            }
        }
    }
}

/// Notes the cuts of one part list; `length` is how long what is cut lies along the grain.
fn collect(
    parts: &[Part],
    level: usize,
    length: Length,
    copies: u32,
    layout: usize,
    visits: &mut [Visit],
) {
    let direction = Direction::of_level(level);
    // A single part that takes all is not cut at this level.
    let is_cut = parts.len() > 1;
    for part in parts {
        let inner = match direction {
            Direction::Crosscut => part.size,
            Direction::Rip => length,
        };
        if is_cut && matters(part) {
            note(
                &mut visits[level].settings,
                part.size,
                layout,
                copies,
                inner,
            );
        }
        if let Content::Cut(parts) = &part.content {
            collect(parts, level + 1, inner, copies, layout, visits);
        }
    }
}

/// Waste and what is kept are simply what is left.
fn matters(part: &Part) -> bool {
    matches!(part.content, Content::Cut(_) | Content::Strip(_))
}

fn note(settings: &mut Vec<Setting>, size: Length, layout: usize, copies: u32, held: Length) {
    let at = settings
        .iter()
        .position(|setting| setting.size == size)
        .unwrap_or_else(|| {
            settings.push(Setting {
                size,
                cuts: Vec::new(),
            });
            settings.len() - 1
        });
    let cuts = &mut settings[at].cuts;
    match cuts.last_mut() {
        Some(cut) if cut.layout == layout => {
            cut.parts += copies;
            cut.held = cut.held.min(held);
        }
        _ => cuts.push(Cut {
            layout,
            parts: copies,
            held,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Money;

    fn inches(count: i64) -> Length {
        Length::from_inches(count, 1)
    }

    fn part(size: Length, content: Content) -> Part {
        Part { size, content }
    }

    fn strip(size: Length) -> Part {
        part(size, Content::Strip("s".to_owned()))
    }

    fn stock(length: i64) -> Stock<'static> {
        Stock {
            id: "A001",
            species: "hard maple",
            length: inches(length),
            width: inches(5),
            thickness: inches(1),
            unusable: &[],
            square_ends: true,
            straight_edges: true,
            count: Some(1),
            price: Money::ZERO,
            preference: 0,
        }
    }

    #[test]
    fn one_fence_setting_serves_all_pieces_and_the_widest_comes_first() {
        let shop = Shop::default();
        // 40 in: a section of 18 in, ripped 2 in and 1 in wide, and the rest kept.
        let ripped = |wide: i64| {
            part(
                inches(18),
                Content::Cut(vec![
                    strip(inches(wide)),
                    strip(inches(1)),
                    part(inches(1), Content::Keep),
                ]),
            )
        };
        let layout = |wide: i64, copies: u32| Layout {
            stock: "A001".to_owned(),
            copies,
            parts: vec![ripped(wide), part(inches(20), Content::Keep)],
        };
        let (one, two) = (layout(2, 1), layout(3, 2));
        let order = cut_order(&[(&one, stock(40)), (&two, stock(40))], &shop);
        assert_eq!(order.len(), 2, "nothing is crosscut at the third level");
        assert_eq!(order[0].settings.len(), 1, "all sections are 18 in");
        assert_eq!(order[0].settings[0].cuts.len(), 2);
        let widths: Vec<Length> = order[1]
            .settings
            .iter()
            .map(|setting| setting.size)
            .collect();
        assert_eq!(widths, [inches(3), inches(2), inches(1)]);
        let narrow = &order[1].settings[2];
        assert_eq!(narrow.cuts.iter().map(|cut| cut.parts).sum::<u32>(), 3);
        assert_eq!(narrow.cuts[0].held, inches(18));
    }

    #[test]
    fn a_piece_that_is_a_strip_already_needs_no_cut() {
        let whole = Layout {
            stock: "A001".to_owned(),
            copies: 1,
            parts: vec![strip(inches(18))],
        };
        assert!(cut_order(&[(&whole, stock(18))], &Shop::default()).is_empty());
    }
}
