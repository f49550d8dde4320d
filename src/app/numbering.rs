//! Which strip of a board comes from which cut: the places of a project handed out to the strips of its layouts.

use std::collections::BTreeMap;

use super::matching::StripName;
use crate::calc::work::Needs;
use crate::store::ProjectId;

/// Hands out the places of a project, in the order of its layouts.
pub struct Numbering {
    project: ProjectId,
    /// What is left by the key of the strip, to be taken from the end.
    left: BTreeMap<String, Vec<usize>>,
}

impl Numbering {
    pub fn new(project: ProjectId, needs: Option<&Needs>) -> Numbering {
        let mut left: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        if let Some(needs) = needs {
            for (place, of) in needs.places.iter().enumerate().rev() {
                if let Some(strip) = needs.strips.get(of.need) {
                    left.entry(strip.id.clone()).or_default().push(place);
                }
            }
        }
        Numbering { project, left }
    }

    /// The places of one strip of a layout, for all its copies together; `None` for a strip of another project.
    pub fn take(&mut self, id: &str, copies: u32) -> Option<Vec<usize>> {
        let name = id.parse::<StripName>().ok()?;
        if name.project != self.project {
            return None;
        }
        let left = self.left.get_mut(&name.key);
        Some(left.map_or_else(Vec::new, |left| {
            (0..copies).filter_map(|_| left.pop()).collect()
        }))
    }

    /// All that no layout was found for.
    pub fn into_rest(self) -> Vec<usize> {
        self.left.into_values().flatten().collect()
    }
}
