//! What the bins could give: strips of one size, and strips as wide as the scraps happen to be.
//!
//! Each piece is looked at alone and cut in a plain way: ripped over its whole length, each rip crosscut
//! between its unusable stretches. So a count is what the pieces surely give for one size of strip; a match, which mixes
//! sizes and cuts, may find more and never fewer.

use std::collections::BTreeMap;

use super::free_width::Scrap;
use crate::calc::matching::{Piece, Section, Shop};
use crate::units::Length;

/// How many strips `length` long each species gives from its pieces, each piece cut by the one of `sections`
/// that gives most. Species that give none are left out.
pub fn strips_in_stock(
    stock: &[Piece],
    sections: &[Section],
    length: Length,
    shop: &Shop,
) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for piece in stock {
        let each = sections
            .iter()
            .map(|section| strips_of(piece, *section, length, shop))
            .max();
        let strips = each.unwrap_or(0).saturating_mul(piece.count as usize);
        if strips > 0 {
            *counts.entry(piece.species.clone()).or_default() += strips;
        }
    }
    counts
}

/// Strips on edge for a board that asks rips of `rip`: as wide in the board as each piece is thick, less `glue_face` on
/// both sides.
pub fn scraps_on_edge(
    stock: &[Piece],
    rip: Length,
    glue_face: Length,
    length: Length,
    shop: &Shop,
) -> Vec<Scrap> {
    gathered(stock.iter().map(|piece| {
        let section = Section {
            rip,
            thickness: piece.thickness,
        };
        (
            piece,
            piece.thickness - glue_face * 2,
            strips_of(piece, section, length, shop),
        )
    }))
}

/// Strips laid flat from pieces of at least `thickness`: as wide in the board as each piece is, once its edge is
/// straight, less `glue_face` on both sides.
pub fn scraps_laid_flat(
    stock: &[Piece],
    thickness: Length,
    glue_face: Length,
    length: Length,
    shop: &Shop,
) -> Vec<Scrap> {
    gathered(stock.iter().map(|piece| {
        let rip = usable(piece, shop).1;
        let section = Section { rip, thickness };
        (
            piece,
            rip - glue_face * 2,
            strips_of(piece, section, length, shop),
        )
    }))
}

fn gathered<'a>(found: impl Iterator<Item = (&'a Piece, Length, usize)>) -> Vec<Scrap> {
    let mut counts: BTreeMap<(String, Length), usize> = BTreeMap::new();
    for (piece, width, each) in found {
        let count = each * piece.count as usize;
        if count > 0 && width.is_positive() {
            *counts.entry((piece.species.clone(), width)).or_default() += count;
        }
    }
    counts
        .into_iter()
        .map(|((species, width), count)| Scrap {
            species,
            width,
            count,
        })
        .collect()
}

/// Length and width of the rectangle that may be cut.
fn usable(piece: &Piece, shop: &Shop) -> (Length, Length) {
    let end_trim = if piece.square_ends {
        Length::ZERO
    } else {
        shop.end_trim
    };
    let edge_trim = if piece.straight_edges {
        Length::ZERO
    } else {
        shop.edge_trim
    };
    (piece.length - end_trim * 2, piece.width - edge_trim)
}

/// From one copy of the piece.
fn strips_of(piece: &Piece, section: Section, length: Length, shop: &Shop) -> usize {
    let (usable_length, usable_width) = usable(piece, shop);
    let is_possible = piece.thickness >= section.thickness
        && section.rip.is_positive()
        && length.is_positive()
        && usable_width >= section.rip
        && usable_length >= length;
    if !is_possible {
        return 0;
    }
    let is_ripped = usable_width > section.rip;
    if is_ripped && usable_length < shop.min_rip_length {
        return 0;
    }
    let across = many(usable_width, section.rip, shop.rip_kerf);
    let start = if piece.square_ends {
        Length::ZERO
    } else {
        shop.end_trim
    };
    let end = start + usable_length;
    let mut bad: Vec<(Length, Length)> = piece
        .unusable
        .iter()
        .map(|stretch| (stretch.from.max(start), stretch.to.min(end)))
        .filter(|(from, to)| from < to)
        .collect();
    bad.sort();
    let mut along = 0;
    let mut clear_from = start;
    for (from, to) in bad.into_iter().chain([(end, end)]) {
        // A kerf on either side of an unusable stretch comes off the clear wood, which is more than enough.
        let before = if clear_from > start {
            shop.crosscut_kerf
        } else {
            Length::ZERO
        };
        let after = if from < end {
            shop.crosscut_kerf
        } else {
            Length::ZERO
        };
        along += many(
            from - clear_from - before - after,
            length,
            shop.crosscut_kerf,
        );
        clear_from = clear_from.max(to);
    }
    across.saturating_mul(along)
}

/// How many parts of a size fit with kerfs between them.
fn many(whole: Length, part: Length, kerf: Length) -> usize {
    if whole < part {
        return 0;
    }
    usize::try_from((whole + kerf).nm() / (part + kerf).nm()).unwrap_or(0)
}
