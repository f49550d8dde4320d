//! Spans of time as people write them, and sums of them.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Sub};

use super::time::{MINUTES_PER_DAY as DAY, Minutes, WallMinute};

/// Why a text is no span of time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MinutesError {
    text: String,
}

impl fmt::Display for MinutesError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "is \"{}\"; must be a time such as 90, 1 h 30 min or 7 days",
            self.text
        )
    }
}

impl std::error::Error for MinutesError {}

impl Minutes {
    pub const ZERO: Minutes = Minutes(0);
    /// The longest span that is read from a person: 100 years.
    pub const LONGEST: Minutes = Minutes(36_525 * DAY);

    pub const fn from_hours(hours: i64) -> Minutes {
        Minutes(hours * 60)
    }

    pub const fn from_days(days: i64) -> Minutes {
        Minutes(days * DAY)
    }

    /// The next whole minute above a calculated number of minutes: a plan must not be too short.
    pub fn from_minutes_up(minutes: f64) -> Minutes {
        Minutes(minutes.ceil() as i64)
    }

    pub fn hours(self) -> f64 {
        self.0 as f64 / 60.0
    }

    pub fn days(self) -> f64 {
        self.0 as f64 / DAY as f64
    }

    /// Reads `90`, `90 min`, `1h30`, `1 h 30 min`, `2 h`, `1:30`, `7 days`, `1 d 12 h`.
    pub fn parse(text: &str) -> Result<Minutes, MinutesError> {
        let error = || MinutesError {
            text: text.trim().chars().take(40).collect(),
        };
        if text.len() > 60 {
            return Err(error());
        }
        let parts = words_and_numbers(text).ok_or_else(error)?;
        let mut total: i64 = 0;
        // Units must get smaller from left to right; the last one may be left out.
        let mut previous = i64::MAX;
        let mut parts = parts.into_iter().peekable();
        if parts.peek().is_none() {
            return Err(error());
        }
        while let Some(part) = parts.next() {
            let Part::Number(number) = part else {
                return Err(error());
            };
            let scale = match parts.next() {
                Some(Part::Word(word)) => match word.as_str() {
                    "d" | "day" | "days" => DAY,
                    "h" | "hour" | "hours" => 60,
                    "m" | "min" | "minute" | "minutes" => 1,
                    // 1:30 is one hour and thirty minutes.
                    ":" if previous == i64::MAX && parts.len() == 1 => 60,
                    _ => return Err(error()),
                },
                Some(Part::Number(_)) => return Err(error()),
                None if previous == i64::MAX || previous == 60 => 1,
                None => return Err(error()),
            };
            if scale >= previous {
                return Err(error());
            }
            previous = scale;
            total = number
                .checked_mul(scale)
                .and_then(|minutes| total.checked_add(minutes))
                .filter(|total| *total <= Minutes::LONGEST.0)
                .ok_or_else(error)?;
        }
        Ok(Minutes(total))
    }
}

enum Part {
    Number(i64),
    Word(String),
}

fn words_and_numbers(text: &str) -> Option<Vec<Part>> {
    let mut parts = Vec::new();
    let mut rest = text.trim_start();
    while let Some(first) = rest.chars().next() {
        let end = if first.is_ascii_digit() {
            rest.find(|c: char| !c.is_ascii_digit())
        } else if first.is_ascii_alphabetic() {
            rest.find(|c: char| !c.is_ascii_alphabetic())
        } else if first == ':' {
            Some(1)
        } else {
            return None;
        }
        .unwrap_or(rest.len());
        let word = &rest[..end];
        parts.push(if first.is_ascii_digit() {
            Part::Number(word.parse().ok()?)
        } else {
            Part::Word(word.to_ascii_lowercase())
        });
        rest = rest[end..].trim_start();
    }
    Some(parts)
}

/// `45 min`, `1 h 30 min`, `12 h`; from two days on `7 days`, `2 days 6 h`.
impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count = self.0.unsigned_abs();
        let day = DAY as u64;
        let days = if count >= 2 * day { count / day } else { 0 };
        let hours = (count - days * day) / 60;
        let minutes = count % 60;
        let mut words = Vec::new();
        if days > 0 {
            words.push(format!("{days} days"));
        }
        if hours > 0 {
            words.push(format!("{hours} h"));
        }
        if minutes > 0 || words.is_empty() {
            words.push(format!("{minutes} min"));
        }
        let sign = if self.0 < 0 { "-" } else { "" };
        write!(f, "{sign}{}", words.join(" "))
    }
}

impl Add for Minutes {
    type Output = Minutes;
    fn add(self, other: Minutes) -> Minutes {
        Minutes(self.0 + other.0)
    }
}

impl AddAssign for Minutes {
    fn add_assign(&mut self, other: Minutes) {
        self.0 += other.0;
    }
}

impl Sub for Minutes {
    type Output = Minutes;
    fn sub(self, other: Minutes) -> Minutes {
        Minutes(self.0 - other.0)
    }
}

impl Mul<i64> for Minutes {
    type Output = Minutes;
    fn mul(self, times: i64) -> Minutes {
        Minutes(self.0 * times)
    }
}

impl Sum for Minutes {
    fn sum<I: Iterator<Item = Minutes>>(spans: I) -> Minutes {
        spans.fold(Minutes::ZERO, Add::add)
    }
}

impl Sub<Minutes> for WallMinute {
    type Output = WallMinute;
    fn sub(self, span: Minutes) -> WallMinute {
        WallMinute(self.0 - span.0)
    }
}
