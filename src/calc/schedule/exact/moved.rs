//! How many tasks start elsewhere than preferred, as a variable.

use super::cumulative::Conflict;
use super::trail::{Crossed, Fact, Trail};

#[derive(Clone, Debug)]
pub struct Moved {
    pub total: usize,
    /// Variable and preferred start. It must be one of the variable's values.
    pub preferred: Vec<(usize, i64)>,
}

impl Moved {
    pub fn propagate(&self, trail: &mut Trail) -> Result<(), Conflict> {
        let mut reason = Vec::new();
        for &(variable, at) in &self.preferred {
            let (after, before) = (
                Fact::at_least(variable, at + 1),
                Fact::at_most(variable, at - 1),
            );
            reason.extend([after, before].into_iter().find(|&fact| trail.holds(fact)));
        }
        let count = reason.len() as i64;
        self.raise(trail, Fact::at_least(self.total, count), &reason)?;
        if count < trail.upper(self.total) {
            return Ok(());
        }
        // No further one may move.
        reason.push(Fact::at_most(self.total, count));
        for &(variable, at) in &self.preferred {
            if trail.lower(variable) <= at && at <= trail.upper(variable) {
                self.raise(trail, Fact::at_least(variable, at), &reason)?;
                self.raise(trail, Fact::at_most(variable, at), &reason)?;
            }
        }
        Ok(())
    }

    fn raise(&self, trail: &mut Trail, fact: Fact, reason: &[Fact]) -> Result<(), Conflict> {
        if trail.holds(fact) {
            return Ok(());
        }
        let stored = trail.store(reason);
        trail.raise(fact, stored).map(|_| ()).map_err(|Crossed| {
            let mut conflict = reason.to_vec();
            conflict.push(fact.not());
            conflict
        })
    }
}
