//! What is cut from a piece, and the best layout that cuts just that.

use super::layout::{Content, Part as LayoutPart};
use super::model::{Clear, Part, PieceClass};
use crate::units::Length;

/// The sections of a layout with their rips and strips; what is kept follows from it.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Plan {
    pub sections: Vec<SectionPlan>,
}

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct SectionPlan {
    /// Index into `PieceClass::clear`.
    pub clear: usize,
    /// Its clear length, in nanometres: at least what its strips need.
    pub length: i64,
    /// Whether it reaches over the flaw before or after its clear stretch.
    pub reaches_before: bool,
    pub reaches_after: bool,
    /// Whether it is the whole usable length, over all flaws.
    pub spans: bool,
    pub rips: Vec<RipPlan>,
}

#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct RipPlan {
    pub width: i64,
    /// Classes of strips, in order.
    pub classes: Vec<u16>,
    /// The same in each clear stretch behind the first, where the section spans flaws.
    pub behind: Vec<Vec<u16>>,
}

impl Plan {
    /// Strips of each class, by class.
    pub fn takes(&self) -> Vec<(u16, u32)> {
        let mut classes: Vec<u16> = self
            .sections
            .iter()
            .flat_map(|section| section.rips.iter().flat_map(|rip| rip.all_classes()))
            .collect();
        classes.sort_unstable();
        let mut takes: Vec<(u16, u32)> = Vec::new();
        for class in classes {
            match takes.last_mut() {
                Some(last) if last.0 == class => last.1 += 1,
                _ => takes.push((class, 1)),
            }
        }
        takes
    }

    /// Leaves out the last rips of sections that do not fit across.
    pub fn leave_out_beside(&mut self, part: &Part, piece: &PieceClass) {
        for section in &mut self.sections {
            while !section.rips.is_empty() && !section.fits_across(part, piece) {
                section.rips.pop();
            }
        }
        self.sections.retain(|section| !section.rips.is_empty());
    }

    /// Leaves out the last strip; `None` where there is none.
    pub fn leave_out_last(&mut self) -> Option<()> {
        let section = self.sections.last_mut()?;
        let rip = section.rips.last_mut()?;
        let last = rip.behind.iter_mut().rfind(|classes| !classes.is_empty());
        last.unwrap_or(&mut rip.classes).pop();
        if rip.is_empty() {
            section.rips.pop();
        }
        if section.rips.is_empty() {
            self.sections.pop();
        }
        Some(())
    }

    /// Leaves out strips of `class` until at most `most` are left, and what gives nothing then.
    pub fn limit(&mut self, class: u16, most: u32) {
        let mut left = most;
        for section in &mut self.sections {
            for rip in &mut section.rips {
                for classes in [&mut rip.classes].into_iter().chain(&mut rip.behind) {
                    classes.retain(|&other| {
                        if other != class {
                            return true;
                        }
                        let stays = left > 0;
                        left = left.saturating_sub(1);
                        stays
                    });
                }
            }
            section.rips.retain(|rip| !rip.is_empty());
        }
        self.sections.retain(|section| !section.rips.is_empty());
    }

    /// The area that the layout keeps, in square nanometres; `None` where the plan does not fit.
    pub fn kept(&self, part: &Part, piece: &PieceClass) -> Option<i128> {
        if let Some(section) = self.spanning() {
            return section.spanning_kept(part, piece);
        }
        let arrangement = Arrangement::new(self, part, piece)?;
        Some(arrangement.kept)
    }

    /// The tree of cuts, with the strips' classes as ids; `None` where the plan does not fit.
    pub fn layout(
        &self,
        part: &Part,
        piece: &PieceClass,
        name: &mut dyn FnMut(u16) -> String,
    ) -> Option<Vec<LayoutPart>> {
        if let Some(section) = self.spanning() {
            return section.spanning_layout(part, piece, name);
        }
        let arrangement = Arrangement::new(self, part, piece)?;
        Some(arrangement.layout(self, part, piece, name))
    }
}

/// Where the sections of a plan lie and how long each is.
struct Arrangement {
    /// Sections by place in the plan and what is kept between them, in order along the piece.
    spans: Vec<Span>,
    kept: i128,
}

struct Span {
    /// `None`: a remainder that is kept, full width.
    section: Option<usize>,
    /// Of the clear part, from the beginning of the usable rectangle.
    from: i64,
    to: i64,
}

impl SectionPlan {
    fn needs(&self, part: &Part) -> i64 {
        let rips = self.rips.iter().map(|rip| rip.needs(part));
        rips.max().unwrap_or(0)
    }

    /// Whether it must be ripped.
    pub(super) fn is_ripped(&self, piece: &PieceClass) -> bool {
        self.rips.len() > 1 || self.rips.iter().any(|rip| rip.width != piece.usable_width)
    }

