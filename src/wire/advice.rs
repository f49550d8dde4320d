//! The combined advice of a project as JSON, and the circumstances that the reference fills in.

use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;

use super::calculators::answer::{CitedCaution, CitedSource, cautions, rounded, source};
use super::length::to_json;
use crate::calc::advice::{
    Advice, ChosenFinish, ChosenGlue, Circumstances, Concern, CrossPieces, FinishAdvice, KnownWood,
    MovementAdvice, PanelAdvice, Season, WoodAdvice,
};
use crate::calc::cost::{BoardPrice, Bought, Cost};
use crate::calc::finishing::{FinishChoice, GRIT_SOURCE, Moment, SANDING_SOURCE};
use crate::calc::gluing::{
    CLAMP_SOURCE, ClampSet, GLUE_AMOUNT_SOURCE, LoadRules, PRESSURE_SOURCE, WATER_CLASS_SOURCE,
};
use crate::calc::wood::{EQUILIBRIUM_SOURCE, FoodVerdict, WEIGHT_SOURCE, movement_source};
use crate::calc::work::Kind;
use crate::reference::{Finish, Glue, GritSystem, Property, Species, grits};
use crate::units::{Between, Length, Moisture, Source};

/// A wood of the reference, or the workshop's own, as advice needs it.
pub fn known_wood(species: &Species) -> KnownWood {
    KnownWood {
        species: species.name.clone(),
        figures: species.figures,
        food: species.food,
        hazard: species.hazard,
        is_oily: species.is_oily(),
    }
}

/// A workshop of which only the materials of a project are known; all else is common practice.
pub fn usual_circumstances<'a>(
    woods: impl IntoIterator<Item = &'a Species>,
    kind: Kind,
    glue: &Glue,
    finish: &Finish,
) -> Circumstances {
    let mut circumstances = Circumstances::usual(
        woods.into_iter().map(known_wood).collect(),
        kind.served_as(),
        ChosenGlue::usual(&glue.name, glue.figures),
        ChosenFinish {
            name: finish.name.clone(),
            figures: finish.figures,
            choice: FinishChoice::usual(&finish.figures),
        },
    );
    circumstances.made_grits = grits()
        .iter()
        .filter(|grit| grit.system == GritSystem::Fepa)
        .map(|grit| grit.number)
        .collect();
    circumstances
}

/// A shortest and a longest length, in millimetres.
#[derive(Serialize, ToSchema)]
pub struct LengthRange {
    low: Mm,
    high: Mm,
}

/// A length in millimetres.
#[derive(Serialize, ToSchema)]
#[serde(transparent)]
#[schema(value_type = f64, example = 457.2)]
pub struct Mm(Value);

/// What wood, glue, clamps and finish ask of a project, with the source of each figure.
#[derive(Serialize, ToSchema)]
pub struct AdviceBody {
    woods: Vec<AdviceWood>,
    /// Of the wood in the workshop's air; nothing where nobody read it.
    equilibrium_mc_percent: Option<f64>,
    seasons: AdviceSeasons,
    movement: Vec<AdviceMovement>,
    cross_pieces: Vec<AdviceCrossPieces>,
    /// Of a tray.
    ring_on_disc: Option<AdviceRing>,
    glue: AdviceGlue,
    panels: Vec<AdvicePanel>,
    /// Panels of this project that may lie in one set of clamps.
    sharing: Vec<AdviceSharing>,
    finished_weight_g: f64,
    rough_weight_g: f64,
    surface: AdviceSurface,
    finish: AdviceFinish,
    cost: AdviceCost,
    concerns: Vec<AdviceConcern>,
    /// Whether a concern is a refusal that nobody has answered for.
    refused: bool,
    cautions: Vec<CitedCaution>,
    sources: Vec<CitedSource>,
}

