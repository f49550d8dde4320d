//! Free widths: strips as thick as the scraps happen to be, together as wide as the board should be.
//!
//! Choosing which scraps to use is a bounded subset sum. Sums are kept exactly, in nanometres; where
//! more than [`MOST_SUMS`] different ones arise the list is thinned evenly, so the work stays bounded
//! and the answer may then miss the closest total by a little. An answer, where there is one, is
//! always within the tolerance.

use std::collections::BTreeMap;

use super::arrangement::{Arrangement, BoardStrip, MOST_STRIPS};
use super::rule::scatter;
use crate::units::Length;

/// Strips that the bins could give as they are: equal ones together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Scrap {
    pub species: String,
    /// What the scrap gives across the board's face.
    pub width: Length,
    pub count: usize,
}

/// Different totals kept while choosing.
const MOST_SUMS: usize = 4096;

/// A board of scraps whose total is at most `width` and at least `width - tolerance`, as close to
/// `width` as was found, with as few strips as that takes, scattered by the seed without equal
/// neighbours where that is possible. `None` where the scraps give no such total.
pub fn free_widths(
    scraps: &[Scrap],
    width: Length,
    tolerance: Length,
    seed: u64,
) -> Option<Arrangement> {
    // Each sum with the fewest scraps found that give it, by their places.
    let mut sums: BTreeMap<Length, Vec<usize>> = BTreeMap::from([(Length::ZERO, Vec::new())]);
    for (place, scrap) in scraps
        .iter()
        .enumerate()
        .filter(|(_, scrap)| scrap.width.is_positive())
    {
        let mut reached = sums.clone();
        for (sum, used) in &sums {
            for times in 1..=scrap.count {
                let total = *sum + scrap.width * times as i64;
                if total > width || used.len() + times > MOST_STRIPS {
                    break;
                }
                let better = reached
                    .get(&total)
                    .is_none_or(|known| known.len() > used.len() + times);
                if better {
                    let mut longer = used.clone();
                    longer.extend(std::iter::repeat_n(place, times));
                    reached.insert(total, longer);
                }
            }
        }
        sums = thinned(reached);
    }
    let (total, used) = sums.last_key_value()?;
    if *total < width - tolerance || used.is_empty() {
        return None;
    }
    let strips = used
        .iter()
        .map(|&place| BoardStrip::new(&scraps[place].species, scraps[place].width))
        .collect();
    Some(scatter(&Arrangement { strips }, seed))
}

/// Every second sum or fewer, the smallest and the largest always among them.
fn thinned(sums: BTreeMap<Length, Vec<usize>>) -> BTreeMap<Length, Vec<usize>> {
    let excess = sums.len().div_ceil(MOST_SUMS);
    if excess <= 1 {
        return sums;
    }
    let last = sums.len() - 1;
    sums.into_iter()
        .enumerate()
        .filter(|(place, _)| place % excess == 0 || *place == last)
        .map(|(_, sum)| sum)
        .collect()
}
