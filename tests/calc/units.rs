//! Units as people write and read them.

use proptest::prelude::*;
use scrapwright::units::{
    Area, Force, Humidity, InchFraction, Length, LengthFlaw, LengthFormat, LengthUnit, Mass,
    Minutes, Moisture, Money, Pressure, Source, Volume, WallMinute,
};

fn nm(text: &str) -> i64 {
    Length::parse(text, None)
        .unwrap_or_else(|error| panic!("{error}"))
        .nm()
}

fn flaw(text: &str) -> LengthFlaw {
    Length::parse(text, None).expect_err("must be refused").flaw
}

#[test]
fn every_form_of_the_contract_is_read_exactly() {
    for (text, expected) in [
        ("450 mm", 450_000_000),
        ("45 cm", 450_000_000),
        ("18 in", 457_200_000),
        ("1 3/4 in", 44_450_000),
        ("1-3/4\"", 44_450_000),
        ("13/16 in", 20_637_500),
        ("0.75 in", 19_050_000),
        ("2 ft 3 1/2 in", 698_500_000),
    ] {
        assert_eq!(nm(text), expected, "{text}");
    }
}

#[test]
fn what_people_type_is_read_exactly() {
    for (text, expected) in [
        ("1-1/2\"", 38_100_000),
        ("2' 3 1/2\"", 698_500_000),
        ("2'3\"", 685_800_000),
        ("2'-3 1/2\"", 698_500_000),
        ("2′ 3½″", 698_500_000),
        ("2 feet 3 inches", 685_800_000),
        ("2 ft 3", 685_800_000),
        ("6ft", 1_828_800_000),
        ("19mm", 19_000_000),
        ("19 mm", 19_000_000),
        ("  19  MM ", 19_000_000),
        ("1.5 in", 38_100_000),
        (".5 in", 12_700_000),
        ("18 in.", 457_200_000),
        ("½ in", 12_700_000),
        ("1½\"", 38_100_000),
        ("1 ¾ in", 44_450_000),
        ("5⁄8 in", 15_875_000),
        ("3/4''", 19_050_000),
        ("1 – 3/4 in", 44_450_000),
        ("1/64 in", 396_875),
        ("0.1 mm", 100_000),
        ("2.4 m", 2_400_000_000),
        ("0 mm", 0),
        ("100 m", 100_000_000_000),
    ] {
        assert_eq!(nm(text), expected, "{text}");
    }
}

#[test]
fn a_bare_number_is_in_the_members_own_unit_and_a_bare_fraction_in_inches() {
    let read = |text, unit| Length::parse(text, Some(unit)).map(Length::nm);
    assert_eq!(read("19", LengthUnit::Millimetres), Ok(19_000_000));
    assert_eq!(read("19", LengthUnit::Inches), Ok(482_600_000));
    assert_eq!(read("1.5", LengthUnit::Inches), Ok(38_100_000));
    assert_eq!(read("3/4", LengthUnit::Inches), Ok(19_050_000));
    assert_eq!(read("3/4", LengthUnit::Millimetres), Ok(19_050_000));
    assert_eq!(read("1 3/4", LengthUnit::Millimetres), Ok(44_450_000));
    assert_eq!(read("19 mm", LengthUnit::Inches), Ok(19_000_000));
    assert_eq!(flaw("19"), LengthFlaw::NoUnit);
    assert_eq!(flaw("3/4"), LengthFlaw::NoUnit);
}

