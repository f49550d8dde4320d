//! Which grits to sand with, one after the other.

use crate::units::Source;

pub const GRIT_SOURCE: Source = Source::PRACTICE;

/// The largest ratio of one grit's number to the one before: each must remove the scratches of
/// its forerunner. 1.5 is careful; up to 2 saves time below 120.
pub const LARGEST_STEP: f64 = 1.5;

/// Grits in their order, and where the workshop lacks one.
#[derive(Clone, Debug, PartialEq)]
pub struct GritSequence {
    pub grits: Vec<i64>,
    pub gaps: Vec<GritGap>,
}

/// A step that is larger than the rule allows because the grit between is not there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GritGap {
    pub from: i64,
    pub to: i64,
    pub ratio: f64,
    /// A made grit that would help most, if one lies between.
    pub buy: Option<i64>,
}

/// The fewest of the `owned` grits from about `first` to about `last` by the step rule; `made` are
/// the grits that can be bought.
///
/// It starts with the owned grit nearest to `first`, the coarser of two; and ends with the finest
/// owned one up to `last`.
pub fn grit_sequence(
    owned: &[i64],
    made: &[i64],
    first: i64,
    last: i64,
    largest_step: f64,
) -> GritSequence {
    let mut owned: Vec<i64> = owned.iter().copied().filter(|grit| *grit > 0).collect();
    owned.sort_unstable();
    owned.dedup();
    let start = owned
        .iter()
        .copied()
        .filter(|grit| *grit <= last)
        .min_by_key(|grit| ((grit - first).abs(), *grit));
    let Some(start) = start else {
        return GritSequence {
            grits: Vec::new(),
            gaps: Vec::new(),
        };
    };
    let mut grits = vec![start];
    let mut gaps = Vec::new();
    let mut current = start;
    loop {
        let finer = owned
            .iter()
            .copied()
            .filter(|grit| *grit > current && *grit <= last);
        let within = |grit: &i64| *grit as f64 <= current as f64 * largest_step + 1e-9;
        let next = finer.clone().filter(within).max();
        let next = match (next, finer.min()) {
            (Some(next), _) => next,
            (None, Some(next)) => {
                gaps.push(gap(current, next, made, largest_step));
                next
            }
            (None, None) => break,
        };
        grits.push(next);
        current = next;
    }
    if current < last {
        let made_last = made.contains(&last);
        if made_last && last as f64 > current as f64 * 1.1 {
            gaps.push(GritGap {
                from: current,
                to: last,
                ratio: last as f64 / current as f64,
                buy: Some(last),
            });
        }
    }
    GritSequence { grits, gaps }
}

fn gap(from: i64, to: i64, made: &[i64], largest_step: f64) -> GritGap {
    let buy = made
        .iter()
        .copied()
        .filter(|grit| *grit > from && *grit < to)
        .filter(|grit| *grit as f64 <= from as f64 * largest_step + 1e-9)
        .max();
    GritGap {
        from,
        to,
        ratio: to as f64 / from as f64,
        buy,
    }
}
