//! How pages say days, spans of time, counts and lists.

use jiff::ZonedDateTime;
use jiff::civil::{Date, Weekday};

use crate::units::Minutes;

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

fn weekday(day: Date) -> &'static str {
    match day.weekday() {
        Weekday::Monday => "Monday",
        Weekday::Tuesday => "Tuesday",
        Weekday::Wednesday => "Wednesday",
        Weekday::Thursday => "Thursday",
        Weekday::Friday => "Friday",
        Weekday::Saturday => "Saturday",
        Weekday::Sunday => "Sunday",
    }
}

fn month(day: Date) -> &'static str {
    MONTHS[usize::from(day.month().unsigned_abs()).clamp(1, 12) - 1]
}

/// `Friday 5 March 2027`.
pub fn day(day: Date) -> String {
    format!(
        "{} {} {} {}",
        weekday(day),
        day.day(),
        month(day),
        day.year()
    )
}

/// `Tue 2 Mar 2027, 18:05`, for what may lie years back.
pub fn moment_of_year(at: &ZonedDateTime) -> String {
    format!(
        "{} {}, {}",
        short_day(at.date()),
        at.year(),
        at.strftime("%H:%M")
    )
}

/// `Fri 5 Mar`, for tables and drawings.
pub fn short_day(day: Date) -> String {
    format!("{} {} {}", &weekday(day)[..3], day.day(), &month(day)[..3])
}

/// `today`, `tomorrow`, `in 9 days`, `3 days ago`.
pub fn from_today(day: Date, today: Date) -> String {
    let days = (day - today).get_days();
    match days {
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        -1 => "yesterday".to_owned(),
        2.. => format!("in {days} days"),
        _ => format!("{} days ago", days.unsigned_abs()),
    }
}

/// `40 min`, `1 h 30 min`, `12 h`, `7 days`.
pub fn span(minutes: Minutes) -> String {
    let total = minutes.0.max(0);
    let (days, hours, rest) = (total / 1440, total / 60, total % 60);
    if total >= 2880 && total % 1440 == 0 {
        format!("{days} days")
    } else if hours == 0 {
        format!("{rest} min")
    } else if rest == 0 {
        format!("{hours} h")
    } else {
        format!("{hours} h {rest} min")
    }
}

/// `1 strip`, `3 strips`.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    if count == 1 {
        format!("1 {one}")
    } else {
        format!("{count} {many}")
    }
}

/// `a`, `a and b`, `a, b and c`.
pub fn listed<T: AsRef<str>>(things: &[T]) -> String {
    match things {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [first @ .., last] => {
            let first: Vec<&str> = first.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", first.join(", "), last.as_ref())
        }
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn days_are_said_in_words() {
        assert_eq!(day(date(2027, 3, 5)), "Friday 5 March 2027");
        assert_eq!(short_day(date(2027, 12, 31)), "Fri 31 Dec");
        let today = date(2027, 3, 1);
        for (there, said) in [
            (date(2027, 3, 1), "today"),
            (date(2027, 3, 2), "tomorrow"),
            (date(2027, 2, 28), "yesterday"),
            (date(2027, 4, 1), "in 31 days"),
            (date(2027, 2, 20), "9 days ago"),
        ] {
            assert_eq!(from_today(there, today), said);
        }
    }

    #[test]
    fn spans_counts_and_lists_read_well() {
        for (minutes, said) in [
            (0, "0 min"),
            (40, "40 min"),
            (90, "1 h 30 min"),
            (720, "12 h"),
            (1440, "24 h"),
            (10_080, "7 days"),
        ] {
            assert_eq!(span(Minutes(minutes)), said);
        }
        assert_eq!(counted(1, "strip", "strips"), "1 strip");
        assert_eq!(counted(0, "strip", "strips"), "0 strips");
        assert_eq!(listed(&["a", "b", "c"]), "a, b and c");
        assert_eq!(listed::<&str>(&[]), "");
    }
}
