//! Lengths, money, minutes and wall-clock minutes as people write them.

#![no_main]

use libfuzzer_sys::fuzz_target;
use scrapwright::units::{InchFraction, Length, LengthFormat, LengthUnit, Minutes, Money, WallMinute};

fuzz_target!(|text: &str| {
    let defaults = [
        None,
        Some(LengthUnit::Millimetres),
        Some(LengthUnit::Centimetres),
        Some(LengthUnit::Metres),
        Some(LengthUnit::Inches),
        Some(LengthUnit::Feet),
    ];
    for default in defaults {
        match Length::parse(text, default) {
            Ok(length) => {
                assert!((Length::ZERO..=Length::LONGEST).contains(&length));
                assert_eq!(Length::parse(&length.to_string(), None), Ok(length));
                for format in [
                    LengthFormat::Millimetres,
                    LengthFormat::Inches(InchFraction::Sixteenths),
                    LengthFormat::Inches(InchFraction::SixtyFourths),
                ] {
                    assert_eq!(Length::parse(&format.show_exact(length), None), Ok(length));
                    assert!(!format.show(length).is_empty());
                }
            }
            Err(error) => assert!(error.to_string().starts_with("is ")),
        }
        if let Ok(length) = Length::parse_positive(text, default) {
            assert!(length.is_positive());
        }
    }
    if let Ok(money) = Money::parse(text) {
        assert_eq!(Money::parse(&money.to_string()), Ok(money));
    }
    if let Ok(minutes) = Minutes::parse(text) {
        assert_eq!(Minutes::parse(&minutes.to_string()), Ok(minutes));
    }
    if let Some(wall) = WallMinute::parse(text) {
        assert_eq!(WallMinute::parse(&wall.to_string()), Some(wall));
    }
});
