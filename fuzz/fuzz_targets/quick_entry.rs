//! Pieces as people say them, a line each.

#![no_main]

use libfuzzer_sys::fuzz_target;
use scrapwright::reference::woods;
use scrapwright::units::{Length, LengthUnit};
use scrapwright::wire::quick_entry::{MOST_LINES, read_lines};

fuzz_target!(|text: &str| {
    let species: Vec<String> = woods().iter().map(|wood| wood.name.clone()).collect();
    let at_hand = &species[..species.len() / 3];
    for unit in [LengthUnit::Inches, LengthUnit::Millimetres] {
        let lines = read_lines(text, &species, at_hand, unit);
        assert!(lines.len() <= MOST_LINES);
        for line in lines {
            match line.reading {
                Ok(piece) => {
                    assert!(species.contains(&piece.species));
                    assert!((1..=10_000).contains(&piece.count));
                    for size in [piece.length, piece.width, piece.thickness] {
                        assert!(size.is_positive() && size <= Length::LONGEST);
                    }
                    let exact = format!(
                        "{} {} x {} x {} x{}",
                        piece.species, piece.length, piece.width, piece.thickness, piece.count
                    );
                    let again = read_lines(&exact, &species, at_hand, unit);
                    assert_eq!(again[0].reading.as_ref(), Ok(&piece), "{exact}");
                }
                Err(unclear) => {
                    assert!(line.text.get(unclear.from..unclear.to).is_some());
                    assert!(!unclear.why.is_empty());
                }
            }
        }
    }
});
