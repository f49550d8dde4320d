//! What a workshop is like and has, as far as advice depends on it.

use super::season::{Air, Season};
use crate::calc::cost::{Bought, Prices};
use crate::calc::finishing::{FinishChoice, LARGEST_STEP, SandingRate};
use crate::calc::wood::{GrowthRings, MoistureLimits, ServedAs};
use crate::units::{FinishFigures, FoodGrade, GlueFigures, Hazard, Moisture, Volume, WoodFigures};

/// A wood as the workshop knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownWood {
    pub species: String,
    pub figures: WoodFigures,
    pub food: FoodGrade,
    pub hazard: Hazard,
    /// Wiped with solvent before gluing.
    pub is_oily: bool,
}

/// A piece whose moisture was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredPiece {
    /// As members call it: its tag or its place in the board.
    pub name: String,
    pub moisture: Moisture,
}

/// The glue of the project.
#[derive(Clone, Debug, PartialEq)]
pub struct ChosenGlue {
    pub name: String,
    pub figures: GlueFigures,
    /// A member said to use it although it was refused.
    pub accepted: bool,
    /// Grams on a square metre of glue line.
    pub spread_g_m2: f64,
    /// More than that, for what is squeezed out: 0.15 for 15 %.
    pub extra: f64,
}

impl ChosenGlue {
    /// The middle of what is published for PVA, and 15 % more (common practice).
    pub fn usual(name: &str, figures: GlueFigures) -> ChosenGlue {
        ChosenGlue {
            name: name.to_owned(),
            figures,
            accepted: false,
            spread_g_m2: 200.0,
            extra: 0.15,
        }
    }
}

/// The finish of the project.
#[derive(Clone, Debug, PartialEq)]
pub struct ChosenFinish {
    pub name: String,
    pub figures: FinishFigures,
    pub choice: FinishChoice,
}

/// Everything about the workshop and the project's materials that advice depends on.
#[derive(Clone, Debug, PartialEq)]
pub struct Circumstances {
    /// All woods that the project may name.
    pub woods: Vec<KnownWood>,
    pub served_as: ServedAs,
    pub glue: ChosenGlue,
    pub finish: ChosenFinish,
    /// The workshop's air now, if anybody read it.
    pub air: Option<Air>,
    pub dry_season: Season,
    pub damp_season: Season,
    /// How the growth rings of each place of the project lie to the face of its panel; what is missing is unknown.
    pub rings: Vec<GrowthRings>,
    pub measured: Vec<MeasuredPiece>,
    pub moisture_limits: MoistureLimits,
    /// Grit numbers that the workshop has, and all that are made.
    pub grits: Vec<i64>,
    pub made_grits: Vec<i64>,
    pub first_grit: i64,
    pub last_grit: i64,
    pub largest_grit_step: f64,
    pub sanding: SandingRate,
    pub prices: Prices,
    /// What the matched pieces take from the bins; the rough wood of the project before a match.
    pub bin_wood: Option<Volume>,
    pub bought: Vec<Bought>,
}

impl Circumstances {
    /// A workshop of which nothing more is known than the project's materials; the rest is common
    /// practice.
    pub fn usual(
        woods: Vec<KnownWood>,
        served_as: ServedAs,
        glue: ChosenGlue,
        finish: ChosenFinish,
    ) -> Circumstances {
        Circumstances {
            woods,
            served_as,
            glue,
            finish,
            air: None,
            dry_season: Season::usual_dry(),
            damp_season: Season::usual_damp(),
            rings: Vec::new(),
            measured: Vec::new(),
            moisture_limits: MoistureLimits::default(),
            grits: Vec::new(),
            made_grits: Vec::new(),
            first_grit: 40,
            last_grit: 220,
            largest_grit_step: LARGEST_STEP,
            sanding: SandingRate::usual(),
            prices: Prices::default(),
            bin_wood: None,
            bought: Vec::new(),
        }
    }

    pub(super) fn rings(&self, place: usize) -> GrowthRings {
        self.rings.get(place).copied().unwrap_or_default()
    }

    pub(super) fn wood(&self, species: &str) -> Option<&KnownWood> {
        self.woods.iter().find(|wood| wood.species == species)
    }
}
