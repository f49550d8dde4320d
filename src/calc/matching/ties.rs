//! Which of equally good answers is given: the one with the fewest settings of the rip fence, the fewest rips and stops
//! for crosscuts, so that long pieces are ripped before they are crosscut, and that from the older pieces.
//!
//! Both are sought one layout at a time: another arrangement of what is cut from a piece, or the same arrangement in
//! another piece, that is worth exactly the same.

use std::collections::{BTreeMap, BTreeSet};

use super::column::{Answer, Column};
use super::cut_order::{self, Marks};
use super::layout::Direction;
use super::model::{Part, PieceClass};
use super::plan::{Plan, RipPlan, SectionPlan};
use crate::units::Length;

/// Rounds over all layouts; one or two are enough nearly always.
const ROUNDS: usize = 8;
/// Sections of one layout up to which it is arranged anew.
const MOST_SECTIONS: usize = 100;

/// `preference` of each piece of the request, by place.
pub(super) fn settled(part: &Part, answer: &Answer, preference: &[u32]) -> Answer {
    let mut settled = answer.clone();
    fewest_settings(part, &mut settled);
    older_pieces(part, &mut settled, preference);
    if settled.worth(part) == answer.worth(part) {
        settled
    } else {
        answer.clone()
    }
}

/// In how many layouts each setting is needed.
#[derive(Default)]
struct Tally(BTreeMap<(usize, Length), u32>);

impl Tally {
    fn add(&mut self, marks: &Marks) {
        for setting in &marks.settings {
            *self.0.entry(*setting).or_default() += 1;
        }
    }

    fn remove(&mut self, marks: &Marks) {
        for setting in &marks.settings {
            if let Some(count) = self.0.get_mut(setting) {
                *count -= 1;
                if *count == 0 {
                    self.0.remove(setting);
                }
            }
        }
    }

    /// New settings of the fence; new stops and passes at the rip saw together; the passes.
    fn cost(&self, marks: &Marks) -> (u32, u32, u32) {
        let (mut fences, mut stops) = (0, 0);
        for setting in &marks.settings {
            if !self.0.contains_key(setting) {
                match Direction::of_level(setting.0) {
                    Direction::Rip => fences += 1,
                    Direction::Crosscut => stops += 1,
                }
            }
        }
        (fences, stops + marks.rips, marks.rips)
    }
}

fn marks(part: &Part, column: &Column) -> Option<Marks> {
    let piece = &part.pieces[column.piece];
    let parts = column.plan.layout(part, piece, &mut |_| String::new())?;
    Some(cut_order::marks(&parts))
}

fn fewest_settings(part: &Part, answer: &mut Answer) {
    let known: Option<Vec<Marks>> = (answer.uses.iter())
        .map(|(column, _)| marks(part, column))
        .collect();
    let Some(mut known) = known else { return };
    let mut tally = Tally::default();
    for marks in &known {
        tally.add(marks);
    }
    for _ in 0..ROUNDS {
        let mut is_better = false;
        for ((column, _), known) in answer.uses.iter_mut().zip(&mut known) {
            tally.remove(known);
            let mut least = tally.cost(known);
            for plan in arrangements(part, column, &tally) {
                let Some(other) = Column::new(part, column.piece, plan) else {
                    continue;
                };
                if other.takes != column.takes || other.wood != column.wood {
                    continue;
                }
                let Some(marks) = marks(part, &other) else {
                    continue;
                };
                let cost = tally.cost(&marks);
                if cost < least {
                    least = cost;
                    *column = other;
                    *known = marks;
                    is_better = true;
                }
            }
            tally.add(known);
        }
        if !is_better {
            return;
        }
    }
}

/// Other arrangements of what a column cuts; some do not fit.
fn arrangements(part: &Part, column: &Column, tally: &Tally) -> Vec<Plan> {
    let plan = column.plan.as_ref();
    if plan.sections.len() > MOST_SECTIONS || plan.spanning().is_some() {
        return Vec::new();
    }
    let piece = &part.pieces[column.piece];
    let kerf = part.habits.crosscut_kerf;
    let mut found = Vec::new();
    // Sections that are ripped alike, as one long one that is crosscut behind the rip saw.
    for first in 0..plan.sections.len() {
        if let Some(joined) = joined(part, plan, first) {
            let mut whole = joined.clone();
            whole.sections[first].length = clear_length(piece, &whole.sections[first]);
            found.extend([joined, whole]);
        }
    }
    for (place, section) in plan.sections.iter().enumerate() {
        // A stop for this section alone is spared where it is as long as another one, or as the whole piece.
        let beside = plan
            .sections
            .iter()
            .filter(|other| other.clear == section.clear);
        let taken: i64 = beside.map(|other| other.length + kerf).sum();
        let most = section.length + clear_length(piece, section) + kerf - taken;
        let stop = |length| (0, Length::from_nm(length));
        if most > section.length && !tally.0.contains_key(&stop(section.length)) {
            let others = tally.0.range(stop(section.length)..=stop(most));
            let lengths = others.map(|((_, size), _)| size.nm());
            for length in lengths.chain([most]) {
                let mut other = plan.clone();
                other.sections[place].length = length;
                found.push(other);
            }
        }
        if let Some(sections) = parted(part, section) {
            let mut other = plan.clone();
            other.sections.splice(place..=place, sections);
            found.push(other);
        }
    }
    found
}

