//! Calendars, read back by a parser that shares no code with the writer.

use icalendar::parser::{read_calendar, unfold};
use scrapwright::export::ics::{Event, Instant, When, calendar};
use scrapwright::units::WallMinute;

/// 2027-03-01T17:00:00Z.
const START: Instant = Instant(1_803_920_400);

fn glue_up() -> Event<'static> {
    Event {
        uid: "booking-12@workshop.example",
        sequence: 3,
        changed: Instant(1_803_900_000),
        when: When::Span {
            from: START,
            to: Instant(START.0 + 45 * 60),
        },
        summary: "Glue-up: Grandmother's board",
        description: "5 clamps, 24 in; glue bench 1\nBring cauls.",
        place: "Workshop, back room",
        url: "https://workshop.example/projects/7",
        is_cancelled: false,
    }
}

fn properties(file: &str) -> Vec<(String, String)> {
    let unfolded = unfold(file);
    let parsed = read_calendar(&unfolded).expect("a sound calendar");
    assert_eq!(parsed.components.len(), 1);
    parsed.components[0]
        .properties
        .iter()
        .map(|property| {
            (
                property.name.as_str().to_owned(),
                property.val.as_str().to_owned(),
            )
        })
        .collect()
}

fn value<'a>(properties: &'a [(String, String)], name: &str) -> &'a str {
    let found: Vec<&str> = properties
        .iter()
        .filter(|(known, _)| known == name)
        .map(|(_, value)| value.as_str())
        .collect();
    assert_eq!(found.len(), 1, "{name}");
    found[0]
}

#[test]
fn an_event_reads_back_from_a_strict_parser() {
    let file = calendar("Workshop", &[glue_up()]);
    assert!(file.contains("\r\nLOCATION:Workshop\\, back room\r\n"));
    let properties = properties(&file);
    assert_eq!(value(&properties, "UID"), "booking-12@workshop.example");
    assert_eq!(value(&properties, "SEQUENCE"), "3");
    assert_eq!(value(&properties, "DTSTART"), "20270301T170000Z");
    assert_eq!(value(&properties, "DTEND"), "20270301T174500Z");
    assert_eq!(value(&properties, "STATUS"), "CONFIRMED");
    assert_eq!(
        value(&properties, "DESCRIPTION"),
        "5 clamps, 24 in; glue bench 1\nBring cauls."
    );
    assert_eq!(value(&properties, "LOCATION"), "Workshop, back room");
    assert_eq!(
        value(&properties, "URL"),
        "https://workshop.example/projects/7"
    );
}

#[test]
fn a_move_keeps_the_uid_and_a_cancellation_says_so() {
    let moved = Event {
        sequence: 4,
        is_cancelled: true,
        ..glue_up()
    };
    let properties = properties(&calendar("Workshop", &[moved]));
    assert_eq!(value(&properties, "UID"), "booking-12@workshop.example");
    assert_eq!(value(&properties, "SEQUENCE"), "4");
    assert_eq!(value(&properties, "STATUS"), "CANCELLED");
}

#[test]
fn a_hold_across_a_clock_change_keeps_its_real_hours() {
    // Clocks in Berlin go forward on 2027-03-28 at 01:00 UTC: 22:00 to 11:00 there is 12 hours.
    let zone = "Europe/Berlin";
    let instant = |text: &str| {
        let civil: jiff::civil::DateTime = text.parse().expect("a time");
        Instant(civil.in_tz(zone).expect("a zone").timestamp().as_second())
    };
    let hold = Event {
        when: When::Span {
            from: instant("2027-03-27T22:00"),
            to: instant("2027-03-28T11:00"),
        },
        ..glue_up()
    };
    let properties = properties(&calendar("Workshop", &[hold]));
    assert_eq!(value(&properties, "DTSTART"), "20270327T210000Z");
    assert_eq!(value(&properties, "DTEND"), "20270328T090000Z");
}

#[test]
fn a_due_day_is_a_whole_day_and_a_moment_has_no_end() {
    let due = Event {
        when: When::Day(WallMinute::from_civil(2028, 2, 29, 18, 30).expect("a leap day")),
        ..glue_up()
    };
    let file = calendar("Workshop", &[due]);
    assert!(file.contains("\r\nDTSTART;VALUE=DATE:20280229\r\n"));
    assert!(file.contains("\r\nDTEND;VALUE=DATE:20280301\r\n"));
    let moment = Event {
        when: When::Span {
            from: START,
            to: START,
        },
        ..glue_up()
    };
    assert!(!calendar("Workshop", &[moment]).contains("DTEND"));
}

#[test]
fn lines_end_in_crlf_and_are_folded_between_letters() {
    let long = "Ein sehr langes Brett aus Süßkirsche für Großmütter — ".repeat(6);
    let event = Event {
        summary: &long,
        ..glue_up()
    };
    let file = calendar(&long, &[event]);
    assert!(file.ends_with("END:VCALENDAR\r\n"));
    assert!(!file.replace("\r\n", "").contains(['\r', '\n']));
    for line in file.split("\r\n") {
        assert!(line.len() <= 75, "{line}");
    }
    let properties = properties(&file);
    assert_eq!(value(&properties, "SUMMARY"), long);
}

#[test]
fn a_name_cannot_begin_a_line_of_its_own() {
    let event = Event {
        summary: "Board\r\nEND:VEVENT\rSTATUS:CANCELLED\u{7}",
        url: "https://workshop.example/\r\nATTACH:evil",
        ..glue_up()
    };
    let file = calendar("Work\nshop", &[event]);
    let properties = properties(&file);
    assert_eq!(
        value(&properties, "SUMMARY"),
        "Board\nEND:VEVENT\nSTATUS:CANCELLED"
    );
    assert_eq!(value(&properties, "STATUS"), "CONFIRMED");
    assert_eq!(
        value(&properties, "URL"),
        "https://workshop.example/ATTACH:evil"
    );
}

#[test]
fn an_empty_calendar_is_a_calendar_with_the_one_component_that_the_standard_asks() {
    let file = calendar("Workshop", &[]);
    let unfolded = unfold(&file);
    let parsed = read_calendar(&unfolded).expect("a sound calendar");
    let components: Vec<&str> = parsed
        .components
        .iter()
        .map(|part| part.name.as_str())
        .collect();
    assert_eq!(components, ["VTIMEZONE"]);
}
