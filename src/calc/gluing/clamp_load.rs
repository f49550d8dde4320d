//! Clamp loads: several panels side by side in one set of clamps, glue only in their own seams.
//!
//! A common practice of small shops. Separators keep squeezed-out glue from joining the panels.
//! Force passes through all of them, so the panel that needs most clamps decides.

use crate::units::{Between, Length, Minutes, Pressure, Source};

/// A panel that may share clamps with others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoadPanel {
    pub length: Length,
    /// Across the glue lines.
    pub width: Length,
    /// Of the glue lines.
    pub height: Length,
    pub clamp_time: Minutes,
    pub pressure: Between<Pressure>,
    /// That it would need alone.
    pub clamps: i64,
}

/// What the workshop accepts of panels that share clamps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LoadRules {
    /// Between two panels.
    pub separator: Length,
    /// Cauls and pads at both sides together.
    pub cauls: Length,
    /// Of the clamps.
    pub reach: Length,
    /// How far lengths may differ, so that the end clamps press on all panels.
    pub length_difference: Length,
    /// How far heights may differ, so that the screws stay at the middle of all lines.
    pub height_difference: Length,
}

impl LoadRules {
    /// The source of these rules and of their defaults.
    pub const SOURCE: Source = Source::PRACTICE;

    /// Common practice, no single source: separators of 1/4 in; lengths within 1 in and heights
    /// within 1/8 in of each other.
    pub fn usual(cauls: Length, reach: Length) -> LoadRules {
        LoadRules {
            separator: Length::from_inches(1, 4),
            cauls,
            reach,
            length_difference: Length::from_inches(1, 1),
            height_difference: Length::from_inches(1, 8),
        }
    }
}

/// Why panels cannot share one set of clamps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hindrance {
    Lengths {
        shortest: Length,
        longest: Length,
    },
    Heights {
        lowest: Length,
        highest: Length,
    },
    ClampTimes {
        shortest: Minutes,
        longest: Minutes,
    },
    Reach {
        has: Length,
        needs: Length,
    },
    /// No pressure suits all: one wood is crushed before the other is pressed enough.
    Pressure,
}

/// Panels that share one set of clamps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SharedLoad {
    /// Panels, separators and cauls.
    pub reach: Length,
    pub clamps: i64,
    /// Fewer than each panel on its own.
    pub saved: i64,
    /// That suits every panel.
    pub pressure: Between<Pressure>,
}

/// One load of all `panels`, or everything that stands against it. One panel is a load too.
pub fn share_clamps(panels: &[LoadPanel], rules: &LoadRules) -> Result<SharedLoad, Vec<Hindrance>> {
    let Some(first) = panels.first() else {
        return Ok(SharedLoad {
            reach: Length::ZERO,
            clamps: 0,
            saved: 0,
            pressure: Between::default(),
        });
    };
    let mut hindrances = Vec::new();
    let lengths = extent(panels, |panel| panel.length);
    if lengths.high - lengths.low > rules.length_difference {
        hindrances.push(Hindrance::Lengths {
            shortest: lengths.low,
            longest: lengths.high,
        });
    }
    let heights = extent(panels, |panel| panel.height);
    if heights.high - heights.low > rules.height_difference {
        hindrances.push(Hindrance::Heights {
            lowest: heights.low,
            highest: heights.high,
        });
    }
    let times = extent(panels, |panel| panel.clamp_time);
    if times.low != times.high {
        hindrances.push(Hindrance::ClampTimes {
            shortest: times.low,
            longest: times.high,
        });
    }
    let widths: Length = panels.iter().map(|panel| panel.width).sum();
    let reach = widths + rules.separator * (panels.len() as i64 - 1) + rules.cauls;
    if reach > rules.reach {
        hindrances.push(Hindrance::Reach {
            has: rules.reach,
            needs: reach,
        });
    }
    let pressure = panels.iter().fold(first.pressure, |common, panel| Between {
        low: Pressure::from_kpa(common.low.kpa().max(panel.pressure.low.kpa())),
        high: Pressure::from_kpa(common.high.kpa().min(panel.pressure.high.kpa())),
    });
    if pressure.low > pressure.high {
        hindrances.push(Hindrance::Pressure);
    }
    if !hindrances.is_empty() {
        return Err(hindrances);
    }
    let alone: i64 = panels.iter().map(|panel| panel.clamps).sum();
    let clamps = panels.iter().map(|panel| panel.clamps).max().unwrap_or(0);
    Ok(SharedLoad {
        reach,
        clamps,
        saved: alone - clamps,
        pressure,
    })
}

/// Panels put together into few loads: the widest first, each into the first load that takes it.
/// Gives the places of the panels of each load.
pub fn shared_loads(panels: &[LoadPanel], rules: &LoadRules) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..panels.len()).collect();
    order.sort_by_key(|&place| (std::cmp::Reverse(panels[place].width), place));
    let mut loads: Vec<Vec<usize>> = Vec::new();
    for place in order {
        let fits = |load: &Vec<usize>| {
            let together: Vec<LoadPanel> = load
                .iter()
                .chain([&place])
                .map(|&place| panels[place])
                .collect();
            share_clamps(&together, rules).is_ok()
        };
        match loads.iter_mut().find(|load| fits(load)) {
            Some(load) => load.push(place),
            None => loads.push(vec![place]),
        }
    }
    loads
}

fn extent<T: Ord + Copy + Default>(
    panels: &[LoadPanel],
    of: impl Fn(&LoadPanel) -> T,
) -> Between<T> {
    Between {
        low: panels.iter().map(&of).min().unwrap_or_default(),
        high: panels.iter().map(&of).max().unwrap_or_default(),
    }
}
