//! What wood, glue, clamps and finish ask of one project: the combined answer behind its page, its bench sheet and its
//! JSON. Every figure keeps its source.

use crate::app::basis::Basis;
use crate::calc::cost::{Cost, Prices, Used, cost};
use crate::calc::finishing::{
    FinishChoice, FinishFlaw, FinishPlan, GRIT_SOURCE, GritSequence, LARGEST_STEP, grit_sequence,
    judge_finish, plan_finish, surface_area,
};
use crate::calc::gluing::{
    ClampNeed, ClampSet, GLUE_AMOUNT_SOURCE, GlueFlaw, GlueLines, PRESSURE_SOURCE, Placement,
    RackAnswer, Rig, clamp_need, glue_amount, judge_glue, placements, pressure_band,
    what_it_can_do,
};
use crate::calc::wood::{
    BoardMovement, GrowthRings, Strip, board_movement, equilibrium, movement_source,
};
use crate::calc::work::{Needs, Panel, PanelPart, StepKind};
use crate::reference::{self, Finish, Glue};
use crate::store::resource::{Resource, ResourceKind};
use crate::store::settings::Settings;
use crate::units::{
    Between, Force, Humidity, Length, Mass, Minutes, Moisture, Money, Source, Temperature,
};

use super::choice;

/// The glue and the finish of a project that names none, in a workshop that names none.
const USUAL_GLUE: &str = "crosslinked PVA";
const USUAL_FINISH: &str = "tung oil";
/// A heated house over the year: common practice, no single source.
const INDOORS_CELSIUS: f64 = 21.0;
const DRY_AIR_PERCENT: f64 = 30.0;
const DAMP_AIR_PERCENT: f64 = 60.0;
/// Glue beyond what the lines take: squeezed out and left in the pot. Common practice.
const EXTRA_GLUE: f64 = 0.1;
/// Grams on a square metre of glue line, from [`GLUE_AMOUNT_SOURCE`].
const SPREAD: Between<f64> = Between {
    low: 146.0,
    high: 244.0,
};
/// Sanding begins about here on a flat panel and ends here; common practice.
const FIRST_GRIT: i64 = 80;
const LAST_GRIT: i64 = 220;

/// Everything that is worth knowing before the first cut.
pub struct Advice {
    pub movement: Vec<PanelMovement>,
    pub panels: Vec<PanelAdvice>,
    pub glue: GlueAdvice,
    pub sanding: GritSequence,
    pub sanding_source: Source,
    pub finish: FinishAdvice,
    pub woods: Vec<WoodAdvice>,
    pub cost: Cost,
}

/// How far a panel moves between a dry winter and a damp summer indoors.
pub struct PanelMovement {
    pub panel: String,
    pub dry: Moisture,
    pub damp: Moisture,
    pub width: Length,
    /// None where a wood has no published figure; the species is named beside it.
    pub change: Result<BoardMovement, String>,
    pub source: Source,
}

/// Clamps for one panel, and what the rack can do.
pub struct PanelAdvice {
    pub name: String,
    pub need: ClampNeed,
    pub pressure_source: Source,
    /// Of the best set, or of the one that falls short least; none where the workshop has no clamps.
    pub set: Option<(String, RackAnswer)>,
    pub placements: Vec<Placement>,
    pub clamps: i64,
    pub glue: Between<Mass>,
}

pub struct GlueAdvice {
    pub glue: &'static Glue,
    pub open_time: Minutes,
    pub clamped: Minutes,
    /// Of all glue lines.
    pub amount: Between<Mass>,
    pub amount_source: Source,
    pub flaws: Vec<GlueFlaw>,
}

pub struct FinishAdvice {
    pub finish: &'static Finish,
    pub plan: FinishPlan,
    pub coats: u32,
    pub flaws: Vec<FinishFlaw>,
}

/// A species of the project with what it does to people and food.
pub struct WoodAdvice {
    pub species: String,
    pub food: String,
    pub food_source: Source,
    /// None where nothing beyond what any wood dust does is known.
    pub hazard: Option<(String, Source)>,
}

/// What the rough wood of a project costs at the workshop's price per board foot.
pub fn wood_from_bins(needs: &Needs, settings: &Settings, prices: &[(String, Money)]) -> Money {
    needs
        .wood
        .iter()
        .map(|wood| {
            let own = prices
                .iter()
                .find(|(species, _)| species.eq_ignore_ascii_case(&wood.species));
            let price = own.map_or(settings.price_per_board_foot(), |(_, price)| *price);
            let used = Used {
                bin_wood: wood.rough,
                ..Used::default()
            };
            let prices = Prices {
                bin_wood_board_foot: price,
                ..Prices::default()
            };
            cost(&used, &prices).bin_wood
        })
        .sum()
}

