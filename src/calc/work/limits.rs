//! Sizes that are no slip of the finger, and sizes that machines can be fed.

use super::needs::{Flaw, Size, Warning, WarningKind};
use super::panel::GluedPlan;
use super::practice::{FlatteningTool, Practice};
use crate::calc::matching::Shop;
use crate::calc::pattern::{Arrangement, MOST_STRIPS};
use crate::units::{Length, say};

/// The shortest thing that a planer should be fed: roller spacing and some; common practice.
pub(super) const LEAST_PLANED: Length = Length::from_inches(12, 1);

/// "is X; must be from A to B" where it is not.
pub(super) fn within(
    place: &[&str],
    length: Length,
    (low, high): (Length, Length),
) -> Option<Flaw> {
    (length < low || length > high).then(|| {
        Flaw::at(
            place,
            say!["is ", length, "; must be from ", low, " to ", high],
        )
    })
}

/// Machines that should not be fed a piece of this size.
pub(super) fn machine_warnings(
    rough: Size,
    glued: &GluedPlan,
    practice: &Practice,
    shop: &Shop,
) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if rough.length < shop.min_rip_length {
        warnings.push(Warning {
            kind: WarningKind::Machine,
            about: say![
                "The strips are ",
                rough.length,
                " long; nothing shorter than ",
                shop.min_rip_length,
                " goes through the rip saw.",
            ],
            cure: say!["Rip longer pieces and crosscut the strips from them afterwards."],
        });
    }
    let tool = practice.flattening.tool;
    if tool == FlatteningTool::Planer && rough.length < LEAST_PLANED {
        warnings.push(Warning {
            kind: WarningKind::Machine,
            about: say![
                "The panel is ",
                rough.length,
                " long; a planer should be fed nothing shorter than ",
                LEAST_PLANED,
                ".",
            ],
            cure: say!["A sander is planned for it instead."],
        });
    }
    if let (true, Some(pass_width)) = (
        !glued.assembly.too_wide.is_empty(),
        practice.flattening.pass_width,
    ) {
        warnings.push(Warning {
            kind: WarningKind::Machine,
            about: say![
                "Even in sub-panels the board is wider than the ",
                pass_width,
                " that pass the machine that flattens it.",
            ],
            cure: say!["Flatten it with a sander or a router sled, or take narrower strips."],
        });
    }
    warnings
}

/// A strip is 1/8 in to 12 in wide; anything else is a slip of the finger.
const STRIP_WIDTHS: (Length, Length) = (Length::from_inches(1, 8), Length::from_inches(12, 1));

/// Flaws of the strips themselves, which stand in the field `strips` inside `place`.
pub(super) fn arrangement_flaws(place: &[&str], arrangement: &Arrangement) -> Vec<Flaw> {
    let count = arrangement.strips.len();
    if count == 0 {
        let about = say!["are none; must be at least one strip"];
        return vec![Flaw::at(&[place, &["strips"]].concat(), about)];
    }
    if count > MOST_STRIPS {
        let about = say![format!("are {count}; must be at most {MOST_STRIPS}")];
        return vec![Flaw::at(&[place, &["strips"]].concat(), about)];
    }
    let strips = arrangement.strips.iter().enumerate();
    strips
        .filter_map(|(strip, of)| {
            within(
                &[place, &["strips", &strip.to_string(), "width"]].concat(),
                of.width,
                STRIP_WIDTHS,
            )
        })
        .collect()
}
