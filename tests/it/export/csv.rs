//! Tables: what is exported reads back the same, and each flaw has its line and column.

use proptest::prelude::*;
use scrapwright::calc::wood::GrowthRings;
use scrapwright::export::csv::{
    ClampRow, CsvFlaw, LedgerRow, OffcutRow, OpeningRow, UnusableStretch, read_clamps, read_ledger,
    read_offcuts, read_openings, write_clamps, write_ledger, write_offcuts, write_openings,
};
use scrapwright::units::{InchFraction, Length, LengthFormat};

use super::drawing::inches;

const INCHES: LengthFormat = LengthFormat::Inches(InchFraction::Sixteenths);

fn offcut() -> OffcutRow {
    OffcutRow {
        tag: "B3-0412".to_owned(),
        species: "hard maple".to_owned(),
        length: inches(26, 1),
        width: inches(13, 4),
        thickness: Length::from_mm(19),
        count: 2,
        bin: "Bin 3".to_owned(),
        unusable: vec![
            UnusableStretch {
                from: Length::ZERO,
                to: inches(3, 2),
                why: "knot; and a crack".to_owned(),
            },
            UnusableStretch {
                from: inches(25, 1),
                to: inches(26, 1),
                why: String::new(),
            },
        ],
        square_ends: true,
        straight_edges: false,
        growth_rings: GrowthRings::QuarterSawn,
        moisture_milli: Some(8_500),
        note: "from Ann, \"the long one\"".to_owned(),
    }
}

fn rows<T>(read: Result<Vec<scrapwright::export::csv::Numbered<T>>, Vec<CsvFlaw>>) -> Vec<T> {
    read.expect("a sound file")
        .into_iter()
        .map(|numbered| numbered.row)
        .collect()
}

fn flaws<T: std::fmt::Debug>(read: Result<T, Vec<CsvFlaw>>) -> Vec<String> {
    read.expect_err("flaws")
        .iter()
        .map(CsvFlaw::to_string)
        .collect()
}

#[test]
fn an_offcut_is_written_in_words_a_member_knows() {
    let file = String::from_utf8(write_offcuts(INCHES, &[offcut()])).expect("UTF-8");
    assert_eq!(
        file,
        "tag,species,length,width,thickness,count,bin,unusable,square ends,straight edges,growth rings,moisture (%),note\r\n\
         B3-0412,hard maple,26 in,3 1/4 in,19 mm,2,Bin 3,0 in to 1 1/2 in: knot\\; and a crack; 25 in to 26 in,yes,no,quarter-sawn,8.5,\"from Ann, \"\"the long one\"\"\"\r\n"
    );
    assert_eq!(rows(read_offcuts(file.as_bytes())), [offcut()]);
}

#[test]
fn columns_may_come_in_any_order_and_state_the_unit() {
    let file = "Bin,Species,Length (mm),Width (in),Thickness\nBin 1,walnut,610,3.5,3/4 in\n\n";
    let read = rows(read_offcuts(file.as_bytes()));
    assert_eq!(read.len(), 1);
    assert_eq!(read[0].length, Length::from_mm(610));
    assert_eq!(read[0].width, inches(7, 2));
    assert_eq!(read[0].thickness, inches(3, 4));
    assert_eq!((read[0].count, read[0].tag.as_str()), (1, ""));
    // A byte order mark and semicolons, as some spreadsheets write them.
    let file =
        "\u{feff}bin;species;length (mm);width (mm);thickness (mm)\r\nBin 1;walnut;610;89;19\r\n";
    assert_eq!(rows(read_offcuts(file.as_bytes())).len(), 1);
}