impl Advice {
    /// `bought` is what boards of the trade cost that the project's match asks for.
    pub fn new(
        needs: &Needs,
        basis: &Basis,
        settings: &Settings,
        prices: &[(String, Money)],
        rack: &[Resource],
        bought: Money,
    ) -> Advice {
        let panels: Vec<PanelAdvice> = (0..needs.panels.len())
            .filter_map(|panel| panel_advice(needs, panel, basis, rack))
            .collect();
        let amount = panels
            .iter()
            .fold(Between::exactly(Mass::ZERO), |sum, panel| Between {
                low: sum.low + panel.glue.low,
                high: sum.high + panel.glue.high,
            });
        let owned: Vec<i64> = settings.grits.iter().map(|grit| i64::from(*grit)).collect();
        let made: Vec<i64> = reference::grits().iter().map(|grit| grit.number).collect();
        Advice {
            movement: movements(needs, basis),
            glue: glue_advice(basis, settings, amount),
            panels,
            sanding: grit_sequence(&owned, &made, FIRST_GRIT, LAST_GRIT, LARGEST_STEP),
            sanding_source: GRIT_SOURCE,
            finish: finish_advice(needs, basis),
            woods: wood_advice(needs, basis),
            cost: Cost {
                bin_wood: wood_from_bins(needs, settings, prices),
                bought_wood: bought,
                ..Cost::default()
            },
        }
    }
}

fn wood_advice(needs: &Needs, basis: &Basis) -> Vec<WoodAdvice> {
    needs
        .wood
        .iter()
        .filter_map(|wood| basis.woods.find(&wood.species))
        .map(|wood| WoodAdvice {
            species: wood.name.clone(),
            food: format!("{}: {}", wood.food.word(), wood.food_reason),
            food_source: wood.food_source.clone(),
            hazard: (wood.hazard != reference::Hazard::NoneKnown)
                .then(|| (wood.hazard_note.clone(), wood.hazard_source.clone())),
        })
        .collect()
}

/// The pieces of a panel, through all panels inside it, from one side to the other.
fn pieces_of(needs: &Needs, panel: &Panel) -> Vec<usize> {
    let mut pieces = Vec::new();
    for part in &panel.parts {
        match part {
            PanelPart::Piece(piece) => pieces.push(*piece),
            PanelPart::Panel(inner) => {
                if let Some(inner) = needs.panels.get(*inner) {
                    pieces.extend(pieces_of(needs, inner));
                }
            }
            PanelPart::Slice(_) => {}
        }
    }
    pieces
}

/// Panels that are part of no other, and pieces that are glued into none.
fn movements(needs: &Needs, basis: &Basis) -> Vec<PanelMovement> {
    let is_inner = |panel: usize| {
        needs
            .panels
            .iter()
            .any(|outer| outer.parts.contains(&PanelPart::Panel(panel)))
    };
    let mut wholes: Vec<(String, Vec<usize>)> = needs
        .panels
        .iter()
        .enumerate()
        .filter(|(place, _)| !is_inner(*place))
        .map(|(_, panel)| (panel.name.clone(), pieces_of(needs, panel)))
        .filter(|(_, pieces)| !pieces.is_empty())
        .collect();
    let alone = needs.places.iter().enumerate();
    wholes.extend(
        alone
            .filter(|(_, place)| place.panel.is_none())
            .map(|(at, place)| (place.label.clone(), vec![at])),
    );
    wholes
        .into_iter()
        .filter_map(|(name, pieces)| movement(needs, basis, name, &pieces))
        .collect()
}

fn movement(
    needs: &Needs,
    basis: &Basis,
    panel: String,
    pieces: &[usize],
) -> Option<PanelMovement> {
    let air = |percent: f64| {
        let temperature = Temperature::from_celsius(INDOORS_CELSIUS).ok()?;
        equilibrium(temperature, Humidity::from_percent(percent).ok()?).ok()
    };
    let (dry, damp) = (air(DRY_AIR_PERCENT)?, air(DAMP_AIR_PERCENT)?);
    let places: Vec<_> = pieces.iter().map(|&piece| &needs.places[piece]).collect();
    let strips: Option<Vec<Strip>> = places
        .iter()
        .map(|place| {
            Some(Strip {
                width: place.width,
                wood: basis.woods.find(&place.species)?.figures,
                rings: GrowthRings::Unknown,
            })
        })
        .collect();
    let change = board_movement(&strips?, needs.finished.thickness, dry, damp)
        .map_err(|(place, error)| format!("{} {error}", places[place].species));
    Some(PanelMovement {
        panel,
        dry,
        damp,
        width: places.iter().map(|place| place.width).sum(),
        change,
        source: movement_source(dry, damp),
    })
}

