//! What a workshop is like and has, as far as advice depends on it.

use crate::calc::cost::{Bought, Prices};
use crate::calc::finishing::{FinishChoice, LARGEST_STEP, SandingRate};
use crate::calc::gluing::ClampSet;
use crate::calc::wood::{MoistureLimits, ServedAs, equilibrium};
use crate::units::{
    FinishFigures, FoodGrade, GlueFigures, Hazard, Humidity, Length, Moisture, Temperature, Volume,
    WoodFigures,
};

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

/// The air of a place or a season.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    pub temperature: Temperature,
    pub humidity: Humidity,
}

impl Air {
    /// A heated house in winter: 21.1 °C (70 °F) and 30 %. Common practice, no single source.
    pub fn dry_season() -> Air {
        Air::of(21.1, 30.0)
    }

    /// A house in a damp summer: 21.1 °C (70 °F) and 60 %. Common practice, no single source.
    pub fn damp_season() -> Air {
        Air::of(21.1, 60.0)
    }

    fn of(celsius: f64, percent: f64) -> Air {
        Air {
            temperature: Temperature::from_celsius(celsius).expect("a room's temperature"),
            humidity: Humidity::from_percent(percent).expect("a humidity"),
        }
    }

    /// What wood settles at in it; `None` where it is too cold or too hot to say.
    pub fn settles_at(&self) -> Option<Moisture> {
        equilibrium(self.temperature, self.humidity).ok()
    }
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
    pub dry_season: Air,
    pub damp_season: Air,
    pub measured: Vec<MeasuredPiece>,
    pub moisture_limits: MoistureLimits,
    /// The longest joint across the grain that the workshop glues solid.
    pub longest_cross_grain: Length,
    pub clamps: Vec<ClampSet>,
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
            dry_season: Air::dry_season(),
            damp_season: Air::damp_season(),
            measured: Vec::new(),
            moisture_limits: MoistureLimits::default(),
            longest_cross_grain: crate::calc::wood::CrossGrain::USUAL_LONGEST,
            clamps: Vec::new(),
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

    pub(super) fn wood(&self, species: &str) -> Option<&KnownWood> {
        self.woods.iter().find(|wood| wood.species == species)
    }
}