#[test]
fn every_flaw_is_told_with_its_line_and_column() {
    let file = "tag,species,length,width,thickness,count,bin,unusable,square ends\n\
                A-1,hard maple,26,3 in,0 mm,two,Bin 1,,maybe\n\
                A-2,,26 in,3 in,3/4 in,1,,0 in to 40 in: crack; knot,yes\n\
                A-3,oak,26 in,3 in,3/4 in,1,Bin 1,,yes\n\
                A-4,oak\n";
    assert_eq!(
        flaws(read_offcuts(file.as_bytes())),
        [
            "line 2, length: is \"26\", which has no unit; must name one: 26 mm or 26 in",
            "line 2, thickness: is \"0 mm\"; must be more than 0",
            "line 2, count: is \"two\"; must be a whole number from 1 to 100000",
            "line 2, square ends: is \"maybe\"; must be yes or no",
            "line 3, species: is empty; must not be",
            "line 3, bin: is empty; must not be",
            "line 3, unusable: is \"0 in to 40 in\"; must end within the piece's length",
            "line 3, unusable: is \"knot\"; must be like \"0 in to 1 1/2 in: knot\"",
            "line 5: has 2 cells; must have 9, as the heading has",
        ]
    );
}

#[test]
fn lines_are_counted_alike_for_every_line_break() {
    for line_break in ["\n", "\r\n"] {
        let file = [
            "name,count,reach",
            "a,1,24 in",
            "",
            "\"b\nc\",2,24 in",
            "d,x,24 in",
            "",
        ]
        .join(line_break);
        let told = flaws(read_clamps(file.as_bytes()));
        assert_eq!(
            told,
            ["line 6, count: is \"x\"; must be a whole number from 0 to 100000"]
        );
    }
}

#[test]
fn a_heading_must_be_known_and_whole() {
    let told = flaws(read_offcuts(b"species,length,length,price\n"));
    assert_eq!(told.len(), 5);
    assert_eq!(
        told[0],
        "line 1: has the column \"length\" twice; must have it once"
    );
    assert!(told[1].starts_with("line 1: has the column \"price\"; must be one of: tag, species,"));
    assert_eq!(told[2], "line 1: has no column \"width\"; must have it");
    let told = flaws(read_clamps(b""));
    assert!(told[0].starts_with("line 1: is empty; must begin with a line of column names: name,"));
    let told = flaws(read_clamps(b"name,count,reach\nbar \xff,4,24 in\n"));
    assert_eq!(told, ["line 2: has a cell in column 1 that is not UTF-8"]);
}

#[test]
fn formulas_are_defused_and_come_back() {
    for note in [
        "=1+1", "+49 30 1", "-", "@home", "'=quoted", "''@x", "'plain", "\tx",
    ] {
        let row = OffcutRow {
            note: note.to_owned(),
            ..offcut()
        };
        let file =
            String::from_utf8(write_offcuts(INCHES, std::slice::from_ref(&row))).expect("UTF-8");
        let cell = file.trim_end().rsplit(',').next().expect("a last cell");
        assert!(
            !cell
                .trim_start_matches('"')
                .starts_with(['=', '+', '-', '@', '\t']),
            "{cell}"
        );
        assert_eq!(rows(read_offcuts(file.as_bytes())), [row]);
    }
}

#[test]
fn clamps_openings_and_ledger_read_back_the_same() {
    let clamps = [
        ClampRow {
            name: "24 in bar clamps".to_owned(),
            count: 12,
            reach: inches(24, 1),
            rated_force_n: Some(4_500),
        },
        ClampRow {
            name: "long, \"odd\" ones".to_owned(),
            count: 0,
            reach: Length::from_nm(609_600_001),
            rated_force_n: None,
        },
    ];
    for lengths in [INCHES, LengthFormat::Millimetres] {
        assert_eq!(rows(read_clamps(&write_clamps(lengths, &clamps))), clamps);
    }
    let day = |text: &str| text.parse().expect("a day");
    let openings = [
        OpeningRow::Weekly {
            weekday: 1,
            from_minute: 17 * 60 + 30,
            to_minute: 1440,
            machines: true,
            from_day: day("2027-01-01"),
            to_day: None,
        },
        OpeningRow::Extra {
            on_day: day("2027-03-06"),
            from_minute: 600,
            to_minute: 960,
            machines: false,
            note: "=open day".to_owned(),
        },
        OpeningRow::Closed {
            from_day: day("2027-12-24"),
            to_day: day("2028-01-02"),
            reason: "holidays, snow".to_owned(),
        },
    ];
    assert_eq!(rows(read_openings(&write_openings(&openings))), openings);
    let ledger = [LedgerRow {
        at: "2027-03-01T17:00:00Z".parse().expect("an instant"),
        member: "Ann".to_owned(),
        what: "cut".to_owned(),
        tag: "B3-0412".to_owned(),
        project: "Bread board".to_owned(),
        species: "hard maple".to_owned(),
        pieces: -1,
        volume_mm3: -1_234_567,
        strips_mm3: 1_000_000,
        waste_mm3: 34_567,
        why: String::new(),
    }];
    assert_eq!(rows(read_ledger(&write_ledger(&ledger))), ledger);
}

