//! The values that a variable may take: closed intervals in order.

#[derive(Clone, Debug)]
pub struct Domain(Vec<(i64, i64)>);

/// Beyond every value, and far enough from the end of the type to be added to.
const BEYOND: i64 = i64::MAX / 4;

impl Domain {
    /// `intervals` clipped to `first..=last`, both of which must lie in an interval.
    pub fn new(intervals: &[(i64, i64)], first: i64, last: i64) -> Domain {
        let clipped = intervals
            .iter()
            .filter(|interval| interval.1 >= first && interval.0 <= last)
            .map(|&(from, to)| (from.max(first), to.min(last)));
        Domain(clipped.collect())
    }

    pub fn first(&self) -> i64 {
        self.0[0].0
    }

    pub fn last(&self) -> i64 {
        self.0[self.0.len() - 1].1
    }

    pub fn has(&self, value: i64) -> bool {
        self.next(value) == value
    }

    /// The first value at or above `least`.
    fn next(&self, least: i64) -> i64 {
        let place = self.0.partition_point(|&(_, to)| to < least);
        self.0
            .get(place)
            .map_or(BEYOND, |&(from, _)| from.max(least))
    }

    /// The last value at or below `most`.
    fn previous(&self, most: i64) -> i64 {
        let place = self.0.partition_point(|&(from, _)| from <= most);
        place
            .checked_sub(1)
            .map_or(-BEYOND, |place| self.0[place].1.min(most))
    }

    /// The greatest number that can stand for `least` in "at least `least`"; of minus the value
    /// where it is `negated`.
    pub fn strongest(&self, negated: bool, least: i64) -> i64 {
        if self.0.len() == 1 {
            // Without holes only numbers outside the domain have other names.
            let (first, last) = if negated {
                (-self.0[0].1, -self.0[0].0)
            } else {
                self.0[0]
            };
            return if least > last {
                BEYOND
            } else {
                least.max(first)
            };
        }
        if negated {
            -self.previous(-least)
        } else {
            self.next(least)
        }
    }

    /// The least number that can stand for `least`.
    pub fn weakest(&self, negated: bool, least: i64) -> i64 {
        if negated {
            1 - self.next(1 - least)
        } else {
            self.previous(least - 1) + 1
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_a_hole_stand_for_its_ends() {
        let domain = Domain::new(&[(0, 10), (20, 30), (40, 50)], 5, 45);
        assert_eq!((domain.first(), domain.last()), (5, 45));
        assert_eq!(domain.strongest(false, 11), 20);
        assert_eq!(domain.strongest(false, 25), 25);
        assert_eq!(domain.weakest(false, 20), 11);
        assert_eq!(domain.weakest(false, 25), 25);
        // "At most 15" is "at most 10".
        assert_eq!(domain.strongest(true, -15), -10);
        assert_eq!(domain.weakest(true, -10), -19);
        assert!(domain.strongest(false, 46) > 1_000_000);
    }
}