#[derive(Serialize, ToSchema)]
struct AdviceWood {
    #[schema(example = "hard maple")]
    species: String,
    /// Of the volume, from 0 to 1.
    share: f64,
    /// For food contact.
    grade: &'static str,
    #[schema(example = "fit", pattern = "^(fit|warned|unfit)$")]
    verdict: &'static str,
    reason: Option<String>,
    hazard: Option<&'static str>,
    hazard_note: Option<String>,
    sources: Option<Vec<CitedSource>>,
}

/// The driest and the dampest air that the piece will see.
#[derive(Serialize, ToSchema)]
struct AdviceSeasons {
    dry: AdviceSeason,
    damp: AdviceSeason,
}

#[derive(Serialize, ToSchema)]
struct AdviceSeason {
    name: String,
    temperature_c: f64,
    relative_humidity_percent: f64,
    /// What wood settles at in this air.
    mc_percent: Option<f64>,
    source: String,
}

/// How a panel moves from the dry to the damp season.
#[derive(Serialize, ToSchema)]
struct AdviceMovement {
    panel: String,
    dry_mc_percent: f64,
    damp_mc_percent: f64,
    width_change: LengthRange,
    /// Of a panel whose strips stand crosswise.
    length_change: Option<LengthRange>,
    /// Between neighbours of unlike species.
    largest_ridge: Mm,
    strips_with_known_rings: usize,
    strips: usize,
}

/// Cross pieces at the ends of a panel.
#[derive(Serialize, ToSchema)]
struct AdviceCrossPieces {
    panel: String,
    joint: Mm,
    mismatch: LengthRange,
    longest_solid_joint: Mm,
    too_long: bool,
    mismatch_over_longest: Mm,
}

/// A ring glued on a disc.
#[derive(Serialize, ToSchema)]
struct AdviceRing {
    /// Mismatch where the grain of both runs the same way.
    lined_up: LengthRange,
    /// Mismatch where it is crossed.
    crossed: LengthRange,
    joint: Mm,
    longest_solid_joint: Mm,
    too_long: bool,
}

#[derive(Serialize, ToSchema)]
struct AdviceGlue {
    name: String,
    glue_lines: i64,
    glue_g: f64,
    /// By EN 204.
    #[schema(example = "D3")]
    water_class: String,
}

#[derive(Serialize, ToSchema)]
struct AdviceNumberRange {
    low: f64,
    high: f64,
}

/// What one glue-up asks of clamps and time.
#[derive(Serialize, ToSchema)]
struct AdvicePanel {
    name: String,
    glue_lines: i64,
    spread_minutes: i64,
    fits_open_time: bool,
    pressure_kpa: AdviceNumberRange,
    force_n: AdviceNumberRange,
    /// Between clamps, along the panel.
    spacing: Mm,
    reach_needed: Mm,
    /// What each set of the rack could do alone.
    clamp_sets: Vec<AdviceClampSet>,
    /// What to take from the rack.
    take: Vec<AdviceTake>,
    places: Vec<AdvicePlace>,
}

#[derive(Serialize, ToSchema)]
struct AdviceClampSet {
    name: String,
    enough: bool,
    /// So many of it.
    clamps: i64,
    /// That they give; nothing where nobody rated their force.
    pressure_kpa: Option<f64>,
}

#[derive(Serialize, ToSchema)]
struct AdviceTake {
    clamp_set: String,
    clamps: i64,
}

/// Where a clamp goes.
#[derive(Serialize, ToSchema)]
struct AdvicePlace {
    from_end: Mm,
    #[schema(example = "above", pattern = "^(above|below)$")]
    side: &'static str,
}

#[derive(Serialize, ToSchema)]
struct AdviceSharing {
    panels: Vec<String>,
    clamp_set: String,
    clamps: i64,
    /// Clamps saved by lying together.
    saved: i64,
    reach_needed: Mm,
}

#[derive(Serialize, ToSchema)]
struct AdviceSurface {
    flattening_minutes: i64,
    #[schema(example = json!([60, 100, 150, 220]))]
    grits: Vec<i64>,
    raise_grain: bool,
}

