//! Calendars by RFC 5545.
//!
//! Every time is an instant in UTC, so no rule of a time zone has to be told: a reader shows it on
//! its own clock, and a hold of twelve hours across a clock change stays twelve hours. An event keeps
//! its `UID` for ever; a change raises its `SEQUENCE`, and what is called off stays in the
//! calendar as `CANCELLED`, so that readers take it away.

use std::fmt::Write as _;

use crate::units::{MINUTES_PER_DAY, WallMinute};

/// Seconds since 1970-01-01T00:00:00 UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(pub i64);

/// When an event is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// From an instant to a later one; where both are equal the event is a moment.
    Span { from: Instant, to: Instant },
    /// The whole civil day in which this minute lies.
    Day(WallMinute),
}

/// One event of a calendar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event<'a> {
    /// The same for ever, and unlike any other event's anywhere: `booking-12@` and the workshop's address.
    pub uid: &'a str,
    /// Raised with every change.
    pub sequence: i64,
    /// When the event was last changed.
    pub changed: Instant,
    pub when: When,
    pub summary: &'a str,
    /// Left out where empty, as are place and address.
    pub description: &'a str,
    pub place: &'a str,
    pub url: &'a str,
    pub is_cancelled: bool,
}

/// A calendar file: lines of at most 75 octets that end in CRLF, in UTF-8.
pub fn calendar(name: &str, events: &[Event]) -> String {
    let mut file = String::new();
    line(&mut file, "BEGIN:VCALENDAR");
    line(&mut file, "VERSION:2.0");
    line(&mut file, "PRODID:-//Scrapwright//Workshop calendar//EN");
    line(&mut file, "CALSCALE:GREGORIAN");
    // RFC 7986, 5.1 and 5.7: the calendar's name, and how often to look again.
    line(&mut file, &format!("NAME:{}", text(name)));
    line(&mut file, "REFRESH-INTERVAL;VALUE=DURATION:PT1H");
    for event in events {
        write_event(&mut file, event);
    }
    if events.is_empty() {
        // RFC 5545, 3.6: a calendar holds at least one component.
        for word in [
            "BEGIN:VTIMEZONE",
            "TZID:UTC",
            "BEGIN:STANDARD",
            "DTSTART:19700101T000000",
            "TZOFFSETFROM:+0000",
            "TZOFFSETTO:+0000",
            "END:STANDARD",
            "END:VTIMEZONE",
        ] {
            line(&mut file, word);
        }
    }
    line(&mut file, "END:VCALENDAR");
    file
}

fn write_event(file: &mut String, event: &Event) {
    line(file, "BEGIN:VEVENT");
    line(file, &format!("UID:{}", text(event.uid)));
    line(file, &format!("DTSTAMP:{}", utc(event.changed)));
    line(file, &format!("LAST-MODIFIED:{}", utc(event.changed)));
    line(file, &format!("SEQUENCE:{}", event.sequence.max(0)));
    match event.when {
        When::Span { from, to } => {
            line(file, &format!("DTSTART:{}", utc(from)));
            // RFC 5545, 3.8.2.2: an end must be later than its start.
            if to > from {
                line(file, &format!("DTEND:{}", utc(to)));
            }
        }
        When::Day(minute) => {
            let next = WallMinute(minute.0 + MINUTES_PER_DAY);
            line(file, &format!("DTSTART;VALUE=DATE:{}", date(minute)));
            line(file, &format!("DTEND;VALUE=DATE:{}", date(next)));
            // A day that something is due keeps nobody busy.
            line(file, "TRANSP:TRANSPARENT");
        }
    }
    line(file, &format!("SUMMARY:{}", text(event.summary)));
    for (property, value) in [
        ("DESCRIPTION", event.description),
        ("LOCATION", event.place),
    ] {
        if !value.is_empty() {
            line(file, &format!("{property}:{}", text(value)));
        }
    }
    if !event.url.is_empty() {
        // An address is no text: it is not escaped, and may hold no line break.
        let url: String = event.url.chars().filter(|c| !c.is_control()).collect();
        line(file, &format!("URL:{url}"));
    }
    let status = if event.is_cancelled {
        "CANCELLED"
    } else {
        "CONFIRMED"
    };
    line(file, &format!("STATUS:{status}"));
    line(file, "END:VEVENT");
}

/// RFC 5545, 3.3.11: a text with its backslashes, semicolons, commas and line breaks escaped. Control
/// characters, which a text may not hold, are left out.
fn text(value: &str) -> String {
    let mut escaped = String::with_capacity(value.len());
    let mut letters = value.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' | ';' | ',' => {
                escaped.push('\\');
                escaped.push(letter);
            }
            '\r' => {
                letters.next_if_eq(&'\n');
                escaped.push_str("\\n");
            }
            '\n' => escaped.push_str("\\n"),
            '\t' => escaped.push('\t'),
            letter if letter.is_control() => {}
            letter => escaped.push(letter),
        }
    }
    escaped
}

/// RFC 5545, 3.1: folds a line before its 76th octet, never inside a letter.
fn line(file: &mut String, content: &str) {
    const MOST: usize = 75;
    let mut octets = 0;
    for letter in content.chars() {
        if octets + letter.len_utf8() > MOST {
            file.push_str("\r\n ");
            octets = 1;
        }
        file.push(letter);
        octets += letter.len_utf8();
    }
    file.push_str("\r\n");
}

/// RFC 5545, 3.3.5, form 2: a date with UTC time.
fn utc(instant: Instant) -> String {
    let minute = WallMinute(instant.0.div_euclid(60));
    let (_, _, _, hour, minutes) = minute.to_civil();
    let mut written = date(minute);
    let seconds = instant.0.rem_euclid(60);
    let _ = write!(written, "T{hour:02}{minutes:02}{seconds:02}Z");
    written
}

/// RFC 5545, 3.3.4.
fn date(minute: WallMinute) -> String {
    let (year, month, day, _, _) = minute.to_civil();
    format!("{year:04}{month:02}{day:02}")
}