#[test]
fn nonsense_is_refused_with_its_own_reason() {
    for (text, expected) in [
        ("", LengthFlaw::Empty),
        ("   ", LengthFlaw::Empty),
        ("wide", LengthFlaw::NotALength),
        ("in", LengthFlaw::NotALength),
        ("1.2.3 in", LengthFlaw::NotALength),
        ("1 2 in", LengthFlaw::NotALength),
        ("3 in 4", LengthFlaw::NotALength),
        ("2 ft 3 ft", LengthFlaw::NotALength),
        ("2 ft 3 mm", LengthFlaw::NotALength),
        ("1e3 mm", LengthFlaw::UnknownUnit),
        ("3 furlongs", LengthFlaw::UnknownUnit),
        ("12,5 mm", LengthFlaw::Comma),
        ("1,200 mm", LengthFlaw::Comma),
        ("-3 in", LengthFlaw::Negative),
        ("−3 in", LengthFlaw::Negative),
        ("101 m", LengthFlaw::TooLong),
        ("999999999999999999 m", LengthFlaw::TooLong),
        ("1/3 in", LengthFlaw::TooFine),
        ("0.0000001 mm", LengthFlaw::TooFine),
        ("0.1234567890123456789 mm", LengthFlaw::TooFine),
        ("3/0 in", LengthFlaw::Fraction),
        ("1 4/4 in", LengthFlaw::Fraction),
        ("1.5 1/2 in", LengthFlaw::Fraction),
        ("1/2.5 in", LengthFlaw::Fraction),
    ] {
        assert_eq!(flaw(text), expected, "{text:?}");
    }
    let zero = Length::parse_positive("0 in", None).expect_err("zero is refused");
    assert_eq!(zero.flaw, LengthFlaw::Zero);
}

#[test]
fn a_refusal_says_what_was_wrong_and_what_would_be_right() {
    let message = |text| {
        Length::parse(text, None)
            .expect_err("must be refused")
            .to_string()
    };
    assert_eq!(
        message("12,5 mm"),
        "is \"12,5 mm\", which has a comma; must use a point before decimals and nothing between thousands"
    );
    assert_eq!(
        message("19"),
        "is \"19\", which has no unit; must name one: 19 mm or 19 in"
    );
    assert_eq!(
        message("1/3 in"),
        "is \"1/3 in\", which is not a whole number of nanometres; must be exact, such as 0.1 mm or 1/64 in"
    );
    assert!(message(&"9".repeat(5000)).len() < 200);
}

#[test]
fn lengths_show_as_fractions_or_millimetres_and_own_up_to_rounding() {
    let sixteenths = LengthFormat::Inches(InchFraction::Sixteenths);
    let sixty_fourths = LengthFormat::Inches(InchFraction::SixtyFourths);
    for (format, text, expected) in [
        (sixteenths, "17 1/2 in", "17 1/2 in"),
        (sixteenths, "13/16 in", "13/16 in"),
        (sixteenths, "18 in", "18 in"),
        (sixteenths, "0 in", "0 in"),
        (sixteenths, "1/64 in", "≈ 0 in"),
        (sixteenths, "3/64 in", "≈ 1/16 in"),
        (sixteenths, "19 mm", "≈ 3/4 in"),
        (sixty_fourths, "3/64 in", "3/64 in"),
        (LengthFormat::Millimetres, "17 1/2 in", "444.5 mm"),
        (LengthFormat::Millimetres, "18 in", "457.2 mm"),
        (LengthFormat::Millimetres, "19 mm", "19 mm"),
        (LengthFormat::Millimetres, "13/16 in", "≈ 20.6 mm"),
    ] {
        let length = Length::parse(text, None).expect("a length");
        assert_eq!(format.show(length), expected, "{text}");
    }
    assert_eq!(sixteenths.show(Length::from_inches(-3, 4)), "-3/4 in");
    assert_eq!(sixteenths.show_exact(Length::from_inches(3, 64)), "3/64 in");
    assert_eq!(sixteenths.show_exact(Length::from_mm(19)), "19 mm");
    assert_eq!(
        LengthFormat::Millimetres.show_exact(Length::from_inches(13, 16)),
        "20.6375 mm"
    );
}

/// 144 cubic inches: the definition of the board foot in hardwood lumber grading.
#[test]
fn a_board_foot_is_144_cubic_inches() {
    let inch = Length::from_inches(1, 1);
    let board = Volume::of(inch * 12, inch * 12, inch);
    assert_eq!(board.board_feet(), 1.0);
    assert_eq!(board.mm3(), 2_359_737.216);
    assert_eq!(Volume::of(inch * 96, inch * 6, inch).board_feet(), 4.0);
    assert_eq!(Area::of(inch * 12, inch * 12).square_feet(), 1.0);
    assert_eq!(Area::of(inch * 12, inch * 12).mm2(), 92_903.04);
}