#[derive(Serialize, ToSchema)]
struct AdviceFinish {
    name: String,
    area_m2: f64,
    litres: f64,
    /// From the first coat until water may touch it.
    ready_after_minutes: i64,
    calendar: Vec<AdviceMoment>,
    allergy: Option<String>,
}

#[derive(Serialize, ToSchema)]
struct AdviceMoment {
    /// After the first coat.
    after_minutes: i64,
    #[schema(example = "wipe off coat 1")]
    what: String,
}

/// In the workshop's money.
#[derive(Serialize, ToSchema)]
struct AdviceCost {
    bin_wood: f64,
    bought_wood: f64,
    bought: Vec<AdviceBought>,
    glue: f64,
    abrasive: f64,
    finish: f64,
    total: f64,
}

#[derive(Serialize, ToSchema)]
struct AdviceBought {
    name: String,
    count: i64,
    /// By the hardwood tally rule; nothing where it is sold by the board.
    tallied_board_feet: Option<f64>,
    price: f64,
    #[schema(example = "board foot", pattern = "^(board foot|board)$")]
    price_per: &'static str,
}

/// What is wrong or doubtful, and what would cure it.
#[derive(Serialize, ToSchema)]
struct AdviceConcern {
    kind: &'static str,
    /// Whether it is refused unless the member answers for it.
    refusal: bool,
    text: String,
    cure: String,
}

impl AdviceBody {
    /// `rack` are the clamps that the advice was given with, and `woods` are those that the workshop knows.
    pub fn new(
        advice: &Advice,
        circumstances: &Circumstances,
        rack: &[ClampSet],
        woods: &[Species],
        glue: &Glue,
        finish: &Finish,
    ) -> AdviceBody {
        let sharing = advice.sharing.iter().map(|sharing| AdviceSharing {
            panels: sharing
                .panels
                .iter()
                .map(|&place| advice.panels[place].panel.clone())
                .collect(),
            clamp_set: rack[sharing.set].name.clone(),
            clamps: sharing.load.clamps,
            saved: sharing.load.saved,
            reach_needed: mm(sharing.load.reach),
        });
        AdviceBody {
            woods: advice
                .woods
                .iter()
                .map(|wood| wood_body(wood, woods))
                .collect(),
            equilibrium_mc_percent: advice.equilibrium.map(percent),
            seasons: AdviceSeasons {
                dry: season(&circumstances.dry_season),
                damp: season(&circumstances.damp_season),
            },
            movement: advice.movement.iter().map(movement).collect(),
            cross_pieces: advice.cross_pieces.iter().map(cross_pieces).collect(),
            ring_on_disc: advice.ring_on_disc.as_ref().map(|ring| AdviceRing {
                lined_up: lengths(ring.lined_up),
                crossed: lengths(ring.crossed.mismatch),
                joint: mm(ring.crossed.joint),
                longest_solid_joint: mm(ring.crossed.longest),
                too_long: ring.crossed.is_too_long(),
            }),
            glue: AdviceGlue {
                name: advice.glue.name.clone(),
                glue_lines: advice.glue.glue_lines,
                glue_g: rounded(advice.glue.amount.grams()),
                water_class: glue.figures.water_class.to_string(),
            },
            panels: advice
                .panels
                .iter()
                .map(|panel| panel_body(panel, rack))
                .collect(),
            sharing: sharing.collect(),
            finished_weight_g: rounded(advice.finished_weight.grams()),
            rough_weight_g: rounded(advice.rough_weight.grams()),
            surface: AdviceSurface {
                flattening_minutes: advice.surface.flattening.0,
                grits: advice.surface.grits.grits.clone(),
                raise_grain: advice.surface.raise_grain,
            },
            finish: finish_body(&advice.finish, finish),
            cost: cost(&advice.cost, &circumstances.bought),
            concerns: advice.concerns.iter().map(concern).collect(),
            refused: advice.concerns.iter().any(|concern| concern.is_refusal),
            cautions: cautions(&advice.cautions),
            sources: sources(advice, glue, finish),
        }
    }
}

