//! Checks an answer against its request, sharing no code with the search.

use std::collections::BTreeMap;

use super::layout::{Content, Layout, Part};
use super::outcome::Outcome;
use super::request::{Request, Shop, Stock, Strip};
use crate::units::{Length, Money};

/// A rule that an answer breaks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Violation {
    /// Where in the answer.
    pub place: String,
    pub detail: String,
}

/// Recomputes every rule and every figure from the request and the layouts alone.
pub fn check(request: &Request, outcome: &Outcome) -> Result<(), Vec<Violation>> {
    let mut check = Check {
        pieces: request.pieces().map(|piece| (piece.id, piece)).collect(),
        strips: request
            .strips
            .iter()
            .map(|strip| (strip.id.as_str(), strip))
            .collect(),
        shop: &request.shop,
        made: BTreeMap::new(),
        used: BTreeMap::new(),
        spend: Money::ZERO,
        cut_nm3: 0,
        kept_nm3: 0,
        violations: Vec::new(),
    };
    for (position, layout) in outcome.layouts.iter().enumerate() {
        check.layout(layout, &format!("layouts/{position}"));
    }
    check.totals(outcome);
    check.bound(outcome);
    if check.violations.is_empty() {
        Ok(())
    } else {
        Err(check.violations)
    }
}

struct Check<'a> {
    pieces: BTreeMap<&'a str, Stock<'a>>,
    strips: BTreeMap<&'a str, &'a Strip>,
    shop: &'a Shop,
    made: BTreeMap<&'a str, u64>,
    used: BTreeMap<&'a str, u64>,
    spend: Money,
    cut_nm3: i128,
    kept_nm3: i128,
    violations: Vec<Violation>,
}

/// Where a part lies: from which position along the untrimmed piece, how long, how wide.
#[derive(Clone, Copy)]
struct Place {
    start: Length,
    length: Length,
    width: Length,
}

impl<'a> Check<'a> {
    fn violation(&mut self, place: &str, detail: String) {
        self.violations.push(Violation {
            place: place.to_owned(),
            detail,
        });
    }

    fn layout(&mut self, layout: &'a Layout, place: &str) {
        let Some(piece) = self.pieces.get(layout.stock.as_str()).copied() else {
            return self.violation(place, format!("there is no piece {:?}", layout.stock));
        };
        if layout.copies == 0 {
            self.violation(place, "has no copies".to_owned());
        }
        let end = if piece.square_ends {
            Length::ZERO
        } else {
            self.shop.end_trim
        };
        let edge = if piece.straight_edges {
            Length::ZERO
        } else {
            self.shop.edge_trim
        };
        let whole = Place {
            start: end,
            length: piece.length - end - end,
            width: piece.width - edge,
        };
        if !whole.length.is_positive() || !whole.width.is_positive() {
            return self.violation(place, "nothing is left after the trims".to_owned());
        }
        let kept_nm2 = self.cut(&layout.parts, 1, whole, &piece, layout.copies, place);
        let copies = i128::from(layout.copies);
        let thickness = i128::from(piece.thickness.nm());
        self.cut_nm3 +=
            copies * i128::from(piece.length.nm()) * i128::from(piece.width.nm()) * thickness;
        self.kept_nm3 += copies * kept_nm2 * thickness;
        self.spend += piece.price * i64::from(layout.copies);
        *self.used.entry(piece.id).or_default() += u64::from(layout.copies);
    }

    /// Checks a cut and all below it; gives the area kept, in square nanometres.
    fn cut(
        &mut self,
        parts: &'a [Part],
        level: u8,
        whole: Place,
        piece: &Stock<'a>,
        copies: u32,
        place: &str,
    ) -> i128 {
        if parts.is_empty() {
            self.violation(place, "a cut without parts".to_owned());
            return 0;
        }
        let is_rip = level == 2;
        let (kerf, available) = if is_rip {
            (self.shop.rip_kerf, whole.width)
        } else {
            (self.shop.crosscut_kerf, whole.length)
        };
        if is_rip && parts.len() > 1 && whole.length < self.shop.min_rip_length {
            self.violation(
                place,
                format!("a section of {} is too short to rip", whole.length),
            );
        }
        let mut kept = 0;
        let mut total = Length::ZERO;
        for (position, part) in parts.iter().enumerate() {
            let here = format!("{place}/parts/{position}");
            if position > 0 {
                total += kerf;
            }
            let part_place = if is_rip {
                Place {
                    width: part.size,
                    ..whole
                }
            } else {
                Place {
                    start: whole.start + total,
                    length: part.size,
                    ..whole
                }
            };
            let is_waste = part.content == Content::Waste;
            if part.size < Length::ZERO || (part.size == Length::ZERO && !is_waste) {
                self.violation(&here, format!("has a size of {}", part.size));
            }
            kept += self.part(part, level, part_place, piece, copies, &here);
            total += part.size;
        }
        let ends_in_nothing = parts.len() > 1
            && parts
                .last()
                .is_some_and(|part| part.size == Length::ZERO && part.content == Content::Waste);
        let runs_off = ends_in_nothing && total > available && total < available + kerf;
        if total != available && !runs_off {
            self.violation(
                place,
                format!("parts and kerfs are {total}, not {available}"),
            );
        }
        kept
    }

