//! What speaks against a project as it stands, in words.

use super::circumstances::Circumstances;
use crate::calc::finishing::{FinishFlaw, judge_finish};
use crate::calc::gluing::{GlueFlaw, judge_glue};
use crate::calc::wood::{MoistureConcern, ServedAs, compare_moistures};
use crate::units::{Part, Sentence, say};

/// Something to think about before a cut is made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Concern {
    pub kind: ConcernKind,
    /// The choice is refused until a member says to keep it.
    pub is_refusal: bool,
    pub about: Sentence,
    /// What would make it go away.
    pub cure: Sentence,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ConcernKind {
    Moisture,
    Movement,
    Glue,
    Clamps,
    Finish,
    Grit,
}

impl ConcernKind {
    pub const fn word(self) -> &'static str {
        match self {
            ConcernKind::Moisture => "moisture",
            ConcernKind::Movement => "movement",
            ConcernKind::Glue => "glue",
            ConcernKind::Clamps => "clamps",
            ConcernKind::Finish => "finish",
            ConcernKind::Grit => "grit",
        }
    }
}

impl Concern {
    pub(super) fn new(kind: ConcernKind, about: Sentence, cure: Sentence) -> Concern {
        Concern {
            kind,
            is_refusal: false,
            about,
            cure,
        }
    }
}

pub(super) fn glue_concerns(circumstances: &Circumstances) -> Vec<Concern> {
    let glue = &circumstances.glue;
    let washed = circumstances.served_as != ServedAs::NoFood;
    let temperature = circumstances.air.map(|air| air.temperature);
    let name = &glue.name;
    judge_glue(&glue.figures, washed, temperature)
        .into_iter()
        .map(|flaw| {
            let (about, cure, is_refusal) = match flaw {
                GlueFlaw::NoWaterClass => (
                    format!("Nobody gives {name} a class for water, and what touches food is washed."),
                    "Take a glue of class D3 or better (EN 204), such as crosslinked PVA.".to_owned(),
                    true,
                ),
                GlueFlaw::TooLittleWater { has, least_level } => (
                    format!("{name} is of class {has}; what touches food is washed and asks D{least_level} or better (EN 204)."),
                    "Take a glue of class D3 or better, such as crosslinked PVA.".to_owned(),
                    true,
                ),
                GlueFlaw::TooCold { has, least } => (
                    format!("At {has} {name} may not harden: some makes ask for {least}."),
                    "Warm wood, glue and air, or read the limit on the bottle.".to_owned(),
                    false,
                ),
            };
            Concern {
                is_refusal: is_refusal && !glue.accepted,
                ..Concern::new(ConcernKind::Glue, say![about], say![cure])
            }
        })
        .collect()
}

pub(super) fn finish_concerns(circumstances: &Circumstances) -> Vec<Concern> {
    let finish = &circumstances.finish;
    let food = circumstances.served_as != ServedAs::NoFood;
    let cut_on = circumstances.served_as == ServedAs::CuttingSurface;
    let name = &finish.name;
    judge_finish(&finish.figures, food, cut_on)
        .into_iter()
        .map(|flaw| {
            let (about, cure) = match flaw {
                FinishFlaw::NotForFood => (
                    format!("{name} is not offered for what touches food."),
                    "Take another finish, or the maker's written word that it may.",
                ),
                FinishFlaw::AskMaker => (
                    format!("{name} may touch food only if its maker says so."),
                    "Ask for the maker's statement on food contact once cured.",
                ),
                FinishFlaw::FilmUnderKnife => (
                    format!("{name} makes a film, and a knife chips it into the food."),
                    "Take an oil or oil and wax for a surface to cut on.",
                ),
            };
            Concern {
                is_refusal: flaw == FinishFlaw::NotForFood,
                ..Concern::new(ConcernKind::Finish, say![about], say![cure])
            }
        })
        .collect()
}

pub(super) fn moisture_concerns(circumstances: &Circumstances) -> Vec<Concern> {
    let measured: Vec<_> = circumstances
        .measured
        .iter()
        .map(|piece| Some(piece.moisture))
        .collect();
    let settled = circumstances.air.and_then(|air| air.settles_at());
    let name = |piece: usize| circumstances.measured[piece].name.as_str();
    compare_moistures(&measured, settled, &circumstances.moisture_limits)
        .into_iter()
        .map(|concern| {
            let about = match concern {
                MoistureConcern::Apart {
                    driest,
                    wettest,
                    points,
                } => format!(
                    "{} and {} are {points:.1} % of moisture apart.",
                    name(driest),
                    name(wettest)
                ),
                MoistureConcern::Unsettled { piece, points } => format!(
                    "{} is {:.1} % {} than the workshop's air gives.",
                    name(piece),
                    points.abs(),
                    if points > 0.0 { "wetter" } else { "drier" }
                ),
            };
            let cure = "Let the pieces lie in the workshop with air all round until two weighings \
                a week apart agree: days for thin strips, weeks for an inch of hardwood.";
            Concern::new(ConcernKind::Moisture, say![about], say![cure])
        })
        .collect()
}

/// Words for a gap in the workshop's grits.
pub(super) fn grit_concern(from: i64, to: i64, buy: Option<i64>) -> Concern {
    let cure: Part = match buy {
        Some(grit) => format!("Have some {grit} grit at hand.").into(),
        None => "Sand longer with the finer grit.".into(),
    };
    Concern::new(
        ConcernKind::Grit,
        say![format!(
            "From {from} to {to} grit is a large step: scratches of the first stay longer."
        )],
        Sentence::of(vec![cure]),
    )
}