fn mm(length: Length) -> Mm {
    Mm(to_json(length))
}

fn lengths(range: Between<Length>) -> LengthRange {
    LengthRange {
        low: mm(range.low),
        high: mm(range.high),
    }
}

fn numbers<T>(range: Between<T>, value: impl Fn(T) -> f64) -> AdviceNumberRange {
    AdviceNumberRange {
        low: rounded(value(range.low)),
        high: rounded(value(range.high)),
    }
}

fn percent(moisture: Moisture) -> f64 {
    rounded(moisture.percent())
}

fn sources(advice: &Advice, glue: &Glue, finish: &Finish) -> Vec<CitedSource> {
    let mut sources = vec![
        source("moisture", &EQUILIBRIUM_SOURCE),
        source("pressure_kpa", &PRESSURE_SOURCE),
        source("clamps", &CLAMP_SOURCE),
        source("sharing", &LoadRules::SOURCE),
        source("glue_g", &GLUE_AMOUNT_SOURCE),
        source("water class", &WATER_CLASS_SOURCE),
        source("weight", &WEIGHT_SOURCE),
        source("flattening_minutes", &SANDING_SOURCE),
        source("grits", &GRIT_SOURCE),
        source("cost", &Source::WORKSHOP),
    ];
    if let Some(movement) = advice.movement.first() {
        let equation = movement_source(movement.dry, movement.damp);
        sources.push(source("movement", &equation));
    }
    for (name, properties) in [
        (&glue.name, &glue.properties),
        (&finish.name, &finish.properties),
    ] {
        let known = properties.iter().filter(|row| row.name != "other names");
        sources.extend(
            known.map(|row: &Property| source(&format!("{name}: {}", row.name), &row.source)),
        );
    }
    sources
}

fn wood_body(wood: &WoodAdvice, woods: &[Species]) -> AdviceWood {
    let known = woods.iter().find(|known| known.name == wood.species);
    AdviceWood {
        species: wood.species.clone(),
        share: rounded(wood.share),
        grade: wood.grade.word(),
        verdict: match wood.verdict {
            FoodVerdict::Fit => "fit",
            FoodVerdict::Warned => "warned",
            FoodVerdict::Unfit => "unfit",
        },
        reason: known.map(|known| known.food_reason.clone()),
        hazard: known.map(|known| known.hazard.word()),
        hazard_note: known.map(|known| known.hazard_note.clone()),
        sources: known.map(wood_sources),
    }
}

fn wood_sources(species: &Species) -> Vec<CitedSource> {
    let mut sources = vec![
        source("specific gravity", &species.density_source),
        source("grade", &species.food_source),
        source("hazard", &species.hazard_source),
    ];
    let further = [
        ("shrinkage", &species.shrinkage_source),
        ("coefficient", &species.coefficient_source),
    ];
    for (of, known) in further {
        sources.extend(known.iter().map(|known| source(of, known)));
    }
    sources
}

fn season(season: &Season) -> AdviceSeason {
    let source = if season.is_read {
        Source::WORKSHOP
    } else {
        Source::PRACTICE
    };
    AdviceSeason {
        name: season.name.clone(),
        temperature_c: rounded(season.air.temperature.celsius()),
        relative_humidity_percent: rounded(season.air.humidity.percent()),
        mc_percent: season.air.settles_at().map(percent),
        source: source.to_string(),
    }
}

fn movement(movement: &MovementAdvice) -> AdviceMovement {
    AdviceMovement {
        panel: movement.panel.clone(),
        dry_mc_percent: percent(movement.dry),
        damp_mc_percent: percent(movement.damp),
        width_change: lengths(movement.width),
        length_change: movement.length.map(lengths),
        largest_ridge: mm(movement.ridge),
        strips_with_known_rings: movement.known_rings.0,
        strips: movement.known_rings.1,
    }
}

