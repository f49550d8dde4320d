//! Clamps for one panel: force, number, spacing and reach, and what the rack can really give.

use super::glue_line::GlueLines;
use crate::units::{Area, Between, Force, Length, Pressure, Source};

/// The 45 degree rule and the division of force by clamps.
pub const CLAMP_SOURCE: Source = Source::PRACTICE;

/// Fewer cannot press a panel evenly; common practice.
const LEAST_CLAMPS: i64 = 2;

/// What lies between the jaws and the panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rig {
    /// Of each caul, from jaw to panel.
    pub caul_depth: Length,
    /// Of each pad between jaw and caul.
    pub pad: Length,
    /// Along the glue line.
    pub jaw_width: Length,
    /// Wood between the caul and the nearest glue line: the outer strip, or zero to be careful.
    pub outer_strip: Length,
}

impl Rig {
    /// How much of the glue line one clamp covers, by the 45 degree rule.
    pub fn covers(&self) -> Length {
        self.jaw_width + (self.caul_depth + self.outer_strip) * 2
    }
}

/// What a panel asks of clamps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClampNeed {
    /// Of one glue line.
    pub line: Area,
    pub pressure: Between<Pressure>,
    pub force: Between<Force>,
    /// The farthest apart that clamps may be; the end ones at most half of it from the ends.
    pub spacing: Length,
    /// So many clamps cover the length at that spacing; two at least.
    pub for_coverage: i64,
    /// Panel, both cauls and both pads.
    pub reach: Length,
}

impl ClampNeed {
    /// The fewest clamps of `rated` force that reach the lower pressure and cover the length.
    /// `rated` must be more than zero.
    pub fn clamps(&self, rated: Force) -> i64 {
        self.for_force(self.force.low, rated).max(self.for_coverage)
    }

    /// So many clamps of `rated` force reach the higher pressure.
    pub fn clamps_for_highest(&self, rated: Force) -> i64 {
        self.for_force(self.force.high, rated)
            .max(self.for_coverage)
    }

    fn for_force(&self, force: Force, rated: Force) -> i64 {
        // A billionth keeps 9000 N over 4500 N at two clamps.
        ((force / rated) - 1e-9).ceil().max(1.0) as i64
    }
}

/// Pressure, force, spacing and reach for a panel `width` across its glue lines; `None` where the
/// rig spreads no pressure at all (no caul, no jaw and no outer strip).
pub fn clamp_need(
    lines: &GlueLines,
    width: Length,
    pressure: Between<Pressure>,
    rig: &Rig,
) -> Option<ClampNeed> {
    let spacing = rig.covers();
    if !spacing.is_positive() {
        return None;
    }
    let line = lines.area();
    // A kilopascal on a square millimetre is a millinewton.
    let force = pressure.map(|pressure| Force::from_newtons(pressure.kpa() * line.mm2() / 1000.0));
    Some(ClampNeed {
        line,
        pressure,
        force,
        spacing,
        for_coverage: ceiling(lines.length.nm(), spacing.nm()).max(LEAST_CLAMPS),
        reach: width + (rig.caul_depth + rig.pad) * 2,
    })
}

fn ceiling(dividend: i64, divisor: i64) -> i64 {
    dividend.div_euclid(divisor) + i64::from(dividend.rem_euclid(divisor) > 0)
}

/// Where one clamp goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placement {
    pub from_end: Length,
    /// Under the panel, not over it: by turns, so that the panel stays flat.
    pub below: bool,
}

/// `count` clamps evenly along a panel, the end ones half a space from the ends, below and above
/// by turns.
pub fn placements(length: Length, count: i64) -> Vec<Placement> {
    (0..count)
        .map(|place| Placement {
            from_end: Length::from_nm(
                (i128::from(length.nm()) * i128::from(2 * place + 1) / i128::from(2 * count))
                    as i64,
            ),
            below: place % 2 == 0,
        })
        .collect()
}

/// Clamps of one kind that the workshop has free.
#[derive(Clone, Debug, PartialEq)]
pub struct ClampSet {
    pub name: String,
    pub reach: Length,
    /// `None` where nobody measured or rated it.
    pub rated: Option<Force>,
    pub count: i64,
}