    fn part(
        &mut self,
        part: &'a Part,
        level: u8,
        at: Place,
        piece: &Stock<'a>,
        copies: u32,
        place: &str,
    ) -> i128 {
        match &part.content {
            Content::Waste => 0,
            Content::Cut(_) if level == 3 => {
                self.violation(place, "a fourth level of cuts".to_owned());
                0
            }
            Content::Cut(parts) => self.cut(parts, level + 1, at, piece, copies, place),
            Content::Keep => {
                self.clear_of_flaws(at, piece, place);
                if at.length < self.shop.keep_length || at.width < self.shop.keep_width {
                    self.violation(place, format!("{} x {} is too small", at.length, at.width));
                }
                i128::from(at.length.nm()) * i128::from(at.width.nm())
            }
            Content::Strip(id) => {
                self.clear_of_flaws(at, piece, place);
                self.strip(id, at, piece, copies, place);
                0
            }
        }
    }

    fn clear_of_flaws(&mut self, at: Place, piece: &Stock<'a>, place: &str) {
        for stretch in piece.unusable {
            if at.start < stretch.to && stretch.from < at.start + at.length {
                let detail = format!("lies in {} to {}", stretch.from, stretch.to);
                self.violation(place, detail);
            }
        }
    }

    fn strip(&mut self, id: &'a str, at: Place, piece: &Stock<'a>, copies: u32, place: &str) {
        let Some(strip) = self.strips.get(id).copied() else {
            return self.violation(place, format!("there is no strip {id:?}"));
        };
        *self.made.entry(id).or_default() += u64::from(copies);
        if !strip.species.iter().any(|species| species == piece.species) {
            self.violation(place, format!("{id:?} may not be {}", piece.species));
        }
        if strip.length != at.length {
            self.violation(place, format!("{id:?} is not {} long", at.length));
        }
        let fits = strip
            .sections
            .iter()
            .any(|section| section.rip == at.width && section.thickness <= piece.thickness);
        if !fits {
            let detail = format!("{id:?} has no section {} in {}", at.width, piece.thickness);
            self.violation(place, detail);
        }
    }

    fn totals(&mut self, outcome: &Outcome) {
        for (id, used) in self.used.clone() {
            if let Some(count) = self.pieces[id].count
                && used > u64::from(count)
            {
                self.violation(
                    "layouts",
                    format!("{used} of {id:?} are cut, there are {count}"),
                );
            }
        }
        let mut covered = 0;
        let mut uncovered: Vec<(&str, u32)> = Vec::new();
        let strips: Vec<&Strip> = self.strips.values().copied().collect();
        for strip in strips {
            let made = self.made.get(strip.id.as_str()).copied().unwrap_or(0);
            let wanted = u64::from(strip.count);
            if made > wanted {
                let detail = format!("{made} of {:?} are cut, {wanted} are wanted", strip.id);
                self.violation("layouts", detail);
            }
            covered += made.min(wanted);
            if made < wanted {
                uncovered.push((&strip.id, (wanted - made) as u32));
            }
        }
        let mut stated: Vec<(&str, u32)> = outcome
            .uncovered
            .iter()
            .map(|missing| (missing.id.as_str(), missing.count))
            .collect();
        stated.sort_unstable();
        if stated != uncovered {
            self.violation("uncovered", "does not list what is missing".to_owned());
        }
        if outcome
            .uncovered
            .iter()
            .any(|missing| missing.why.is_empty())
        {
            self.violation("uncovered", "does not say why".to_owned());
        }
        let touched: u64 = self.used.values().sum();
        for (name, is_right) in [
            ("covered", u64::from(outcome.covered) == covered),
            ("spend", outcome.spend == self.spend),
            ("touched", u64::from(outcome.touched) == touched),
            ("net_wood/cut", outcome.net_wood.cut.nm3() == self.cut_nm3),
            (
                "net_wood/kept",
                outcome.net_wood.kept.nm3() == self.kept_nm3,
            ),
            (
                "net_wood/credit",
                outcome.net_wood.credit == self.shop.keep_credit,
            ),
        ] {
            if !is_right {
                self.violation(name, "is not what the layouts give".to_owned());
            }
        }
    }

    fn bound(&mut self, outcome: &Outcome) {
        let bound = &outcome.bound;
        let net_wood = outcome.net_wood.mm3();
        let is_beaten = bound.covered < outcome.covered
            || (bound.covered == outcome.covered
                && (bound.spend > outcome.spend
                    || (bound.spend == outcome.spend && bound.net_wood_mm3 > net_wood)));
        if is_beaten {
            self.violation("bound", "is beaten by the answer".to_owned());
        }
        let is_met = bound.covered == outcome.covered
            && bound.spend == outcome.spend
            && bound.net_wood_mm3 == net_wood;
        if outcome.proven != is_met {
            self.violation("proven", "does not agree with the bound".to_owned());
        }
    }
}