    fn reach(&self, clear: &Clear) -> i64 {
        (if self.reaches_before { clear.before } else { 0 })
            + if self.reaches_after { clear.after } else { 0 }
    }

    /// What is left beside the rips, after a kerf; negative where nothing is.
    pub(super) fn beside(&self, part: &Part, piece: &PieceClass) -> i64 {
        let taken: i64 = self
            .rips
            .iter()
            .map(|rip| rip.width + part.habits.rip_kerf)
            .sum();
        piece.usable_width - taken
    }

    /// The area kept of it at a clear length.
    fn kept(&self, part: &Part, piece: &PieceClass, length: i64) -> i128 {
        let habits = &part.habits;
        let mut kept = 0;
        for rip in &self.rips {
            let rest = length - rip.needs(part) - habits.crosscut_kerf;
            if rest >= habits.keep_length && rip.width >= habits.keep_width {
                kept += i128::from(rest) * i128::from(rip.width);
            }
        }
        let beside = self.beside(part, piece);
        if self.is_ripped(piece) && beside >= habits.keep_width && length >= habits.keep_length {
            kept += i128::from(length) * i128::from(beside);
        }
        kept
    }
}

impl RipPlan {
    fn all_classes(&self) -> impl Iterator<Item = u16> + '_ {
        let all = self.classes.iter().chain(self.behind.iter().flatten());
        all.copied()
    }

    pub(super) fn is_empty(&self) -> bool {
        self.all_classes().next().is_none()
    }

    /// The clear length that its strips take.
    fn needs(&self, part: &Part) -> i64 {
        let kerf = part.habits.crosscut_kerf;
        let lengths = self
            .classes
            .iter()
            .map(|&class| part.strips[usize::from(class)].length + kerf);
        lengths.sum::<i64>() - kerf
    }
}

impl Arrangement {
    fn new(plan: &Plan, part: &Part, piece: &PieceClass) -> Option<Arrangement> {
        let mut arrangement = Arrangement {
            spans: Vec::new(),
            kept: 0,
        };
        for (index, clear) in piece.clear.iter().enumerate() {
            arrangement.add(plan, part, piece, index, clear)?;
        }
        Some(arrangement)
    }

    /// Lays the sections of one clear stretch: all as short as planned, the slack to where it is
    /// worth most.
    fn add(
        &mut self,
        plan: &Plan,
        part: &Part,
        piece: &PieceClass,
        index: usize,
        clear: &Clear,
    ) -> Option<()> {
        let habits = &part.habits;
        let kerf = habits.crosscut_kerf;
        let all = plan.sections.iter().enumerate();
        let mut sections: Vec<usize> = all
            .filter(|(_, section)| section.clear == index)
            .map(|(place, _)| place)
            .collect();
        // What reaches over a flaw lies beside it.
        sections.sort_by_key(|&place| {
            let section = &plan.sections[place];
            (!section.reaches_before, section.reaches_after)
        });
        let available = clear.to - clear.from;
        let mut lengths = Vec::with_capacity(sections.len());
        for planned in [true, false] {
            lengths.clear();
            for &place in &sections {
                let section = &plan.sections[place];
                if !section.fits_across(part, piece) {
                    return None;
                }
                let least = if section.is_ripped(piece) {
                    habits.min_rip_length - section.reach(clear)
                } else {
                    0
                };
                let least = section.needs(part).max(least);
                lengths.push(if planned {
                    section.length.max(least)
                } else {
                    least
                });
            }
            let total: i64 = lengths.iter().map(|length| length + kerf).sum();
            if total <= available + kerf {
                break;
            }
            if !planned {
                return None;
            }
        }
        let slack = available + kerf - lengths.iter().map(|length| length + kerf).sum::<i64>();
        let rest = slack - kerf;
        let keeps_rest = rest >= habits.keep_length && piece.usable_width >= habits.keep_width;
        let mut best = if keeps_rest {
            i128::from(rest) * i128::from(piece.usable_width)
        } else {
            0
        };
        let mut stretched = None;
        for (position, &place) in sections.iter().enumerate() {
            let section = &plan.sections[place];
            let gain = section.kept(part, piece, lengths[position] + slack)
                - section.kept(part, piece, lengths[position]);
            if gain > best {
                best = gain;
                stretched = Some(position);
            }
        }
        if let Some(position) = stretched {
            lengths[position] += slack;
        }
        // A kept remainder lies before a last section that reaches over the flaw behind it.
        let reaches_after = sections
            .last()
            .is_some_and(|&place| plan.sections[place].reaches_after);
        let mut at = clear.from;
        for (position, &place) in sections.iter().enumerate() {
            let is_last = position + 1 == sections.len();
            if is_last && reaches_after {
                if keeps_rest && stretched.is_none() {
                    let from = clear.to - lengths[position];
                    self.keep(at, from - kerf, piece);
                    at = from;
                } else {
                    lengths[position] = clear.to - at;
                }
            }
            // Before a flaw too short for a kerf on each side of it nothing is left over.
            let is_followed = is_last && index + 1 < piece.clear.len();
            if is_followed && !keeps_rest && at + lengths[position] + kerf > clear.to {
                lengths[position] = clear.to - at;
            }
            self.spans.push(Span {
                section: Some(place),
                from: at,
                to: at + lengths[position],
            });
            self.kept += plan.sections[place].kept(part, piece, lengths[position]);
            at += lengths[position] + kerf;
        }
        if keeps_rest && stretched.is_none() && !reaches_after {
            self.keep(at, clear.to, piece);
        }
        Some(())
    }

