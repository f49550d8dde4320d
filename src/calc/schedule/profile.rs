//! How much of a resource is in use over time, as a step function.

/// Steps in order of time; the level of a step holds until the next one. The first step is at the
/// beginning of time, so every minute has a level.
#[derive(Clone, Debug)]
pub(super) struct Profile {
    times: Vec<i64>,
    levels: Vec<i64>,
}

const BEGINNING: i64 = i64::MIN / 4;

impl Profile {
    pub fn new() -> Profile {
        Profile {
            times: vec![BEGINNING],
            levels: vec![0],
        }
    }

    /// Becomes equal to `other` without allocating where there is room.
    pub fn copy_from(&mut self, other: &Profile) {
        self.times.clone_from(&other.times);
        self.levels.clone_from(&other.levels);
    }

    /// The step in which `time` lies.
    fn step_at(&self, time: i64) -> usize {
        self.times.partition_point(|&start| start <= time) - 1
    }

    /// The step that begins at `time`, made if there is none.
    fn split(&mut self, time: i64) -> usize {
        let step = self.step_at(time);
        if self.times[step] == time {
            return step;
        }
        self.times.insert(step + 1, time);
        self.levels.insert(step + 1, self.levels[step]);
        step + 1
    }

    fn join(&mut self, step: usize) {
        if step > 0 && step < self.times.len() && self.levels[step] == self.levels[step - 1] {
            self.times.remove(step);
            self.levels.remove(step);
        }
    }

    /// Adds `amount`, which may be negative, to `[from, to)`.
    pub fn add(&mut self, from: i64, to: i64, amount: i64) {
        if from >= to || amount == 0 {
            return;
        }
        let first = self.split(from);
        let last = self.split(to);
        for level in &mut self.levels[first..last] {
            *level += amount;
        }
        self.join(last);
        self.join(first);
    }

    /// The end of the last step within `[from, to)` whose level is above `most`.
    pub fn last_above(&self, from: i64, to: i64, most: i64) -> Option<i64> {
        if from >= to {
            return None;
        }
        let mut step = self.step_at(to - 1);
        loop {
            if self.levels[step] > most {
                return Some(self.times.get(step + 1).copied().unwrap_or(i64::MAX / 4));
            }
            if self.times[step] <= from {
                return None;
            }
            step -= 1;
        }
    }

    /// The start of the first step within `[from, to)` whose level is above `most`.
    pub fn first_above(&self, from: i64, to: i64, most: i64) -> Option<i64> {
        if from >= to {
            return None;
        }
        let mut step = self.step_at(from);
        while step < self.times.len() && self.times[step] < to {
            if self.levels[step] > most {
                return Some(self.times[step]);
            }
            step += 1;
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_add_up_and_joined_steps_vanish() {
        let mut profile = Profile::new();
        profile.add(10, 20, 2);
        profile.add(15, 30, 1);
        assert_eq!(profile.last_above(0, 100, 2), Some(20));
        assert_eq!(profile.last_above(0, 15, 2), None);
        assert_eq!(profile.last_above(0, 16, 2), Some(20));
        assert_eq!(profile.first_above(0, 100, 2), Some(15));
        assert_eq!(profile.last_above(20, 30, 0), Some(30));
        profile.add(15, 30, -1);
        profile.add(10, 20, -2);
        assert_eq!(profile.times.len(), 1);
    }
}