#[test]
fn openings_say_what_is_wrong_with_their_hours_and_days() {
    let file = "what,weekday,first day,last day,from,to,machines,note\n\
                weekly,someday,2027-01-01,2026-01-01,21:00,17:00,yes,\n\
                closed,,2027-1-1,,,,,\n\
                often,,2027-01-01,,,,,\n\
                extra,,2027-03-06,2027-03-07,9:60,25:00,no,\n";
    assert_eq!(
        flaws(read_openings(file.as_bytes())),
        [
            "line 2, weekday: is \"someday\"; must be one of: monday, tuesday, wednesday, thursday, friday, saturday, sunday",
            "line 2, to: is not after the opening begins; must be later",
            "line 2, last day: is before the first day; must not be",
            "line 3, first day: is \"2027-1-1\"; must be a day such as 2027-03-01",
            "line 4, what: is \"often\"; must be one of: weekly, extra, closed",
            "line 5, last day: is another day; must be the first day or empty",
            "line 5, from: is \"9:60\"; must be a time such as 17:30, from 0:00 to 24:00",
            "line 5, to: is \"25:00\"; must be a time such as 17:30, from 0:00 to 24:00",
        ]
    );
}

#[test]
fn a_file_full_of_flaws_is_told_in_part() {
    let mut file = String::from("name,count,reach\n");
    for _ in 0..1000 {
        file.push_str(",x,y\n");
    }
    let told = flaws(read_clamps(file.as_bytes()));
    assert_eq!(told.len(), 201);
    assert!(told[200].ends_with("has flaws enough; what follows was not looked at"));
}

/// Any words, with those that a table or a spreadsheet may stumble over among them.
fn some_words() -> impl Strategy<Value = String> {
    proptest::collection::vec(
        prop_oneof![
            Just("=".to_owned()),
            Just("'".to_owned()),
            Just("\"".to_owned()),
            Just(",".to_owned()),
            Just(";".to_owned()),
            Just("\\".to_owned()),
            Just(": ".to_owned()),
            Just("\r\n".to_owned()),
            Just(" to ".to_owned()),
            "[a-zäß0-9 @+-]{0,4}",
        ],
        0..8,
    )
    .prop_map(|parts| parts.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn export_then_import_gives_the_same(
        note in some_words(),
        why in some_words(),
        nm in 1i64..1_000_000_000,
        is_metric in any::<bool>(),
    ) {
        let row = OffcutRow {
            length: Length::from_nm(nm + 1_000_000),
            unusable: vec![UnusableStretch {
                from: Length::from_nm(nm / 2),
                to: Length::from_nm(nm),
                why,
            }],
            note,
            ..offcut()
        };
        let lengths = if is_metric { LengthFormat::Millimetres } else { INCHES };
        let file = write_offcuts(lengths, std::slice::from_ref(&row));
        prop_assert_eq!(rows(read_offcuts(&file)), [row]);
    }

    #[test]
    fn no_bytes_make_a_reader_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let mut file = b"name,count,reach\n".to_vec();
        file.extend(&bytes);
        let _ = read_clamps(&file);
        let _ = read_offcuts(&bytes);
        let _ = read_openings(&bytes);
        let _ = read_ledger(&bytes);
    }
}