fn clear_length(piece: &PieceClass, section: &SectionPlan) -> i64 {
    let clear = piece.clear.get(section.clear);
    clear.map_or(0, |clear| clear.to - clear.from)
}

fn widths(section: &SectionPlan) -> Vec<i64> {
    let mut widths: Vec<i64> = section.rips.iter().map(|rip| rip.width).collect();
    widths.sort_unstable();
    widths
}

/// With all later sections that are ripped like the one at `first` made one with it; `None` where there is none.
fn joined(part: &Part, plan: &Plan, first: usize) -> Option<Plan> {
    let begins = &plan.sections[first];
    let reaches = |section: &SectionPlan| section.reaches_before || section.reaches_after;
    let alike = |section: &&SectionPlan| {
        section.clear == begins.clear && !reaches(section) && widths(section) == widths(begins)
    };
    if !alike(&begins) || plan.sections[..first].iter().any(|section| alike(&section)) {
        return None;
    }
    let mut all = begins.clone();
    all.rips.sort_by_key(|rip| rip.width);
    let mut sections = plan.sections[..first].to_vec();
    let mut rest = Vec::new();
    let mut n_joined = 1;
    for section in &plan.sections[first + 1..] {
        if !alike(&section) {
            rest.push(section.clone());
            continue;
        }
        n_joined += 1;
        all.length += part.habits.crosscut_kerf + section.length;
        let mut rips = section.rips.clone();
        rips.sort_by_key(|rip| rip.width);
        for (rip, more) in all.rips.iter_mut().zip(rips) {
            rip.classes.extend(more.classes);
        }
    }
    sections.push(all);
    sections.extend(rest);
    (n_joined > 1).then_some(Plan { sections })
}

/// A section whose rips are crosscut alike, as sections that are ripped to strips at once.
fn parted(part: &Part, section: &SectionPlan) -> Option<Vec<SectionPlan>> {
    let lengths = |rip: &RipPlan| -> Vec<i64> {
        let classes = rip.classes.iter();
        classes
            .map(|&class| part.strips[usize::from(class)].length)
            .collect()
    };
    let all: BTreeSet<Vec<i64>> = section.rips.iter().map(lengths).collect();
    let lengths = all.first().filter(|_| all.len() == 1)?;
    if lengths.len() < 2 || section.reaches_before || section.reaches_after {
        return None;
    }
    let of = |(place, length): (usize, &i64)| SectionPlan {
        length: *length,
        rips: (section.rips.iter())
            .map(|rip| RipPlan {
                width: rip.width,
                classes: vec![rip.classes[place]],
                behind: Vec::new(),
            })
            .collect(),
        ..section.clone()
    };
    Some(lengths.iter().enumerate().map(of).collect())
}

/// Moves layouts to pieces that are preferred, where another kind of piece gives exactly the same.
fn older_pieces(part: &Part, answer: &mut Answer, preference: &[u32]) {
    // The preference of each piece of a kind, in the order in which they are taken.
    let preferences = |class: &PieceClass| -> Vec<(u32, u32)> {
        let members = class.members.iter();
        members
            .map(|&(place, count)| (preference[place], count))
            .collect()
    };
    let orders: Vec<Vec<(u32, u32)>> = part.pieces.iter().map(preferences).collect();
    let preference_at = |class: usize, mut taken: u32| {
        orders[class].iter().find_map(|&(preference, count)| {
            let is_here = taken < count;
            taken = taken.saturating_sub(count);
            is_here.then_some(preference)
        })
    };
    let mut used = vec![0_u32; part.pieces.len()];
    for (column, count) in &answer.uses {
        used[column.piece] += count;
    }
    let mut alike: BTreeMap<(usize, i64, i64), Vec<usize>> = BTreeMap::new();
    for (index, piece) in part.pieces.iter().enumerate() {
        if !piece.is_bought {
            let size = (piece.group, piece.length, piece.width);
            alike.entry(size).or_default().push(index);
        }
    }
    let mut place = 0;
    while place < answer.uses.len() {
        let (column, count) = answer.uses[place].clone();
        let piece = &part.pieces[column.piece];
        let now = preference_at(column.piece, used[column.piece].saturating_sub(1));
        let others = alike
            .get(&(piece.group, piece.length, piece.width))
            .into_iter()
            .flatten()
            .copied();
        let better = others
            .filter(|&other| other != column.piece && used[other] < part.pieces[other].count)
            .filter_map(|other| Some((preference_at(other, used[other])?, other)))
            .filter(|&(preference, _)| now.is_some_and(|now| preference < now))
            .filter_map(|(preference, other)| {
                let fits = |section: &SectionPlan| section.clear < part.pieces[other].clear.len();
                let plan = column.plan.as_ref().clone();
                let moved = (plan.sections.iter().all(fits))
                    .then(|| Column::new(part, other, plan))
                    .flatten()?;
                (moved.wood == column.wood && moved.takes == column.takes)
                    .then_some((preference, other, moved))
            })
            .min_by_key(|&(preference, other, _)| (preference, other));
        let Some((_, other, moved)) = better else {
            place += 1;
            continue;
        };
        used[column.piece] -= 1;
        used[other] += 1;
        if count == 1 {
            answer.uses[place].0 = moved;
        } else {
            answer.uses[place].1 -= 1;
            answer.uses.push((moved, 1));
        }
    }
}