#[test]
fn money_is_read_to_the_cent() {
    for (text, cents) in [("$14.50", 1450), ("14.5", 1450), ("14", 1400), (" $ 0 ", 0)] {
        assert_eq!(Money::parse(text).map(Money::cents), Ok(cents), "{text}");
    }
    for text in ["", "$", "-1", "1.005", "1,000", "14.50 EUR", "99999999999"] {
        assert!(Money::parse(text).is_err(), "{text}");
    }
    assert_eq!(Money::from_cents(1450).to_string(), "$14.50");
    assert_eq!(Money::from_cents(-5).to_string(), "-$0.05");
}

#[test]
fn spans_of_time_are_read_and_shown() {
    for (text, minutes) in [
        ("90", 90),
        ("90 min", 90),
        ("1h30", 90),
        ("1 h 30 min", 90),
        ("1:30", 90),
        ("2 hours", 120),
        ("7 days", 10_080),
        ("1 d 12 h", 2160),
        ("0", 0),
    ] {
        assert_eq!(
            Minutes::parse(text).map(|span| span.0),
            Ok(minutes),
            "{text}"
        );
    }
    for text in [
        "",
        "h",
        "-5",
        "1.5 h",
        "30 min 1 h",
        "1 h 2 h",
        "1 d 30",
        "1:2:3",
        "5 weeks",
        "1:",
        "99999999999999999999",
        "9999999999 h",
    ] {
        assert!(Minutes::parse(text).is_err(), "{text}");
    }
    for (minutes, text) in [
        (0, "0 min"),
        (45, "45 min"),
        (90, "1 h 30 min"),
        (1440, "24 h"),
        (10_080, "7 days"),
        (10_215, "7 days 2 h 15 min"),
    ] {
        assert_eq!(Minutes(minutes).to_string(), text);
    }
}

/// Day numbers counted independently: ISO 8601 dates as Unix time prints them.
#[test]
fn wall_minutes_follow_the_calendar() {
    for (text, minutes) in [
        ("1970-01-01T00:00", 0),
        ("2000-02-29T00:00", 951_782_400 / 60),
        ("2001-09-09T01:46", 999_999_960 / 60),
        ("2027-03-01T10:00", 1_803_895_200 / 60),
        ("1969-12-31T23:59", -1),
    ] {
        assert_eq!(WallMinute::parse(text), Some(WallMinute(minutes)), "{text}");
        assert_eq!(WallMinute(minutes).to_string(), text);
    }
    for text in [
        "2027-02-29T10:00",
        "2027-13-01T10:00",
        "2027-00-01T10:00",
        "2027-04-31T10:00",
        "2027-03-01T24:00",
        "2027-03-01T10:60",
        "2027-03-01 10:00",
        "2027-3-1T10:00",
        "2027-03-01T10:00:00",
        "0000-01-01T00:00",
        "+027-03-01T10:00",
        "",
    ] {
        assert_eq!(WallMinute::parse(text), None, "{text}");
    }
}

#[test]
fn measured_quantities_stay_in_their_range() {
    assert!(Humidity::from_percent(100.0).is_ok());
    assert_eq!(
        Humidity::from_percent(120.0)
            .expect_err("too humid")
            .to_string(),
        "is 120 %; must be from 0 to 100 %"
    );
    assert!(Humidity::from_percent(f64::NAN).is_err());
    assert!(Moisture::from_percent(-1.0).is_err());
    assert!(Moisture::from_percent(f64::INFINITY).is_err());
    assert_eq!(Force::from_pounds(1.0).newtons(), 4.448_221_615_260_5);
    assert!((Pressure::from_psi(100.0).kpa() - 689.4757).abs() < 1e-4);
    assert_eq!(Mass::from_grams(1250.0).to_string(), "1.25 kg");
}

#[test]
fn a_source_says_how_well_it_is_known() {
    let handbook = "USDA Wood Handbook, Table 13-5";
    assert_eq!(Source::read(handbook).to_string(), handbook);
    assert_eq!(
        Source::memory(handbook).to_string(),
        "USDA Wood Handbook, Table 13-5 (from memory)"
    );
    assert_eq!(
        Source::PRACTICE.to_string(),
        "common practice, no single source"
    );
    assert_eq!(Source::WORKSHOP.to_string(), "this workshop");
}

