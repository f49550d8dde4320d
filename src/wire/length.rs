//! Lengths in JSON: a bare number is millimetres, a string carries its unit.

use serde_json::{Number, Value};

use crate::units::{Length, LengthError, LengthFlaw, NM_PER_MM, Part, Sentence};

/// A number of millimetres with at most six decimals.
///
/// Up to a million kilometres the nearest `f64` prints as exactly these decimals, because they
/// are at most fifteen digits.
pub fn to_json(length: Length) -> Value {
    if length.nm() % NM_PER_MM == 0 {
        Value::from(length.nm() / NM_PER_MM)
    } else {
        Number::from_f64(length.mm()).map_or(Value::Null, Value::Number)
    }
}

/// A list of words as text and of lengths as numbers of millimetres.
pub(super) fn sentence_to_json(sentence: &Sentence) -> Value {
    let parts = sentence.parts().iter();
    parts
        .map(|part| match part {
            Part::Words(words) => Value::from(words.as_str()),
            Part::Length(length) => to_json(*length),
        })
        .collect()
}

/// What [`sentence_to_json`] printed.
pub(super) fn sentence_from_json(value: &Value) -> Option<Sentence> {
    let parts = value.as_array()?.iter().map(|part| match part {
        Value::String(words) => Some(Part::from(words.as_str())),
        length => from_json(length).ok().map(Part::from),
    });
    parts.collect::<Option<_>>().map(Sentence::of)
}

/// Reads a bare number of millimetres or a text with its unit, zero or more.
pub fn from_json(value: &Value) -> Result<Length, LengthError> {
    let flaw = |flaw| LengthError::new(&value.to_string(), flaw);
    match value {
        Value::String(text) => Length::parse(text, None),
        Value::Number(number) => {
            let mm = number.as_f64().unwrap_or(f64::INFINITY);
            if mm < 0.0 {
                return Err(flaw(LengthFlaw::Negative));
            }
            if mm > Length::LONGEST.mm() {
                return Err(flaw(LengthFlaw::TooLong));
            }
            let length = Length::from_mm_rounded(mm);
            // The number was written in whole nanometres exactly if it is the `f64` of one.
            if length.mm() == mm {
                Ok(length)
            } else {
                Err(flaw(LengthFlaw::TooFine))
            }
        }
        _ => Err(flaw(LengthFlaw::NotALength)),
    }
}
