//! Taking over what a chosen glue or finish asks, from the reference into a workshop's or a project's practice.

use crate::calc::finishing::{FinishChoice, FinishFlaw, judge_finish};
use crate::calc::gluing::{GlueFlaw, judge_glue};
use crate::calc::wood::ServedAs;
use crate::calc::work::{Kind, Practice};
use crate::reference::{self, Finish, Glue};
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

/// Why a newly chosen glue does not suit food ware, to be read after its field: it is refused unless the member says
/// that it is meant. What was chosen before is not asked about again.
pub fn unsuited_glue(changes: &PracticeChanges, before: &PracticeChanges) -> Option<String> {
    let name = changes.glue.as_deref();
    let glue = reference::glue(name.filter(|_| changes.glue != before.glue)?)?;
    let why = match judge_glue(&glue.figures, true, None).first()? {
        GlueFlaw::NoWaterClass => {
            "nobody classes it for water, and a board for food is washed; must be of class D3, C3 or better".to_owned()
        }
        GlueFlaw::TooLittleWater { has, least_level } => format!(
            "its water class is {has}, and a board for food is washed; must be of class D{least_level}, \
             C{least_level} or better"
        ),
        GlueFlaw::TooCold { has, least } => format!(
            "the workshop has {:.0} °C; must be at least {:.0} °C",
            has.celsius(),
            least.celsius()
        ),
    };
    Some(format!("is {}: {why}", glue.name))
}

/// The same of a finish.
pub fn unsuited_finish(
    kind: Kind,
    changes: &PracticeChanges,
    before: &PracticeChanges,
) -> Option<String> {
    let name = changes.finish.as_deref();
    let finish = reference::finish(name.filter(|_| changes.finish != before.finish)?)?;
    let why = match judge_finish(
        &finish.figures,
        true,
        kind.served_as() == ServedAs::CuttingSurface,
    )
    .first()?
    {
        FinishFlaw::NotForFood => {
            "it is not offered for food ware; must be one that may touch food"
        }
        FinishFlaw::AskMaker => {
            "it may touch food only with its maker's word; must be one that may without, or come with that word"
        }
        FinishFlaw::FilmUnderKnife => {
            "it makes a film, which a knife chips; must be an oil or wax for a surface that is cut on"
        }
    };
    Some(format!("is {}: {why}", finish.name))
}
