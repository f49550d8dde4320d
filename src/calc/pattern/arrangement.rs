//! Strips from left to right, and changing them by hand.

use std::fmt;

use crate::units::Length;

/// The most strips that one board may have; more is a slip of the finger.
pub const MOST_STRIPS: usize = 200;

/// One strip as it shows in the board.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BoardStrip {
    /// The species' name, as the species table has it.
    pub species: String,
    /// Across the board's face.
    pub width: Length,
}

impl BoardStrip {
    pub fn new(species: &str, width: Length) -> BoardStrip {
        BoardStrip {
            species: species.to_owned(),
            width,
        }
    }
}

/// The strips of a board from left to right.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Arrangement {
    pub strips: Vec<BoardStrip>,
}

/// A change by hand. Places count from 0.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Edit {
    /// The new strip gets place `at`; those from there on move right.
    Add {
        at: usize,
        strip: BoardStrip,
    },
    Replace {
        at: usize,
        strip: BoardStrip,
    },
    Remove {
        at: usize,
    },
    /// The strip at `from` ends up at place `to`.
    Move {
        from: usize,
        to: usize,
    },
    /// Left becomes right.
    Mirror,
    /// The whole order once more after itself, until it is there `times` times.
    Repeat {
        times: usize,
    },
}

/// Why a change by hand cannot be made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EditError {
    NoSuchPlace { place: usize, strips: usize },
    TooManyStrips { strips: usize },
    RepeatOfNothing,
}

impl fmt::Display for EditError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            EditError::NoSuchPlace { place, strips: 0 } => {
                write!(
                    formatter,
                    "place {} is asked for; the board has no strips yet",
                    place + 1
                )
            }
            EditError::NoSuchPlace { place, strips } => {
                write!(
                    formatter,
                    "place {} is asked for; must be from 1 to {strips}",
                    place + 1
                )
            }
            EditError::TooManyStrips { strips } => {
                write!(
                    formatter,
                    "{strips} strips would result; must be at most {MOST_STRIPS}"
                )
            }
            EditError::RepeatOfNothing => {
                formatter.write_str("repeated 0 times; must be at least once")
            }
        }
    }
}

impl std::error::Error for EditError {}

impl Arrangement {
    pub fn new(strips: Vec<BoardStrip>) -> Arrangement {
        Arrangement { strips }
    }

    /// All strips together, as they are glued.
    pub fn width(&self) -> Length {
        self.strips.iter().map(|strip| strip.width).sum()
    }

    /// Each species once, in the order of first appearance.
    pub fn species(&self) -> Vec<&str> {
        let mut seen: Vec<&str> = Vec::new();
        for strip in &self.strips {
            if !seen.contains(&strip.species.as_str()) {
                seen.push(&strip.species);
            }
        }
        seen
    }

    pub fn is_symmetric(&self) -> bool {
        self.strips.iter().eq(self.strips.iter().rev())
    }

    /// How many pairs of neighbours are of one species.
    pub fn equal_neighbours(&self) -> usize {
        self.strips
            .windows(2)
            .filter(|pair| pair[0].species == pair[1].species)
            .count()
    }

    /// `count` strips in the same order: from the start as long as there are enough, and then going
    /// on with the shortest stretch that the order repeats.
    pub fn resized(&self, count: usize) -> Arrangement {
        let strips = &self.strips;
        let period = (1..=strips.len())
            .find(|period| (*period..strips.len()).all(|at| strips[at] == strips[at - period]));
        let Some(period) = period else {
            return self.clone();
        };
        Arrangement::new((0..count).map(|at| strips[at % period].clone()).collect())
    }

    /// The arrangement after one change; the given one is left as it is.
    pub fn edited(&self, edit: &Edit) -> Result<Arrangement, EditError> {
        let mut strips = self.strips.clone();
        let inside = |place: usize, limit: usize| {
            if place < limit {
                Ok(place)
            } else {
                Err(EditError::NoSuchPlace {
                    place,
                    strips: self.strips.len(),
                })
            }
        };
        match edit {
            Edit::Add { at, strip } => {
                strips.insert(inside(*at, strips.len() + 1)?, strip.clone());
            }
            Edit::Replace { at, strip } => {
                let at = inside(*at, strips.len())?;
                strips[at] = strip.clone();
            }
            Edit::Remove { at } => {
                strips.remove(inside(*at, strips.len())?);
            }
            Edit::Move { from, to } => {
                let to = inside(*to, strips.len())?;
                let strip = strips.remove(inside(*from, self.strips.len())?);
                strips.insert(to, strip);
            }
            Edit::Mirror => strips.reverse(),
            Edit::Repeat { times: 0 } => return Err(EditError::RepeatOfNothing),
            Edit::Repeat { times } => {
                let total = strips.len().saturating_mul(*times);
                if total > MOST_STRIPS {
                    return Err(EditError::TooManyStrips { strips: total });
                }
                strips = std::iter::repeat_n(strips, *times).flatten().collect();
            }
        }
        if strips.len() > MOST_STRIPS {
            return Err(EditError::TooManyStrips {
                strips: strips.len(),
            });
        }
        Ok(Arrangement { strips })
    }
}
