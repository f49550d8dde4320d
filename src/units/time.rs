//! Wall-clock minutes and durations.

use std::fmt;
use std::ops::{Add, Sub};

/// Whole minutes of duration; differences may be negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Minutes(pub i64);

/// A wall-clock minute, counted from 1970-01-01T00:00 with 1440 minutes in every day.
///
/// It knows no time zone: whoever has one converts first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WallMinute(pub i64);

/// Minutes in a day without clock changes.
pub const MINUTES_PER_DAY: i64 = 1440;

impl WallMinute {
    /// 0001-01-01T00:00, the first minute that can be written.
    pub const FIRST: WallMinute = WallMinute(-719_162 * MINUTES_PER_DAY);
    /// 9999-12-31T23:59, the last minute that can be written with four digits for the year.
    pub const LAST: WallMinute = WallMinute(2_932_897 * MINUTES_PER_DAY - 1);

    /// The minute of a day of the proleptic Gregorian calendar, or `None` where there is no such
    /// day or time.
    pub fn from_civil(
        year: i64,
        month: i64,
        day: i64,
        hour: i64,
        minute: i64,
    ) -> Option<WallMinute> {
        let real = (1..=9999).contains(&year)
            && (1..=12).contains(&month)
            && (1..=days_in_month(year, month)).contains(&day)
            && (0..24).contains(&hour)
            && (0..60).contains(&minute);
        real.then(|| {
            WallMinute(days_from_civil(year, month, day) * MINUTES_PER_DAY + hour * 60 + minute)
        })
    }

    /// Reads `2027-03-01T10:00`, the only form there is; `None` for anything else.
    pub fn parse(text: &str) -> Option<WallMinute> {
        let bytes = text.as_bytes();
        let form = b"dddd-dd-ddTdd:dd";
        if bytes.len() != form.len() {
            return None;
        }
        let fits = bytes.iter().zip(form).all(|(byte, wanted)| match wanted {
            b'd' => byte.is_ascii_digit(),
            _ => byte == wanted,
        });
        if !fits {
            return None;
        }
        let number = |from: usize, to: usize| {
            bytes[from..to]
                .iter()
                .fold(0, |sum, digit| sum * 10 + i64::from(digit - b'0'))
        };
        WallMinute::from_civil(
            number(0, 4),
            number(5, 7),
            number(8, 10),
            number(11, 13),
            number(14, 16),
        )
    }

    /// Year, month, day, hour and minute.
    pub fn to_civil(self) -> (i64, i64, i64, i64, i64) {
        let (year, month, day) = civil_from_days(self.0.div_euclid(MINUTES_PER_DAY));
        let within = self.0.rem_euclid(MINUTES_PER_DAY);
        (year, month, day, within / 60, within % 60)
    }
}

impl Add<Minutes> for WallMinute {
    type Output = WallMinute;
    fn add(self, duration: Minutes) -> WallMinute {
        WallMinute(self.0 + duration.0)
    }
}

impl Sub for WallMinute {
    type Output = Minutes;
    fn sub(self, earlier: WallMinute) -> Minutes {
        Minutes(self.0 - earlier.0)
    }
}

impl fmt::Display for WallMinute {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (year, month, day, hour, minute) = self.to_civil();
        write!(
            formatter,
            "{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}"
        )
    }
}

fn is_leap(year: i64) -> bool {
    year % 4 == 0 && (year % 100 != 0 || year % 400 == 0)
}

fn days_in_month(year: i64, month: i64) -> i64 {
    match month {
        2 if is_leap(year) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Days before `year` since the start of year 1.
fn days_before_year(year: i64) -> i64 {
    let past = year - 1;
    past * 365 + past / 4 - past / 100 + past / 400
}

const DAYS_TO_1970: i64 = 719_162;

fn days_from_civil(year: i64, month: i64, day: i64) -> i64 {
    let in_year: i64 = (1..month).map(|earlier| days_in_month(year, earlier)).sum();
    days_before_year(year) + in_year + day - 1 - DAYS_TO_1970
}

fn civil_from_days(days: i64) -> (i64, i64, i64) {
    let since_year_one = days + DAYS_TO_1970;
    // 146 097 days are 400 years; the estimate is at most one year off.
    let mut year = since_year_one * 400 / 146_097 + 1;
    while days_before_year(year) > since_year_one {
        year -= 1;
    }
    while days_before_year(year + 1) <= since_year_one {
        year += 1;
    }
    let mut left = since_year_one - days_before_year(year);
    let mut month = 1;
    while left >= days_in_month(year, month) {
        left -= days_in_month(year, month);
        month += 1;
    }
    (year, month, left + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_days_have_their_numbers() {
        assert_eq!(WallMinute::parse("1970-01-01T00:00"), Some(WallMinute(0)));
        assert_eq!(
            WallMinute::parse("2000-03-01T00:01"),
            Some(WallMinute(11_017 * 1440 + 1))
        );
        assert_eq!(
            WallMinute::parse("0001-01-01T00:00"),
            Some(WallMinute::FIRST)
        );
        assert_eq!(
            WallMinute::parse("9999-12-31T23:59"),
            Some(WallMinute::LAST)
        );
    }

    #[test]
    fn every_day_of_eight_centuries_survives_the_round_trip() {
        for day in -365 * 400..365 * 400 {
            let minute = WallMinute(day * 1440 + 61);
            assert_eq!(WallMinute::parse(&minute.to_string()), Some(minute));
        }
    }

    #[test]
    fn what_is_no_time_is_refused() {
        for text in [
            "2027-02-29T10:00",
            "2027-13-01T10:00",
            "2027-03-01T24:00",
            "2027-03-01T10:60",
            "2027-03-01 10:00",
            "2027-3-1T10:00",
            "2027-03-01T10:00:00",
            "0000-01-01T00:00",
            "",
        ] {
            assert_eq!(WallMinute::parse(text), None, "{text}");
        }
    }
}
