//! Whether all glue lines can be spread in the glue's open time, and sub-panels where they cannot.

use std::ops::Range;

use crate::units::{Length, Minutes};

/// How fast glue is spread, how long it stays open, and what must pass a machine later.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spreading {
    /// For one glue line, from picking up the strip to laying it down.
    pub seconds_per_line: f64,
    /// From the first spreading until the faces must meet.
    pub open_time: Minutes,
    /// The widest sub-panel that the workshop can plane, if panels are to be planed.
    pub widest: Option<Length>,
}

/// What goes into a glue-up, or comes out of it: consecutive strips of the board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    pub strips: Range<usize>,
    /// The parts glued together into this one: single strips, or panels of the round before.
    pub from: Vec<Range<usize>>,
}

impl Part {
    pub fn glue_lines(&self) -> usize {
        self.from.len().saturating_sub(1)
    }
}

/// Glue-ups that can be in clamps at the same time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Round {
    /// Parts of one strip only are left out: they wait for the next round.
    pub parts: Vec<Part>,
}

/// How a board is glued up.
#[derive(Clone, Debug, PartialEq)]
pub struct AssemblyPlan {
    /// To spread all lines of the board at one go.
    pub spread_time: Minutes,
    /// The most lines of one glue-up.
    pub lines_at_once: usize,
    /// One round where all fits; sub-panels first where it does not. The last round makes the board.
    pub rounds: Vec<Round>,
    /// Strips that are wider than the machine on their own.
    pub too_wide: Vec<usize>,
    /// Not even one line can be spread in the open time: only a slower glue helps.
    pub too_slow: bool,
}

impl AssemblyPlan {
    pub fn sub_panels(&self) -> usize {
        let before_last = self.rounds.len().saturating_sub(1);
        self.rounds[..before_last]
            .iter()
            .map(|round| round.parts.len())
            .sum()
    }

    /// Clamp time beyond that of a board glued at one go.
    pub fn extra_clamp_time(&self, clamp_time: Minutes) -> Minutes {
        clamp_time * self.rounds.len().saturating_sub(1) as i64
    }
}

/// Splits a board of strips into as few and as equal sub-panels as fit the open time and the
/// machine, in as many rounds as it takes.
pub fn plan_assembly(widths: &[Length], spreading: &Spreading) -> AssemblyPlan {
    let lines = widths.len().saturating_sub(1);
    let seconds = spreading.seconds_per_line.max(0.0);
    let open_seconds = spreading.open_time.0.max(0) as f64 * 60.0;
    let lines_that_fit = if seconds > 0.0 {
        ((open_seconds / seconds) + 1e-9).floor() as usize
    } else {
        lines
    };
    let lines_at_once = lines_that_fit.max(1);
    let too_wide = match spreading.widest {
        Some(widest) => (0..widths.len())
            .filter(|&strip| widths[strip] > widest)
            .collect(),
        None => Vec::new(),
    };
    let mut parts: Vec<Range<usize>> = (0..widths.len()).map(|strip| strip..strip + 1).collect();
    let mut rounds = Vec::new();
    // Only the first round makes panels that must pass the machine; what is joined from them is
    // wider anyway.
    let mut widest = spreading.widest;
    while parts.len() > 1 {
        let part_widths: Vec<Length> = parts
            .iter()
            .map(|part| widths[part.clone()].iter().copied().sum())
            .collect();
        let groups = even_groups(&part_widths, lines_at_once + 1, widest);
        let joined: Vec<Part> = groups
            .into_iter()
            .map(|group| Part {
                strips: parts[group.start].start..parts[group.end - 1].end,
                from: parts[group].to_vec(),
            })
            .collect();
        let next: Vec<Range<usize>> = joined.iter().map(|part| part.strips.clone()).collect();
        let glued: Vec<Part> = joined
            .into_iter()
            .filter(|part| part.from.len() > 1)
            .collect();
        if !glued.is_empty() {
            rounds.push(Round { parts: glued });
        }
        // If no group joined anything the width alone stood against it; it is waived next.
        widest = None;
        parts = next;
    }
    AssemblyPlan {
        spread_time: Minutes::from_minutes_up(lines as f64 * seconds / 60.0 - 1e-9),
        lines_at_once,
        rounds,
        too_wide,
        too_slow: lines > 0 && lines_that_fit == 0,
    }
}

/// The fewest consecutive groups of at most `most` parts and at most `widest` together (a part
/// that is wider stands alone), with the widest group as narrow as can be.
fn even_groups(widths: &[Length], most: usize, widest: Option<Length>) -> Vec<Range<usize>> {
    let count = widths.len();
    let mut before = vec![Length::ZERO; count + 1];
    for (place, width) in widths.iter().enumerate() {
        before[place + 1] = before[place] + *width;
    }
    let fits = |group: &Range<usize>| {
        let width = before[group.end] - before[group.start];
        group.len() == 1 || (group.len() <= most && widest.is_none_or(|widest| width <= widest))
    };
    // best[end] = (groups, width of the widest, start of the last group) for the parts before end.
    let mut best = vec![(0_usize, Length::ZERO, 0_usize); count + 1];
    for end in 1..=count {
        let options = (0..end).rev().take(most.max(1));
        best[end] = options
            .filter(|&start| fits(&(start..end)))
            .map(|start| {
                let (groups, widest, _) = best[start];
                let width = before[end] - before[start];
                (groups + 1, widest.max(width), start)
            })
            .min()
            .unwrap_or((end, Length::ZERO, end - 1));
    }
    let mut groups = Vec::new();
    let mut end = count;
    while end > 0 {
        let start = best[end].2;
        groups.push(start..end);
        end = start;
    }
    groups.reverse();
    groups
}
