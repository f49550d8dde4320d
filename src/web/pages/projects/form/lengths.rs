use crate::units::{Length, LengthFormat};
use crate::web::Typed;

/// A length of more than zero, read in the member's unit.
pub(super) fn length(typed: &mut Typed, name: &str, lengths: LengthFormat) -> Option<Length> {
    typed.take(name, |text| {
        Length::parse_positive(text, Some(lengths.unit()))
    })
}

/// A length of zero or more, or nothing.
pub(super) fn length_if_any(
    typed: &mut Typed,
    name: &str,
    lengths: LengthFormat,
) -> Option<Option<Length>> {
    typed.take_if_any(name, |text| Length::parse(text, Some(lengths.unit())))
}

/// A whole number from `least` to `most`.
pub(super) fn whole(typed: &mut Typed, name: &str, least: u32, most: u32) -> Option<u32> {
    typed.take(name, |text| {
        let shown: String = text.chars().take(30).collect();
        text.parse::<u32>()
            .ok()
            .filter(|number| (least..=most).contains(number))
            .ok_or_else(|| format!("is \"{shown}\"; must be a whole number from {least} to {most}"))
    })
}

/// One of a few words.
pub(super) fn word<T: Copy>(typed: &mut Typed, name: &str, meanings: &[(&str, T)]) -> Option<T> {
    typed.take(name, |text| {
        let found = meanings.iter().find(|(word, _)| *word == text);
        found.map(|(_, meaning)| *meaning).ok_or_else(|| {
            let words: Vec<&str> = meanings.iter().map(|(word, _)| *word).collect();
            let shown: String = text.chars().take(30).collect();
            format!("is \"{shown}\"; must be {}", words.join(" or "))
        })
    })
}

/// A length of zero or more.
pub(super) fn length_or_zero(
    typed: &mut Typed,
    name: &str,
    lengths: LengthFormat,
) -> Option<Length> {
    typed.take(name, |text| Length::parse(text, Some(lengths.unit())))
}
