//! Sentences that carry lengths, so that each reader sees them in the reader's own unit.

use std::fmt;

use super::{Length, LengthFormat};

/// Words and lengths in reading order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sentence(Vec<Part>);

/// A stretch of words, or a length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Part {
    Words(String),
    Length(Length),
}

impl Sentence {
    pub fn of(parts: Vec<Part>) -> Sentence {
        Sentence(parts)
    }

    pub fn parts(&self) -> &[Part] {
        &self.0
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The text with every length in the reader's format.
    pub fn show(&self, format: LengthFormat) -> String {
        self.0
            .iter()
            .map(|part| match part {
                Part::Words(words) => words.clone(),
                Part::Length(length) => format.show(*length),
            })
            .collect()
    }
}

/// The text with exact millimetres.
impl fmt::Display for Sentence {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|part| match part {
            Part::Words(words) => formatter.write_str(words),
            Part::Length(length) => length.fmt(formatter),
        })
    }
}

impl From<&str> for Part {
    fn from(words: &str) -> Part {
        Part::Words(words.to_owned())
    }
}

impl From<&String> for Part {
    fn from(words: &String) -> Part {
        Part::Words(words.clone())
    }
}

impl From<String> for Part {
    fn from(words: String) -> Part {
        Part::Words(words)
    }
}

impl From<Length> for Part {
    fn from(length: Length) -> Part {
        Part::Length(length)
    }
}

impl From<usize> for Part {
    fn from(number: usize) -> Part {
        Part::Words(number.to_string())
    }
}

/// A [`Sentence`] from words, numbers and lengths.
macro_rules! say {
    ($($part:expr),+ $(,)?) => {
        $crate::units::Sentence::of(vec![$($crate::units::Part::from($part)),+])
    };
}
pub(crate) use say;
