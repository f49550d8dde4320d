//! What is asked: tasks, their resources, calendars and dates, as plain values.

use std::fmt;

use crate::units::{Minutes, WallMinute};

/// A time in which tasks of a calendar may run: `[from, to)`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    pub from: WallMinute,
    pub to: WallMinute,
}

/// Windows in any order; those that touch are not joined.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Calendar {
    pub id: String,
    pub windows: Vec<Window>,
}

/// Something of which at most `capacity` can be in use at once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Resource {
    pub id: String,
    pub capacity: u32,
}

/// How much of a resource is used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Need {
    pub resource: String,
    pub amount: u32,
}

/// A task starts at least `min_gap` and at most `max_gap` after the end of `task`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct After {
    pub task: String,
    pub min_gap: Minutes,
    pub max_gap: Option<Minutes>,
}

/// A piece of work without a break.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Task {
    pub id: String,
    pub minutes: Minutes,
    /// The calendar in one window of which the task lies; any time where there is none.
    pub calendar: Option<String>,
    pub needs: Vec<Need>,
    pub after: Vec<After>,
    /// A given start: exempt from the calendar and from the horizon, and from nothing else.
    pub at: Option<WallMinute>,
}

/// Use of resources from the start of task `from` to the end of task `to`, whatever the calendars say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hold {
    pub from: String,
    pub to: String,
    pub needs: Vec<Need>,
}

/// Use by others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Busy {
    pub resource: String,
    pub from: WallMinute,
    pub to: WallMinute,
    pub amount: u32,
}

/// Each minute that `task` ends after `by` costs `weight`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    pub task: String,
    pub by: WallMinute,
    pub weight: Weight,
}

/// The whole problem as it was asked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Request {
    pub from: WallMinute,
    pub to: WallMinute,
    pub calendars: Vec<Calendar>,
    pub resources: Vec<Resource>,
    pub tasks: Vec<Task>,
    pub holds: Vec<Hold>,
    pub busy: Vec<Busy>,
    pub due: Vec<Due>,
    /// Starts to keep where tardiness and finish allow it: as few of these tasks as possible
    /// start at another time. This is the third goal.
    pub prefer: Vec<(String, WallMinute)>,
}

/// The cost of one minute late: an exact decimal from 0 to 1000 with at most nine places.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Weight(i64);

impl Weight {
    pub const ONE: Weight = Weight(Weight::PER_ONE);
    pub const HIGHEST: Weight = Weight(1000 * Weight::PER_ONE);
    const PLACES: usize = 9;
    /// Billionths in one.
    pub const PER_ONE: i64 = 1_000_000_000;

    /// A whole weight of at most 1000.
    pub fn whole(value: u16) -> Option<Weight> {
        (value <= 1000).then(|| Weight(i64::from(value) * Weight::PER_ONE))
    }

    /// Reads a decimal such as `2`, `0.25` or `1e-3`; `None` where it is no number from 0 to 1000
    /// or has more than nine places.
    pub fn parse(text: &str) -> Option<Weight> {
        let (mantissa, exponent) = match text.find(['e', 'E']) {
            Some(place) => (&text[..place], text[place + 1..].parse::<i64>().ok()?),
            None => (text, 0),
        };
        if !(-1000..=1000).contains(&exponent) {
            return None;
        }
        let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
        let digits = format!("{whole}{fraction}");
        if digits.is_empty() || digits.len() > 40 || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let mut value = digits.parse::<i128>().ok()?;
        let shift = exponent - fraction.len() as i64 + Weight::PLACES as i64;
        for _ in 0..shift.unsigned_abs() {
            if value == 0 {
                break;
            }
            if shift > 0 {
                value = value.checked_mul(10)?;
            } else if value % 10 == 0 {
                value /= 10;
            } else {
                return None;
            }
        }
        (value <= i128::from(Weight::HIGHEST.0)).then_some(Weight(value as i64))
    }

    /// Billionths.
    pub fn billionths(self) -> i64 {
        self.0
    }
}

/// Weighted minutes late, exact, in billionths of a minute of weight 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tardiness(pub i128);

impl fmt::Display for Tardiness {
    /// A decimal without superfluous zeros.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let per_one = i128::from(Weight::PER_ONE);
        let (whole, fraction) = (self.0 / per_one, self.0 % per_one);
        if fraction == 0 {
            return write!(formatter, "{whole}");
        }
        let places = format!("{fraction:09}");
        write!(formatter, "{whole}.{}", places.trim_end_matches('0'))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_are_exact_decimals() {
        for (text, billionths) in [
            ("0", 0),
            ("1", 1_000_000_000),
            ("1.0", 1_000_000_000),
            ("0.1", 100_000_000),
            ("1e-9", 1),
            ("1e3", 1_000_000_000_000),
            ("2.50E0", 2_500_000_000),
        ] {
            assert_eq!(
                Weight::parse(text).map(Weight::billionths),
                Some(billionths),
                "{text}"
            );
        }
        for text in [
            "-1",
            "1000.1",
            "1e-10",
            "",
            ".",
            "1e",
            "nan",
            "1e999999999999",
        ] {
            assert_eq!(Weight::parse(text), None, "{text}");
        }
    }

    #[test]
    fn tardiness_prints_without_superfluous_zeros() {
        assert_eq!(Tardiness(9_225_000_000_000).to_string(), "9225");
        assert_eq!(Tardiness(500_000_000).to_string(), "0.5");
    }
}
