//! Where a figure comes from, so that it can be shown beside the figure.

use std::borrow::Cow;
use std::fmt;

/// How well a figure is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Provenance {
    /// The figure was seen in a text that prints or reprints the publication.
    Read,
    /// The figure is known from the publication, whose text was not at hand.
    Memory,
    /// A rule of workshops or plain geometry, with no single publication behind it.
    Practice,
    /// Measured or chosen by the workshop that uses this program.
    Workshop,
}

impl Provenance {
    pub const ALL: [Provenance; 4] = [
        Provenance::Read,
        Provenance::Memory,
        Provenance::Practice,
        Provenance::Workshop,
    ];

    /// The word for it in tables and JSON.
    pub const fn word(self) -> &'static str {
        match self {
            Provenance::Read => "read",
            Provenance::Memory => "memory",
            Provenance::Practice => "practice",
            Provenance::Workshop => "workshop",
        }
    }

    pub fn from_word(word: &str) -> Option<Provenance> {
        Provenance::ALL
            .into_iter()
            .find(|provenance| provenance.word() == word)
    }
}

/// The source of a figure: a publication (handbook, standard, regulation, paper), or practice.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Source {
    /// Empty where there is no publication; for practice, what a judgement of our own rests on.
    pub publication: Cow<'static, str>,
    pub provenance: Provenance,
}

impl Source {
    pub const PRACTICE: Source = Source {
        publication: Cow::Borrowed(""),
        provenance: Provenance::Practice,
    };
    pub const WORKSHOP: Source = Source {
        publication: Cow::Borrowed(""),
        provenance: Provenance::Workshop,
    };

    pub const fn read(publication: &'static str) -> Source {
        Source {
            publication: Cow::Borrowed(publication),
            provenance: Provenance::Read,
        }
    }

    pub const fn memory(publication: &'static str) -> Source {
        Source {
            publication: Cow::Borrowed(publication),
            provenance: Provenance::Memory,
        }
    }
}

/// As a page shows it: `USDA Wood Handbook, Table 13-5 (from memory)`.
impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.provenance {
            Provenance::Read => f.write_str(&self.publication),
            Provenance::Memory => write!(f, "{} (from memory)", self.publication),
            Provenance::Practice if self.publication.is_empty() => {
                f.write_str("common practice, no single source")
            }
            Provenance::Practice => f.write_str(&self.publication),
            Provenance::Workshop if self.publication.is_empty() => f.write_str("this workshop"),
            Provenance::Workshop => write!(f, "this workshop: {}", self.publication),
        }
    }
}

/// A figure with its source.
#[derive(Clone, Debug, PartialEq)]
pub struct Cited<T> {
    pub value: T,
    pub source: Source,
}

/// A range from `low` to `high`, both included; the two may be equal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Between<T> {
    pub low: T,
    pub high: T,
}

impl<T> Between<T> {
    pub const fn new(low: T, high: T) -> Between<T> {
        Between { low, high }
    }

    pub fn map<U>(self, convert: impl Fn(T) -> U) -> Between<U> {
        Between {
            low: convert(self.low),
            high: convert(self.high),
        }
    }
}

impl<T: Copy> Between<T> {
    pub const fn exactly(value: T) -> Between<T> {
        Between {
            low: value,
            high: value,
        }
    }
}
