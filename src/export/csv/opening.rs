//! When the workshop is open: the weekly hours, single days, and closed days.

use jiff::civil::Date;

use super::flaw::CsvFlaw;
use super::table::{Column, Line, Numbered, needed, optional, read, words, write, yes_or_no};

/// One line of the openings. Minutes are since midnight, at most 1440.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OpeningRow {
    Weekly {
        /// Monday is 1 (ISO 8601).
        weekday: i8,
        from_minute: u16,
        to_minute: u16,
        machines: bool,
        from_day: Date,
        to_day: Option<Date>,
    },
    Extra {
        on_day: Date,
        from_minute: u16,
        to_minute: u16,
        machines: bool,
        note: String,
    },
    Closed {
        from_day: Date,
        to_day: Date,
        reason: String,
    },
}

const COLUMNS: [Column; 8] = [
    needed("what"),
    optional("weekday"),
    needed("first day"),
    optional("last day"),
    optional("from"),
    optional("to"),
    optional("machines"),
    optional("note"),
];

#[derive(Clone, Copy)]
enum What {
    Weekly,
    Extra,
    Closed,
}

const WHAT: [(&str, What); 3] = [
    ("weekly", What::Weekly),
    ("extra", What::Extra),
    ("closed", What::Closed),
];

const WEEKDAYS: [(&str, i8); 7] = [
    ("monday", 1),
    ("tuesday", 2),
    ("wednesday", 3),
    ("thursday", 4),
    ("friday", 5),
    ("saturday", 6),
    ("sunday", 7),
];

pub fn write_openings(openings: &[OpeningRow]) -> Vec<u8> {
    let rows = openings.iter().map(|opening| match opening {
        OpeningRow::Weekly {
            weekday,
            from_minute,
            to_minute,
            machines,
            from_day,
            to_day,
        } => vec![
            "weekly".to_owned(),
            weekday_name(*weekday).to_owned(),
            from_day.to_string(),
            to_day.map_or(String::new(), |day| day.to_string()),
            clock(*from_minute),
            clock(*to_minute),
            yes_or_no(*machines),
            String::new(),
        ],
        OpeningRow::Extra {
            on_day,
            from_minute,
            to_minute,
            machines,
            note,
        } => vec![
            "extra".to_owned(),
            String::new(),
            on_day.to_string(),
            on_day.to_string(),
            clock(*from_minute),
            clock(*to_minute),
            yes_or_no(*machines),
            words(note),
        ],
        OpeningRow::Closed {
            from_day,
            to_day,
            reason,
        } => vec![
            "closed".to_owned(),
            String::new(),
            from_day.to_string(),
            to_day.to_string(),
            String::new(),
            String::new(),
            String::new(),
            words(reason),
        ],
    });
    write(&COLUMNS, rows)
}

/// The openings of a file, or everything that is wrong with it.
pub fn read_openings(bytes: &[u8]) -> Result<Vec<Numbered<OpeningRow>>, Vec<CsvFlaw>> {
    read(&COLUMNS, bytes, |line| {
        match line.one_of("what", &WHAT)? {
            What::Weekly => weekly(line),
            What::Extra => extra(line),
            What::Closed => closed(line),
        }
    })
}

fn weekly(line: &mut Line) -> Option<OpeningRow> {
    let weekday = line.one_of("weekday", &WEEKDAYS);
    let from_day = day(line, "first day");
    let to_day = if line.is_empty("last day") {
        Some(None)
    } else {
        day(line, "last day").map(Some)
    };
    let hours = hours(line);
    let machines = line.yes_or_no("machines");
    let (from_day, to_day) = (from_day?, to_day?);
    if to_day.is_some_and(|last| last < from_day) {
        line.flaw("last day", "is before the first day; must not be");
    }
    let (from_minute, to_minute) = hours?;
    Some(OpeningRow::Weekly {
        weekday: weekday?,
        from_minute,
        to_minute,
        machines,
        from_day,
        to_day,
    })
}

fn extra(line: &mut Line) -> Option<OpeningRow> {
    let on_day = day(line, "first day");
    if !line.is_empty("last day") {
        let last = day(line, "last day");
        if last.is_some() && last != on_day {
            line.flaw("last day", "is another day; must be the first day or empty");
        }
    }
    let hours = hours(line);
    let machines = line.yes_or_no("machines");
    let note = line.words("note");
    let (from_minute, to_minute) = hours?;
    Some(OpeningRow::Extra {
        on_day: on_day?,
        from_minute,
        to_minute,
        machines,
        note,
    })
}

fn closed(line: &mut Line) -> Option<OpeningRow> {
    let from_day = day(line, "first day");
    let to_day = if line.is_empty("last day") {
        from_day
    } else {
        day(line, "last day")
    };
    let reason = line.words("note");
    let (from_day, to_day) = (from_day?, to_day?);
    if to_day < from_day {
        line.flaw("last day", "is before the first day; must not be");
    }
    Some(OpeningRow::Closed {
        from_day,
        to_day,
        reason,
    })
}

fn day(line: &mut Line, column: &'static str) -> Option<Date> {
    line.parsed(
        column,
        |text| {
            let is_plain = text.len() == 10 && text.as_bytes()[4] == b'-';
            text.parse().ok().filter(|_| is_plain)
        },
        "a day such as 2027-03-01",
    )
}

fn hours(line: &mut Line) -> Option<(u16, u16)> {
    let must_be = "a time such as 17:30, from 0:00 to 24:00";
    let from = line.parsed("from", parse_clock, must_be);
    let to = line.parsed("to", parse_clock, must_be);
    let (from, to) = (from?, to?);
    if to <= from {
        line.flaw("to", "is not after the opening begins; must be later");
        return None;
    }
    Some((from, to))
}

fn clock(minute: u16) -> String {
    format!("{:02}:{:02}", minute / 60, minute % 60)
}

fn parse_clock(text: &str) -> Option<u16> {
    let (hour, minute) = text.split_once(':')?;
    let is_number = |text: &str, most: usize| {
        !text.is_empty() && text.len() <= most && text.bytes().all(|byte| byte.is_ascii_digit())
    };
    if !is_number(hour, 2) || !is_number(minute, 2) || minute.len() != 2 {
        return None;
    }
    let (hour, minute): (u16, u16) = (hour.parse().ok()?, minute.parse().ok()?);
    let minutes = hour * 60 + minute;
    (minute < 60 && minutes <= 1440).then_some(minutes)
}

fn weekday_name(weekday: i8) -> &'static str {
    WEEKDAYS
        .iter()
        .find(|(_, number)| *number == weekday)
        .map_or("", |(name, _)| name)
}
