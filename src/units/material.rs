//! What a calculation must know of a wood, a glue and a finish.
//!
//! The tables of the reference fill these in, a workshop may correct them, and the calculations
//! take them as arguments, so none of the three knows the others.

use super::quantity::Temperature;
use super::source::Between;
use super::time::Minutes;

/// The figures of a wood that calculations use.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WoodFigures {
    /// Ovendry mass over volume at 12 % moisture, relative to water.
    pub specific_gravity: f64,
    /// Shrinkage from green to ovendry in per cent of the green size, along the growth rings.
    pub shrinkage_tangential: Option<f64>,
    /// The same across the growth rings.
    pub shrinkage_radial: Option<f64>,
    /// Change of size per per cent of moisture, along the growth rings, from 6 to 14 %.
    pub coefficient_tangential: Option<f64>,
    /// The same across the growth rings.
    pub coefficient_radial: Option<f64>,
}

/// What a wood may be used for where food touches it.
///
/// The grades and the choice for each species are this project's own, by the rule of the FDA Food
/// Code 2022, 4-101.17(B): hard maple or a wood as hard and close-grained.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FoodGrade {
    /// Not for food.
    Avoid,
    /// Thin strips among other woods.
    Accent,
    /// Trays, bowls and bread, without a knife.
    Serving,
    /// A surface to cut on.
    Cutting,
}

impl FoodGrade {
    pub const ALL: [FoodGrade; 4] = [
        FoodGrade::Cutting,
        FoodGrade::Serving,
        FoodGrade::Accent,
        FoodGrade::Avoid,
    ];

    pub const fn word(self) -> &'static str {
        match self {
            FoodGrade::Cutting => "cutting",
            FoodGrade::Serving => "serving",
            FoodGrade::Accent => "accent",
            FoodGrade::Avoid => "avoid",
        }
    }

    pub fn from_word(word: &str) -> Option<FoodGrade> {
        FoodGrade::ALL
            .into_iter()
            .find(|grade| grade.word() == word)
    }
}

/// What the dust or the wood is known to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Hazard {
    /// Nothing beyond what any wood dust does; a wood missing from a list is not proved safe.
    NoneKnown,
    Irritant,
    Sensitiser,
    Toxic,
}

impl Hazard {
    pub const fn word(self) -> &'static str {
        match self {
            Hazard::NoneKnown => "none known",
            Hazard::Irritant => "irritant",
            Hazard::Sensitiser => "sensitiser",
            Hazard::Toxic => "toxic",
        }
    }

    pub fn from_word(word: &str) -> Option<Hazard> {
        [
            Hazard::NoneKnown,
            Hazard::Irritant,
            Hazard::Sensitiser,
            Hazard::Toxic,
        ]
        .into_iter()
        .find(|hazard| hazard.word() == word)
    }
}

/// How well a hardened glue stands water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WaterClass {
    /// Nobody classes it.
    Unclassed,
    /// EN 204, thermoplastic glues: D1 to D4.
    D(u8),
    /// EN 12765, thermosetting glues: C1 to C4, the same conditions as D1 to D4.
    C(u8),
    /// Outside the two scales and waterproof when cured.
    Waterproof,
}

impl WaterClass {
    /// 1 to 4 by the conditions of D1 to D4; `None` where nothing is known.
    pub const fn level(self) -> Option<u8> {
        match self {
            WaterClass::Unclassed => None,
            WaterClass::D(level) | WaterClass::C(level) => Some(level),
            WaterClass::Waterproof => Some(4),
        }
    }

    /// Reads `D3`, `C2`, `waterproof` or `none`.
    pub fn parse(text: &str) -> Option<WaterClass> {
        let level = |digits: &str| {
            let level: u8 = digits.parse().ok()?;
            (1..=4).contains(&level).then_some(level)
        };
        match text {
            "none" => Some(WaterClass::Unclassed),
            "waterproof" => Some(WaterClass::Waterproof),
            _ => match (text.strip_prefix('D'), text.strip_prefix('C')) {
                (Some(digits), _) => level(digits).map(WaterClass::D),
                (_, Some(digits)) => level(digits).map(WaterClass::C),
                _ => None,
            },
        }
    }
}

impl std::fmt::Display for WaterClass {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            WaterClass::Unclassed => f.write_str("none"),
            WaterClass::D(level) => write!(f, "D{level}"),
            WaterClass::C(level) => write!(f, "C{level}"),
            WaterClass::Waterproof => f.write_str("waterproof"),
        }
    }
}

/// What in a glue is known to harm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum GlueHazard {
    /// Sensitises skin and lungs.
    Isocyanate,
    /// Given off while it hardens and when it is sanded.
    Formaldehyde,
    /// Epoxy hardeners sensitise the skin.
    EpoxyHardener,
}

impl GlueHazard {
    pub fn from_word(word: &str) -> Option<GlueHazard> {
        match word {
            "isocyanate" => Some(GlueHazard::Isocyanate),
            "formaldehyde" => Some(GlueHazard::Formaldehyde),
            "epoxy hardener" => Some(GlueHazard::EpoxyHardener),
            _ => None,
        }
    }
}

/// The figures of a glue that calculations use.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GlueFigures {
    pub water_class: WaterClass,
    /// From the first spreading until the faces meet.
    pub open_assembly: Between<Minutes>,
    /// From the faces meeting until they are pressed, on top of the open time.
    pub closed_assembly: Option<Between<Minutes>>,
    /// Pressed, until the clamps may come off an unstressed joint.
    pub clamp_time: Between<Minutes>,
    /// Until full strength, if it is known.
    pub full_cure: Option<Between<Minutes>>,
    /// The lowest temperature of wood, glue and air at which it hardens well, by make.
    pub least_temperature: Option<Between<Temperature>>,
    /// Hard clamping would starve the joint.
    pub contact_pressure_only: bool,
    pub hazard: Option<GlueHazard>,
}

/// Whether a finish may go on what food touches, once it is cured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FinishFoodUse {
    /// A regulation lists the kind; its maker still has the last word.
    Listed,
    /// Only if its maker says so.
    AskMaker,
    /// Not offered for food ware.
    No,
}

/// The figures of a finish that calculations use.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FinishFigures {
    pub coats: Between<i64>,
    /// Left wet before the rest is wiped off; zero where nothing is wiped.
    pub soak: Between<Minutes>,
    /// From one coat to the next.
    pub recoat: Between<Minutes>,
    /// From the last coat until water may touch it.
    pub water_contact: Between<Minutes>,
    /// From the last coat until it is hard; `None` for what never dries.
    pub full_cure: Option<Between<Minutes>>,
    /// Square metres that one litre covers once.
    pub coverage: Between<f64>,
    pub food_use: FinishFoodUse,
    /// Hardens by taking up oxygen, so its rags can take fire by themselves.
    pub rags_self_heat: bool,
    /// Makes a film, which a knife would chip.
    pub film: bool,
    /// Its vapours burn: spirit or solvent.
    pub flammable: bool,
    /// Made from nuts that people are allergic to.
    pub tree_nut: bool,
}