fn cross_pieces(across: &CrossPieces) -> AdviceCrossPieces {
    AdviceCrossPieces {
        panel: across.panel.clone(),
        joint: mm(across.crossed.joint),
        mismatch: lengths(across.crossed.mismatch),
        longest_solid_joint: mm(across.crossed.longest),
        too_long: across.crossed.is_too_long(),
        mismatch_over_longest: mm(across.over_the_longest()),
    }
}

fn panel_body(panel: &PanelAdvice, rack: &[ClampSet]) -> AdvicePanel {
    AdvicePanel {
        name: panel.panel.clone(),
        glue_lines: panel.lines.count,
        spread_minutes: panel.spread_time.0,
        fits_open_time: panel.fits_open_time,
        pressure_kpa: numbers(panel.need.pressure, |pressure| pressure.kpa()),
        force_n: numbers(panel.need.force, |force| force.newtons()),
        spacing: mm(panel.need.spacing),
        reach_needed: mm(panel.need.reach),
        clamp_sets: panel
            .sets
            .iter()
            .zip(rack)
            .map(|(answer, set)| AdviceClampSet {
                name: set.name.clone(),
                enough: answer.is_enough(),
                clamps: answer.clamps,
                pressure_kpa: answer.pressure.map(|pressure| rounded(pressure.kpa())),
            })
            .collect(),
        take: panel
            .take
            .iter()
            .map(|pick| AdviceTake {
                clamp_set: rack[pick.set].name.clone(),
                clamps: pick.clamps,
            })
            .collect(),
        places: panel
            .places
            .iter()
            .map(|place| AdvicePlace {
                from_end: mm(place.from_end),
                side: if place.below { "below" } else { "above" },
            })
            .collect(),
    }
}

fn finish_body(advice: &FinishAdvice, finish: &Finish) -> AdviceFinish {
    AdviceFinish {
        name: advice.name.clone(),
        area_m2: rounded(advice.plan.area.m2()),
        litres: rounded(advice.plan.litres),
        ready_after_minutes: advice.plan.ready.0,
        calendar: advice
            .plan
            .calendar
            .iter()
            .map(|step| AdviceMoment {
                after_minutes: step.after.0,
                what: moment(step.moment),
            })
            .collect(),
        allergy: finish
            .properties
            .find("allergy")
            .map(|row| row.text.clone()),
    }
}

fn cost(cost: &Cost, boards: &[Bought]) -> AdviceCost {
    AdviceCost {
        bin_wood: cost.bin_wood.units(),
        bought_wood: cost.bought_wood.units(),
        bought: boards.iter().map(bought).collect(),
        glue: cost.glue.units(),
        abrasive: cost.abrasive.units(),
        finish: cost.finish.units(),
        total: cost.total().units(),
    }
}

fn bought(board: &Bought) -> AdviceBought {
    let (tallied, price) = match board.price {
        BoardPrice::Piece(price) => (None, price),
        BoardPrice::BoardFoot { tallied, price } => (Some(rounded(tallied)), price),
    };
    AdviceBought {
        name: board.name.clone(),
        count: board.count,
        tallied_board_feet: tallied,
        price: price.units(),
        price_per: if tallied.is_some() {
            "board foot"
        } else {
            "board"
        },
    }
}

fn concern(concern: &Concern) -> AdviceConcern {
    AdviceConcern {
        kind: concern.kind.word(),
        refusal: concern.is_refusal,
        text: concern.about.to_string().trim_end().to_owned(),
        cure: concern.cure.to_string().trim_end().to_owned(),
    }
}

/// What happens at a moment of the finish, in words.
pub fn moment(moment: Moment) -> String {
    match moment {
        Moment::Coat(coat) => format!("coat {coat}"),
        Moment::Wipe(coat) => format!("wipe off coat {coat}"),
        Moment::Water => "water may touch it".to_owned(),
        Moment::Cured => "fully cured".to_owned(),
    }
}
