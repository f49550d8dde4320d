//! Makers: each is in one place at a time, so two steps that the same one attends do not overlap.
//!
//! A maker is a resource of one. It is left out where it cannot matter, which keeps requests small: for a maker of a
//! single job whose attended steps follow each other anyway, and who has no other work.

use std::collections::BTreeMap;

use super::plan::{Job, Planning};
use super::step::Step;
use crate::calc::schedule::{Busy, Window};
use crate::units::WallMinute;

/// A time at which a maker attends something that is not planned here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AtWork {
    pub maker: String,
    pub from: WallMinute,
    pub to: WallMinute,
}

/// The makers whose time can run short, with the times at which they are at work whatever is planned; none of these
/// overlap.
pub(super) struct Makers(BTreeMap<String, Vec<Window>>);

/// The name of the resource that stands for a maker, as conflicts show it.
pub(super) fn resource(maker: &str) -> String {
    format!("the time of {maker}")
}

impl Makers {
    pub fn new(planning: &Planning) -> Makers {
        let mut found: BTreeMap<String, Vec<Window>> = BTreeMap::new();
        for job in &planning.jobs {
            let Some(maker) = &job.maker else { continue };
            let of_maker = |other: &&Job| other.maker.as_ref() == Some(maker);
            let has_more = planning.jobs.iter().filter(of_maker).count() > 1
                || planning.at_work.iter().any(|other| other.maker == *maker);
            if has_more || !is_chain(&job.steps) {
                let windows = found.entry(maker.clone()).or_default();
                windows.extend(given(job));
            }
        }
        for other in &planning.at_work {
            if let Some(windows) = found.get_mut(&other.maker) {
                windows.push(Window {
                    from: other.from,
                    to: other.to,
                });
            }
        }
        for windows in found.values_mut() {
            *windows = merged(windows);
        }
        Makers(found)
    }

    pub fn resources(&self) -> impl Iterator<Item = String> {
        self.0.keys().map(|maker| resource(maker))
    }

    /// Whether the maker's time can run short.
    pub fn has(&self, maker: &str) -> bool {
        self.0.contains_key(maker)
    }

    pub fn busy(&self) -> impl Iterator<Item = Busy> {
        self.0.iter().flat_map(|(maker, windows)| {
            windows.iter().map(|window| Busy {
                resource: resource(maker),
                from: window.from,
                to: window.to,
                amount: 1,
            })
        })
    }
}

/// The attended steps of a job that stay where they are. Some may overlap, as they were booked one by one.
fn given(job: &Job) -> impl Iterator<Item = Window> {
    let steps = job.steps.iter().filter(|step| step.is_attended());
    steps.filter_map(|step| {
        let given = job.given.iter().find(|given| given.key == step.key)?;
        Some(Window {
            from: given.from,
            to: given.to,
        })
    })
}

fn merged(windows: &[Window]) -> Vec<Window> {
    let mut sorted: Vec<&Window> = windows
        .iter()
        .filter(|window| window.to > window.from)
        .collect();
    sorted.sort_by_key(|window| (window.from, window.to));
    let mut merged: Vec<Window> = Vec::new();
    for window in sorted {
        match merged.last_mut() {
            Some(last) if window.from <= last.to => last.to = last.to.max(window.to),
            _ => merged.push(Window {
                from: window.from,
                to: window.to,
            }),
        }
    }
    merged
}

/// Whether the attended steps follow each other in any plan. Steps come after those that they name.
fn is_chain(steps: &[Step]) -> bool {
    let mut before: Vec<Vec<bool>> = Vec::with_capacity(steps.len());
    for step in steps {
        let mut own = vec![false; steps.len()];
        for after in &step.after {
            let earlier = steps.iter().position(|other| other.key == after.key);
            if let Some(earlier) = earlier.filter(|earlier| *earlier < before.len()) {
                own[earlier] = true;
                for (place, is_before) in before[earlier].iter().enumerate() {
                    own[place] |= *is_before;
                }
            }
        }
        before.push(own);
    }
    let attended: Vec<usize> = (0..steps.len())
        .filter(|place| steps[*place].is_attended())
        .collect();
    attended.windows(2).all(|pair| before[pair[1]][pair[0]])
}
