//! The combined advice of a project as JSON, and the circumstances that the reference fills in.

use serde_json::{Value, json};

use super::calculators::answer::{cautions, length_range, number, range, source};
use super::length::to_json;
use crate::calc::advice::{
    Advice, ChosenFinish, ChosenGlue, Circumstances, Concern, KnownWood, MovementAdvice,
    PanelAdvice, Season,
};
use crate::calc::cost::{BoardPrice, Bought};
use crate::calc::finishing::{FinishChoice, GRIT_SOURCE, Moment, SANDING_SOURCE};
use crate::calc::gluing::{
    CLAMP_SOURCE, ClampSet, GLUE_AMOUNT_SOURCE, LoadRules, PRESSURE_SOURCE, WATER_CLASS_SOURCE,
};
use crate::calc::wood::{EQUILIBRIUM_SOURCE, FoodVerdict, WEIGHT_SOURCE, movement_source};
use crate::calc::work::Kind;
use crate::reference::{Finish, Glue, GritSystem, Property, Species, grits};
use crate::units::{Money, Source};

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

/// The advice with the source of each figure; `rack` are the clamps that it was given with, and `woods` are those that the workshop knows.
pub fn advice_to_json(
    advice: &Advice,
    circumstances: &Circumstances,
    rack: &[ClampSet],
    woods: &[Species],
    glue: &Glue,
    finish: &Finish,
) -> Value {
    let species = |name: &str| woods.iter().find(|wood| wood.name == name);
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
    let woods_json: Vec<Value> = advice
        .woods
        .iter()
        .map(|wood| {
            let known = species(&wood.species);
            json!({
                "species": wood.species,
                "share": number(wood.share),
                "grade": wood.grade.word(),
                "verdict": match wood.verdict {
                    FoodVerdict::Fit => "fit",
                    FoodVerdict::Warned => "warned",
                    FoodVerdict::Unfit => "unfit",
                },
                "reason": known.map(|known| known.food_reason.as_str()),
                "hazard": known.map(|known| known.hazard.word()),
                "hazard_note": known.map(|known| known.hazard_note.as_str()),
                "sources": known.map(wood_sources),
            })
        })
        .collect();
    let plan = &advice.finish.plan;
    let money = |amount: Money| json!(amount.units());
    json!({
        "woods": woods_json,
        "equilibrium_mc_percent": advice.equilibrium.map(|settled| number(settled.percent())),
        "seasons": {
            "dry": season(&circumstances.dry_season),
            "damp": season(&circumstances.damp_season),
        },
        "movement": advice.movement.iter().map(movement).collect::<Vec<_>>(),
        "cross_pieces": advice.cross_pieces.iter().map(|across| json!({
            "panel": across.panel,
            "joint": to_json(across.crossed.joint),
            "mismatch": length_range(across.crossed.mismatch),
            "longest_solid_joint": to_json(across.crossed.longest),
            "too_long": across.crossed.is_too_long(),
            "mismatch_over_longest": to_json(across.over_the_longest()),
        })).collect::<Vec<_>>(),
        "ring_on_disc": advice.ring_on_disc.as_ref().map(|ring| json!({
            "lined_up": length_range(ring.lined_up),
            "crossed": length_range(ring.crossed.mismatch),
            "joint": to_json(ring.crossed.joint),
            "longest_solid_joint": to_json(ring.crossed.longest),
            "too_long": ring.crossed.is_too_long(),
        })),
        "glue": {
            "name": advice.glue.name,
            "glue_lines": advice.glue.glue_lines,
            "glue_g": number(advice.glue.amount.grams()),
            "water_class": glue.figures.water_class.to_string(),
        },
        "panels": advice.panels.iter().map(|panel| panel_json(panel, rack)).collect::<Vec<_>>(),
        "sharing": advice.sharing.iter().map(|sharing| json!({
            "panels": sharing.panels.iter().map(|&place| advice.panels[place].panel.as_str()).collect::<Vec<_>>(),
            "clamp_set": rack[sharing.set].name,
            "clamps": sharing.load.clamps,
            "saved": sharing.load.saved,
            "reach_needed": to_json(sharing.load.reach),
        })).collect::<Vec<_>>(),
        "finished_weight_g": number(advice.finished_weight.grams()),
        "rough_weight_g": number(advice.rough_weight.grams()),
        "surface": {
            "flattening_minutes": advice.surface.flattening.0,
            "grits": advice.surface.grits.grits,
            "raise_grain": advice.surface.raise_grain,
        },
        "finish": {
            "name": advice.finish.name,
            "area_m2": number(plan.area.m2()),
            "litres": number(plan.litres),
            "ready_after_minutes": plan.ready.0,
            "calendar": plan.calendar.iter().map(|step| json!({
                "after_minutes": step.after.0,
                "what": moment(step.moment),
            })).collect::<Vec<_>>(),
            "allergy": finish.properties.find("allergy").map(|row| row.text.as_str()),
        },
        "cost": {
            "bin_wood": money(advice.cost.bin_wood),
            "bought_wood": money(advice.cost.bought_wood),
            "bought": circumstances.bought.iter().map(bought).collect::<Vec<_>>(),
            "glue": money(advice.cost.glue),
            "abrasive": money(advice.cost.abrasive),
            "finish": money(advice.cost.finish),
            "total": money(advice.cost.total()),
        },
        "concerns": advice.concerns.iter().map(concern).collect::<Vec<_>>(),
        "refused": advice.concerns.iter().any(|concern| concern.is_refusal),
        "cautions": cautions(&advice.cautions),
        "sources": sources,
    })
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

fn wood_sources(species: &Species) -> Vec<Value> {
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

fn season(season: &Season) -> Value {
    json!({
        "name": season.name,
        "temperature_c": number(season.air.temperature.celsius()),
        "relative_humidity_percent": number(season.air.humidity.percent()),
        "mc_percent": season.air.settles_at().map(|settled| number(settled.percent())),
        "source": if season.is_read { Source::WORKSHOP } else { Source::PRACTICE }.to_string(),
    })
}

fn bought(board: &Bought) -> Value {
    let (tallied, price) = match board.price {
        BoardPrice::Piece(price) => (None, price),
        BoardPrice::BoardFoot { tallied, price } => (Some(number(tallied)), price),
    };
    json!({
        "name": board.name,
        "count": board.count,
        "tallied_board_feet": tallied,
        "price": price.units(),
        "price_per": if tallied.is_some() { "board foot" } else { "board" },
    })
}

fn movement(movement: &MovementAdvice) -> Value {
    json!({
        "panel": movement.panel,
        "dry_mc_percent": number(movement.dry.percent()),
        "damp_mc_percent": number(movement.damp.percent()),
        "width_change": length_range(movement.width),
        "length_change": movement.length.map(length_range),
        "largest_ridge": to_json(movement.ridge),
        "strips_with_known_rings": movement.known_rings.0,
        "strips": movement.known_rings.1,
    })
}

fn panel_json(panel: &PanelAdvice, rack: &[ClampSet]) -> Value {
    let sets: Vec<Value> = panel
        .sets
        .iter()
        .zip(rack)
        .map(|(answer, set)| {
            json!({
                "name": set.name,
                "enough": answer.is_enough(),
                "clamps": answer.clamps,
                "pressure_kpa": answer.pressure.map(|pressure| number(pressure.kpa())),
            })
        })
        .collect();
    json!({
        "name": panel.panel,
        "glue_lines": panel.lines.count,
        "spread_minutes": panel.spread_time.0,
        "fits_open_time": panel.fits_open_time,
        "pressure_kpa": range(panel.need.pressure, |pressure| number(pressure.kpa())),
        "force_n": range(panel.need.force, |force| number(force.newtons())),
        "spacing": to_json(panel.need.spacing),
        "reach_needed": to_json(panel.need.reach),
        "clamp_sets": sets,
        "take": panel.take.iter().map(|pick| json!({
            "clamp_set": rack[pick.set].name,
            "clamps": pick.clamps,
        })).collect::<Vec<_>>(),
        "places": panel.places.iter().map(|place| json!({
            "from_end": to_json(place.from_end),
            "side": if place.below { "below" } else { "above" },
        })).collect::<Vec<_>>(),
    })
}

fn concern(concern: &Concern) -> Value {
    json!({
        "kind": concern.kind.word(),
        "refusal": concern.is_refusal,
        "text": concern.about.to_string().trim_end(),
        "cure": concern.cure.to_string().trim_end(),
    })
}
