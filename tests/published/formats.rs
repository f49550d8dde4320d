//! Files by the standards that name them: RFC 4180, RFC 5545, ISO/IEC 18004.

use scrapwright::export::csv::read_clamps;
use scrapwright::export::ics::{Event, Instant, When, calendar};
use scrapwright::export::qr::QrCode;
use scrapwright::units::Length;

/// RFC 4180, section 2: rule 5 (quoted and bare fields mixed), rule 6 (line breaks and commas inside
/// quotes), rule 7 (a quote inside quotes is doubled); rule 2 (the last line may lack its break).
#[test]
fn the_rules_of_rfc_4180_are_read() {
    let file = "name,count,reach\r\n\"aaa\",1,\"24 in\"\r\n\"b \r\nbb\",2,24 in\r\n\"b\"\"bb\",3,24 in\r\n\"c,cc\",\"4\",24 in";
    let rows = read_clamps(file.as_bytes()).expect("a file by the rules");
    let names: Vec<&str> = rows.iter().map(|row| row.row.name.as_str()).collect();
    assert_eq!(names, ["aaa", "b \r\nbb", "b\"bb", "c,cc"]);
    assert_eq!(rows[3].row.reach, Length::from_inches(24, 1));
    // A line break inside a field counts as a line of the file.
    let lines: Vec<u64> = rows.iter().map(|row| row.line).collect();
    assert_eq!(lines, [2, 3, 5, 6]);
}

/// 1997-09-03T16:30:00Z in seconds since 1970: 10 107 days, 16 hours and 30 minutes.
const REVIEW: i64 = 10_107 * 86_400 + 16 * 3_600 + 30 * 60;

/// RFC 5545, section 3.6.1, first example (an event of 1997-09-03, 16:30 to 19:00 UTC).
#[test]
fn the_event_of_rfc_5545_is_written_as_there() {
    let event = Event {
        uid: "19970901T130000Z-123401@example.com",
        sequence: 0,
        changed: Instant(REVIEW - 2 * 86_400 - 3 * 3_600 - 30 * 60),
        when: When::Span {
            from: Instant(REVIEW),
            to: Instant(REVIEW + 150 * 60),
        },
        summary: "Annual Employee Review",
        // RFC 5545, 3.3.11: the example of a text with escaped breaks.
        description: "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.",
        place: "",
        url: "",
        is_cancelled: false,
    };
    let file = calendar("Reviews", &[event]);
    for line in [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "BEGIN:VEVENT",
        "UID:19970901T130000Z-123401@example.com",
        "DTSTAMP:19970901T130000Z",
        "DTSTART:19970903T163000Z",
        "DTEND:19970903T190000Z",
        "SUMMARY:Annual Employee Review",
        "END:VEVENT",
        "END:VCALENDAR",
    ] {
        assert!(file.contains(&format!("{line}\r\n")), "{line}");
    }
    // 3.1: a fold is a line break and one blank, which go away on reading.
    let unfolded = file.replace("\r\n ", "");
    assert!(unfolded.contains(
        "DESCRIPTION:Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.\r\n"
    ));
}

/// ISO/IEC 18004:2015, annex I: "01234567" as a version 1-M symbol has these codewords (data, then error
/// correction). From memory.
const ANNEX_I: [u8; 26] = [
    0x10, 0x20, 0x0c, 0x56, 0x61, 0x80, 0xec, 0x11, 0xec, 0x11, 0xec, 0x11, 0xec, 0x11, 0xec, 0x11,
    0xa5, 0x24, 0xd4, 0xc1, 0xed, 0x36, 0xc7, 0x87, 0x2c, 0x55,
];

/// Takes the codewords out of a version 1 symbol: the mask off (7.8.2), then pairs of columns from the
/// right, upwards and downwards by turns, past the timing column (7.7.3).
fn codewords(code: &QrCode) -> Vec<u8> {
    let side = code.side();
    assert_eq!(side, 21, "version 1");
    // Format bits 2 to 4 name the mask; the pattern that they are masked with has 101 there (7.9.1).
    let mask = (0..3).fold(0, |mask, bit| {
        mask << 1 | usize::from(code.is_dark(8, 2 + bit))
    }) ^ 0b101;
    let is_masked = |row: usize, column: usize| match mask {
        0 => (row + column).is_multiple_of(2),
        1 => row.is_multiple_of(2),
        2 => column.is_multiple_of(3),
        3 => (row + column).is_multiple_of(3),
        4 => (row / 2 + column / 3).is_multiple_of(2),
        5 => (row * column) % 2 + (row * column) % 3 == 0,
        6 => ((row * column) % 2 + (row * column) % 3).is_multiple_of(2),
        _ => ((row + column) % 2 + (row * column) % 3).is_multiple_of(2),
    };
    let is_function = |row: usize, column: usize| {
        let in_finder =
            (row < 9 && (column < 9 || column >= side - 8)) || (row >= side - 8 && column < 9);
        in_finder || row == 6 || column == 6
    };
    let mut bits = Vec::new();
    let mut right = side - 1;
    let mut upwards = true;
    loop {
        for step in 0..side {
            let row = if upwards { side - 1 - step } else { step };
            for column in [right, right - 1] {
                if !is_function(row, column) {
                    bits.push(code.is_dark(row, column) != is_masked(row, column));
                }
            }
        }
        upwards = !upwards;
        if right < 2 {
            break;
        }
        right -= if right == 8 { 3 } else { 2 };
        if right == 0 {
            break;
        }
    }
    bits.chunks_exact(8)
        .map(|byte| {
            byte.iter()
                .fold(0, |value, bit| value << 1 | u8::from(*bit))
        })
        .collect()
}

#[test]
fn the_symbol_of_iso_18004_has_its_codewords() {
    let code = QrCode::new("01234567").expect("it is short");
    assert_eq!(codewords(&code), ANNEX_I);
}