    fn keep(&mut self, from: i64, to: i64, piece: &PieceClass) {
        self.spans.push(Span {
            section: None,
            from,
            to,
        });
        self.kept += i128::from(to - from) * i128::from(piece.usable_width);
    }

    fn layout(
        &self,
        plan: &Plan,
        part: &Part,
        piece: &PieceClass,
        name: &mut dyn FnMut(u16) -> String,
    ) -> Vec<LayoutPart> {
        let kerf = part.habits.crosscut_kerf;
        let mut parts = Vec::new();
        let mut at = 0;
        for span in &self.spans {
            let section = span.section.map(|place| &plan.sections[place]);
            let clear = section.map(|section| piece.clear[section.clear]);
            let (mut from, mut to) = (span.from, span.to);
            if let (Some(section), Some(clear)) = (section, clear) {
                if section.reaches_before {
                    from -= clear.before;
                }
                if section.reaches_after {
                    to += clear.after;
                }
            }
            if from > at {
                // A kerf has been cut before `at` already, unless this is the beginning.
                parts.push(waste(from - at - kerf));
            }
            parts.push(LayoutPart {
                size: Length::from_nm(to - from),
                content: match section {
                    None => Content::Keep,
                    Some(section) => Content::Cut(section.layout(
                        part,
                        piece,
                        (span.from - from, span.to - span.from, to - span.to),
                        name,
                    )),
                },
            });
            at = to + kerf;
        }
        finish(&mut parts, at, kerf, piece.usable_length);
        parts
    }
}

pub(super) fn waste(size: i64) -> LayoutPart {
    LayoutPart {
        size: Length::from_nm(size),
        content: Content::Waste,
    }
}

/// Ends a row of parts whose next one would begin at `at` with waste, if anything is left.
pub(super) fn finish(parts: &mut Vec<LayoutPart>, at: i64, kerf: i64, end: i64) {
    if at - kerf < end {
        parts.push(waste((end - at).max(0)));
    }
}

impl SectionPlan {
    pub(super) fn fits_across(&self, part: &Part, piece: &PieceClass) -> bool {
        self.beside(part, piece) + part.habits.rip_kerf >= 0
    }

    /// Its rips, for a clear length with flaws of `before` and `after` beside it.
    fn layout(
        &self,
        part: &Part,
        piece: &PieceClass,
        (before, length, after): (i64, i64, i64),
        name: &mut dyn FnMut(u16) -> String,
    ) -> Vec<LayoutPart> {
        let habits = &part.habits;
        let kerf = habits.crosscut_kerf;
        let whole = before + length + after;
        let mut rips = Vec::new();
        let mut across = 0;
        for rip in &self.rips {
            let mut parts = Vec::new();
            if before > 0 {
                parts.push(waste(before - kerf));
            }
            let mut at = before;
            for &class in &rip.classes {
                let size = part.strips[usize::from(class)].length;
                parts.push(LayoutPart {
                    size: Length::from_nm(size),
                    content: Content::Strip(name(class)),
                });
                at += size + kerf;
            }
            let rest = before + length - at;
            if rest >= habits.keep_length && rip.width >= habits.keep_width {
                parts.push(LayoutPart {
                    size: Length::from_nm(rest),
                    content: Content::Keep,
                });
                at += rest + kerf;
            }
            finish(&mut parts, at, kerf, whole);
            rips.push(LayoutPart {
                size: Length::from_nm(rip.width),
                content: Content::Cut(parts),
            });
            across += rip.width + habits.rip_kerf;
        }
        let beside = piece.usable_width - across;
        if beside >= habits.keep_width && length >= habits.keep_length {
            let keep = |size: i64| LayoutPart {
                size: Length::from_nm(size),
                content: Content::Keep,
            };
            if before == 0 && after == 0 {
                rips.push(keep(beside));
            } else {
                let mut parts = Vec::new();
                if before > 0 {
                    parts.push(waste(before - kerf));
                }
                parts.push(keep(length));
                finish(&mut parts, before + length + kerf, kerf, whole);
                rips.push(LayoutPart {
                    size: Length::from_nm(beside),
                    content: Content::Cut(parts),
                });
            }
        } else {
            finish(&mut rips, across, habits.rip_kerf, piece.usable_width);
        }
        rips
    }
}