proptest! {
    #[test]
    fn exact_text_of_a_length_reads_back_the_same(nm in 0..=Length::LONGEST.nm()) {
        let length = Length::from_nm(nm);
        prop_assert_eq!(Length::parse(&length.to_string(), None), Ok(length));
        for format in [LengthFormat::Millimetres, LengthFormat::Inches(InchFraction::Sixteenths)] {
            prop_assert_eq!(Length::parse(&format.show_exact(length), None), Ok(length));
        }
    }

    #[test]
    fn fractions_of_inches_read_back_the_same(count in 0_i64..100_000) {
        let length = Length::from_inches(count, 64);
        let shown = LengthFormat::Inches(InchFraction::SixtyFourths).show(length);
        prop_assert_eq!(Length::parse(&shown, None), Ok(length));
        let typed = shown.trim_end_matches(" in").to_owned();
        prop_assert_eq!(Length::parse(&typed, Some(LengthUnit::Inches)), Ok(length));
    }

    #[test]
    fn a_rounded_length_is_off_by_less_than_half_its_fraction(nm in 0..=Length::LONGEST.nm()) {
        let length = Length::from_nm(nm);
        let format = LengthFormat::Inches(InchFraction::Sixteenths);
        let shown = format.show(length);
        let read = Length::parse(shown.trim_start_matches("≈ "), None).expect("own text");
        prop_assert!((read - length).abs().nm() * 2 <= Length::from_inches(1, 16).nm());
        prop_assert_eq!(shown.starts_with('≈'), read != length);
    }

    #[test]
    fn no_text_makes_a_parser_panic(text in "\\PC{0,60}") {
        let _ = Length::parse(&text, None).map_err(|error| error.to_string());
        let _ = Length::parse(&text, Some(LengthUnit::Millimetres));
        let _ = Money::parse(&text).map_err(|error| error.to_string());
        let _ = Minutes::parse(&text).map_err(|error| error.to_string());
        let _ = WallMinute::parse(&text);
    }

    #[test]
    fn text_near_a_length_never_panics(text in "[0-9 ./'\"½⅔,a-z-]{0,40}") {
        for default in [None, Some(LengthUnit::Feet)] {
            if let Ok(length) = Length::parse(&text, default) {
                prop_assert!(length >= Length::ZERO && length <= Length::LONGEST);
            }
        }
        let _ = Minutes::parse(&text);
    }

    #[test]
    fn money_minutes_and_wall_minutes_read_back_their_own_text(
        cents in 0..=Money::MOST.cents(),
        minutes in 0..=Minutes::LONGEST.0,
        wall in -30_000_000_i64..4_000_000_000,
    ) {
        let money = Money::from_cents(cents);
        prop_assert_eq!(Money::parse(&money.to_string()), Ok(money));
        let span = Minutes(minutes);
        prop_assert_eq!(Minutes::parse(&span.to_string()), Ok(span));
        let wall = WallMinute(wall);
        prop_assert_eq!(WallMinute::parse(&wall.to_string()), Some(wall));
    }

    #[test]
    fn the_next_wall_minute_is_the_next_day_only_at_midnight(wall in -30_000_000_i64..4_000_000_000) {
        let (before, after) = (WallMinute(wall), WallMinute(wall + 1));
        let (year, month, day, _, _) = before.to_civil();
        let (next_year, next_month, next_day, hour, minute) = after.to_civil();
        prop_assert_eq!(
            (year, month, day) != (next_year, next_month, next_day),
            (hour, minute) == (0, 0)
        );
        prop_assert!(before.to_string() < after.to_string());
    }
}

#[test]
fn sizes_of_one_thing_are_shown_with_their_unit_once() {
    let sizes = [
        Length::from_inches(251, 16),
        Length::from_inches(101, 16),
        Length::from_inches(7, 4),
    ];
    let inches = LengthFormat::Inches(InchFraction::Sixteenths);
    assert_eq!(inches.show_sizes(&sizes), "15 11/16 × 6 5/16 × 1 3/4 in");
    assert_eq!(
        LengthFormat::Millimetres.show_sizes(&[Length::from_mm(610), Length::from_mm(89)]),
        "610 × 89 mm"
    );
}