/// Why a set of clamps does not do, each with what would cure it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ClampShortfall {
    /// Cure: longer clamps, thinner cauls, or sub-panels.
    Reach { has: Length, needs: Length },
    /// Cure: more clamps, stronger ones, thicker cauls, or sub-panels that are shorter.
    Number { has: i64, needs: i64 },
    /// The force of these clamps is not known, so their number follows from coverage alone and
    /// nothing is said of the pressure. Cure: measure or look up the force.
    NoRatedForce,
}

/// What one set of clamps can do for a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct RackAnswer {
    /// To take from the set: what is needed, or all there are.
    pub clamps: i64,
    /// What those give on the glue line when screwed to their rated force.
    pub pressure: Option<Pressure>,
    pub shortfalls: Vec<ClampShortfall>,
}

impl RackAnswer {
    /// Everything is known and enough.
    pub fn is_enough(&self) -> bool {
        self.shortfalls.is_empty()
    }
}

pub fn what_it_can_do(set: &ClampSet, need: &ClampNeed) -> RackAnswer {
    let mut shortfalls = Vec::new();
    if set.reach < need.reach {
        shortfalls.push(ClampShortfall::Reach {
            has: set.reach,
            needs: need.reach,
        });
    }
    let rated = set.rated.filter(|rated| rated.newtons() > 0.0);
    let wanted = match rated {
        Some(rated) => need.clamps(rated),
        None => {
            shortfalls.push(ClampShortfall::NoRatedForce);
            need.for_coverage
        }
    };
    if set.count < wanted {
        shortfalls.push(ClampShortfall::Number {
            has: set.count,
            needs: wanted,
        });
    }
    let clamps = wanted.min(set.count).max(0);
    RackAnswer {
        clamps,
        pressure: rated.map(|rated| {
            Pressure::from_kpa(rated.newtons() * clamps as f64 * 1000.0 / need.line.mm2())
        }),
        shortfalls,
    }
}

/// So many clamps of one set, as its place in the list of sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pick {
    pub set: usize,
    pub clamps: i64,
}

/// What to take from the rack: from the shortest set that does it all, or from several together; `None` where the
/// whole rack does not do.
pub fn take_from_rack(sets: &[ClampSet], need: &ClampNeed) -> Option<Vec<Pick>> {
    let alone = (0..sets.len())
        .map(|set| (set, what_it_can_do(&sets[set], need)))
        .filter(|(_, answer)| answer.is_enough())
        .min_by_key(|(set, _)| sets[*set].reach);
    match alone {
        Some((set, answer)) => Some(vec![Pick {
            set,
            clamps: answer.clamps,
        }]),
        None => pick_from_rack(sets, need),
    }
}

/// Clamps of several sets that together reach the lower pressure and cover the length: the
/// strongest first, only those that are long enough and whose force is known.
fn pick_from_rack(sets: &[ClampSet], need: &ClampNeed) -> Option<Vec<Pick>> {
    let mut usable: Vec<(usize, Force)> = sets
        .iter()
        .enumerate()
        .filter(|(_, set)| set.reach >= need.reach && set.count > 0)
        .filter_map(|(place, set)| Some((place, set.rated?)))
        .filter(|(_, rated)| rated.newtons() > 0.0)
        .collect();
    usable.sort_by(|one, other| {
        let stronger = other.1.newtons().total_cmp(&one.1.newtons());
        stronger.then(one.0.cmp(&other.0))
    });
    let mut force_left = need.force.low;
    let mut count_left = need.for_coverage;
    let mut picks = Vec::new();
    for (set, rated) in usable {
        let for_force = ((force_left / rated) - 1e-9).ceil().max(0.0) as i64;
        let clamps = for_force.max(count_left).min(sets[set].count);
        if clamps > 0 {
            picks.push(Pick { set, clamps });
            force_left = force_left - rated * clamps as f64;
            count_left -= clamps;
        }
    }
    // The force left is zero but for rounding when the last clamp was counted out exactly.
    let enough = force_left.newtons() <= need.force.low.newtons() * 1e-9 && count_left <= 0;
    enough.then_some(picks)
}
