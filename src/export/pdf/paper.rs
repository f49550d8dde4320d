//! Sheets of paper.

/// A sheet that the workshop's printer takes, upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Paper {
    /// ISO 216.
    A4,
    /// ANSI/ASME Y14.1 size A.
    Letter,
}

impl Paper {
    pub const ALL: [Paper; 2] = [Paper::A4, Paper::Letter];

    /// Width and height in millimetres.
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        }
    }

    pub fn name(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::Letter => "Letter",
        }
    }

    pub fn from_name(name: &str) -> Option<Paper> {
        Paper::ALL.into_iter().find(|paper| paper.name() == name)
    }
}
