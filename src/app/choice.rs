//! Taking over what a chosen glue or finish asks, from the reference into a workshop's or a project's practice.

use crate::calc::finishing::FinishChoice;
use crate::calc::work::Practice;
use crate::reference::{Finish, Glue};
use crate::store::practice::PracticeChanges;
use crate::units::Minutes;

/// Open time and clamp time follow the glue; `None` goes back to the workshop's. Overnight in the clamps stays, common
/// practice as it is, unless the glue asks for longer.
pub fn choose_glue(changes: &mut PracticeChanges, glue: Option<&Glue>) {
    let name = glue.map(|glue| glue.name.clone());
    if name == changes.glue {
        return;
    }
    let overnight = Practice::default().gluing.clamped;
    changes.open_time_minutes = glue.map(|glue| glue.figures.open_assembly.high.0);
    changes.clamped_minutes = glue
        .map(|glue| glue.figures.clamp_time.high)
        .filter(|clamped| *clamped > overnight)
        .map(|clamped| clamped.0);
    changes.glue = name;
}

/// Coats and waits follow the finish; `None` goes back to the workshop's.
pub fn choose_finish(changes: &mut PracticeChanges, finish: Option<&Finish>) {
    let name = finish.map(|finish| finish.name.clone());
    if name == changes.finish {
        return;
    }
    let usual = finish.map(|finish| FinishChoice::usual(&finish.figures));
    let minutes = |of: fn(&FinishChoice) -> Minutes| usual.as_ref().map(|usual| of(usual).0);
    changes.coats = usual
        .as_ref()
        .and_then(|usual| u32::try_from(usual.coats).ok());
    changes.recoat_from_minutes = minutes(|usual| usual.recoat);
    // A late coat only takes a light sanding first, so there is no latest time.
    changes.recoat_to_minutes = usual.as_ref().map(|_| 0);
    changes.dry_minutes = minutes(|usual| usual.recoat);
    changes.water_after_minutes = minutes(|usual| usual.water_contact);
    changes.is_drying_oil = finish.map(|finish| finish.figures.rags_self_heat);
    changes.finish = name;
}