/// The lowest specific gravity in a panel: the wood that clamps crush first.
fn softest(needs: &Needs, panel: &Panel, basis: &Basis) -> f64 {
    let pieces = pieces_of(needs, panel);
    // Slices are of the wood of the panel before, so all species count.
    let species: Vec<&str> = if pieces.is_empty() {
        needs
            .wood
            .iter()
            .map(|wood| wood.species.as_str())
            .collect()
    } else {
        pieces
            .iter()
            .map(|&piece| needs.places[piece].species.as_str())
            .collect()
    };
    species
        .into_iter()
        .filter_map(|name| basis.woods.find(name))
        .map(|wood| wood.figures.specific_gravity)
        .fold(1.0, f64::min)
}

/// Across the glue lines, of the parts at either side: the wood between caul and first line.
fn outer_part(needs: &Needs, panel: &Panel) -> Length {
    let width = |part: &PanelPart| match part {
        PanelPart::Piece(piece) => needs.places[*piece].width,
        PanelPart::Panel(inner) => needs
            .panels
            .get(*inner)
            .map_or(Length::ZERO, |panel| panel.width),
        PanelPart::Slice(_) => Length::ZERO,
    };
    [panel.parts.first(), panel.parts.last()]
        .into_iter()
        .flatten()
        .map(width)
        .min()
        .unwrap_or(Length::ZERO)
}

fn panel_advice(
    needs: &Needs,
    panel: usize,
    basis: &Basis,
    rack: &[Resource],
) -> Option<PanelAdvice> {
    let panel = &needs.panels[panel];
    let lines = GlueLines::between(panel.parts.len(), panel.length, panel.height);
    let clamping = basis.practice.clamping;
    let rig = Rig {
        caul_depth: clamping.caul_depth,
        pad: Length::ZERO,
        jaw_width: Length::ZERO,
        outer_strip: outer_part(needs, panel),
    };
    let pressure = pressure_band(softest(needs, panel, basis));
    let need = clamp_need(&lines, panel.width, pressure, &rig)?;
    let sets = rack
        .iter()
        .filter(|resource| resource.about.kind == ResourceKind::ClampSet)
        .filter_map(|resource| {
            Some(ClampSet {
                name: resource.about.name.clone(),
                reach: resource.about.reach?,
                rated: resource
                    .about
                    .rated_force_n
                    .map(|newtons| Force::from_newtons(newtons as f64)),
                count: i64::from(resource.about.capacity),
            })
        });
    // The set that is enough, else the one with the fewest shortfalls; the shorter of equals, so that long clamps stay free.
    let set = sets
        .map(|set| (what_it_can_do(&set, &need), set))
        .min_by_key(|(answer, set)| (answer.shortfalls.len(), set.reach))
        .map(|(answer, set)| (set.name, answer));
    let clamps = set
        .as_ref()
        .map(|(_, answer)| answer.clamps)
        .filter(|clamps| *clamps > 0)
        .unwrap_or(i64::from(panel.clamps.number))
        .max(i64::from(panel.clamps.number));
    Some(PanelAdvice {
        name: panel.name.clone(),
        need,
        pressure_source: PRESSURE_SOURCE,
        set,
        placements: placements(panel.length, clamps),
        clamps,
        glue: SPREAD.map(|spread| glue_amount(&lines, spread, EXTRA_GLUE)),
    })
}

fn glue_advice(basis: &Basis, settings: &Settings, amount: Between<Mass>) -> GlueAdvice {
    let glue = basis
        .glue
        .as_deref()
        .and_then(reference::glue)
        .or_else(|| reference::glue(USUAL_GLUE))
        .expect("the usual glue stands in the reference");
    let temperature = settings
        .climate
        .and_then(|climate| Temperature::from_celsius(climate.temperature_c).ok());
    GlueAdvice {
        glue,
        open_time: basis.practice.gluing.open_time,
        clamped: basis.practice.gluing.clamped,
        amount,
        amount_source: GLUE_AMOUNT_SOURCE,
        flaws: judge_glue(&glue.figures, true, temperature),
    }
}

fn finish_advice(needs: &Needs, basis: &Basis) -> FinishAdvice {
    let finish = basis
        .finish
        .as_deref()
        .and_then(reference::finish)
        .or_else(|| reference::finish(USUAL_FINISH))
        .expect("the usual finish stands in the reference");
    let practice = &basis.practice.finish;
    let soak = FinishChoice::usual(&finish.figures).soak;
    let choice = FinishChoice {
        coats: i64::from(needs.coats),
        soak,
        recoat: practice.recoat_from,
        water_contact: practice.water_after,
    };
    let size = needs.finished;
    let area = surface_area(size.length, size.width, size.thickness);
    FinishAdvice {
        finish,
        plan: plan_finish(&finish.figures, &choice, area),
        coats: needs.coats,
        flaws: judge_finish(&finish.figures, true, choice::is_cut_on(needs.kind)),
    }
}

/// Minutes of the steps of a kind.
pub fn minutes_of(needs: &Needs, kind: StepKind) -> Minutes {
    let steps = needs.steps.iter().filter(|step| step.kind == kind);
    Minutes(steps.map(|step| step.minutes.0).sum())
}
