//! Moisture, movement, food, board feet and weight of single pieces.

use serde_json::{Value, json};

use super::super::length::to_json;
use super::super::problem::Problem;
use super::super::reading::read;
use super::air::{AIR_FIELDS, air};
use super::answer::{count, growth_rings, moisture, number, source, species};
use crate::calc::wood::{
    BOARD_FOOT_SOURCE, Direction, EQUILIBRIUM_SOURCE, FoodVerdict, GrowthRings, MoistureConcern,
    MoistureLimits, ServedAs, TALLY_SOURCE, WEIGHT_SOURCE, change, coefficient, compare_moistures,
    judge_for_food, movement_source, tally, weight,
};
use crate::units::{Moisture, Source, Volume};

/// What the equation is known to be good for.
const TABLE_NOTE: &str = "The published table spans -1.1 to 132 °C and 5 to 95 % humidity; outside it this is a rough figure.";

pub(super) fn emc(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&AIR_FIELDS)?;
        let (temperature, humidity, settled) = air(&body)?;
        let in_table = temperature.celsius() >= -1.15 && (5.0..=95.0).contains(&humidity.percent());
        let mut answer = json!({
            "emc_percent": number(settled.percent()),
            "sources": [source("emc_percent", &EQUILIBRIUM_SOURCE)],
        });
        if !in_table {
            answer["note"] = json!(TABLE_NOTE);
        }
        Some(answer)
    })
}

pub(super) fn moisture_check(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let usual = MoistureLimits::default();
        let body = body.object(&[
            "temperature_c",
            "relative_humidity_percent",
            "pieces",
            "points_between_pieces",
            "points_from_equilibrium",
        ])?;
        let settled = air(&body);
        let pieces = body.required("pieces", |pieces| {
            pieces.list(|piece| {
                let piece = piece.object(&["name", "mc_percent"])?;
                let name = piece.required("name", |field| field.text());
                let measured = piece.required("mc_percent", |field| moisture(&field));
                Some((name?, measured?))
            })
        });
        let points = |name, usual| {
            body.optional(name, |field| field.number(0.0..=30.0))
                .unwrap_or(usual)
        };
        let limits = MoistureLimits {
            between_pieces: points("points_between_pieces", usual.between_pieces),
            from_equilibrium: points("points_from_equilibrium", usual.from_equilibrium),
        };
        let (_, _, settled) = settled?;
        let pieces = pieces?;
        let measured: Vec<Option<Moisture>> =
            pieces.iter().map(|(_, measured)| Some(*measured)).collect();
        let concerns: Vec<Value> = compare_moistures(&measured, Some(settled), &limits)
            .into_iter()
            .map(|concern| match concern {
                MoistureConcern::Apart {
                    driest,
                    wettest,
                    points,
                } => json!({
                    "kind": "apart",
                    "pieces": [pieces[driest].0, pieces[wettest].0],
                    "points": number(points),
                    "text": format!(
                        "{} and {} are {points:.1} % of moisture apart; glue pieces within {} % of each other, or the joint is strained as they settle.",
                        pieces[driest].0, pieces[wettest].0, limits.between_pieces
                    ),
                }),
                MoistureConcern::Unsettled { piece, points } => json!({
                    "kind": "unsettled",
                    "pieces": [pieces[piece].0],
                    "points": number(points),
                    "text": format!(
                        "{} is {:.1} % {} than this air gives. Let it lie in the workshop, with air all round, until two weighings a week apart agree; an inch of hardwood takes weeks.",
                        pieces[piece].0,
                        points.abs(),
                        if points > 0.0 { "wetter" } else { "drier" }
                    ),
                }),
            })
            .collect();
        Some(json!({
            "emc_percent": number(settled.percent()),
            "ready_to_glue": concerns.is_empty(),
            "concerns": concerns,
            "sources": [
                source("emc_percent", &EQUILIBRIUM_SOURCE),
                source("concerns", &Source::PRACTICE),
            ],
        }))
    })
}

pub(super) fn movement(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&[
            "species",
            "width",
            "growth_rings",
            "from_mc_percent",
            "to_mc_percent",
        ])?;
        let wood = body.required("species", |field| species(&field));
        let width = body.required("width", |field| field.positive_length());
        let rings = body.required("growth_rings", |field| {
            let rings = growth_rings(&field)?;
            if rings == GrowthRings::Unknown {
                return field.refuse(
                    "is \"unknown\"; must be \"flat-sawn\" or \"quarter-sawn\" for a single figure (board-movement takes unknown)",
                );
            }
            Some(rings)
        });
        let from = body.required("from_mc_percent", |field| moisture(&field));
        let to = body.required("to_mc_percent", |field| moisture(&field));
        let (wood, width, rings) = (wood?, width?, rings?);
        let (from, to) = (from?, to?);
        let direction = match rings {
            GrowthRings::QuarterSawn => Direction::Radial,
            GrowthRings::FlatSawn | GrowthRings::Unknown => Direction::Tangential,
        };
        let change = match change(width, &wood.figures, direction, from, to) {
            Ok(change) => change,
            Err(error) => {
                return body.field("species")?.refuse(format!(
                    "is \"{}\", which {error}; must be another species",
                    wood.name
                ));
            }
        };
        let mut sources = vec![source("change", &movement_source(from, to))];
        if let Some(figure) = &wood.coefficient_source {
            sources.push(source("coefficient", figure));
        }
        if let Some(figure) = &wood.shrinkage_source {
            sources.push(source("shrinkage", figure));
        }
        Some(json!({
            "change": to_json(change),
            "new_width": to_json(width + change),
            "coefficient": coefficient(&wood.figures, direction).map(number),
            "sources": sources,
        }))
    })
}

pub(super) fn food_check(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&["use", "woods"])?;
        let served_as = body.required("use", |field| {
            field.one_of(&[
                ("cutting", ServedAs::CuttingSurface),
                ("serving", ServedAs::Serving),
                ("no food", ServedAs::NoFood),
            ])
        });
        let woods = body.required("woods", |woods| {
            woods.list(|wood| {
                let wood = wood.object(&["species", "share"])?;
                let named = wood.required("species", |field| species(&field));
                let share = wood.required("share", |field| field.number(0.0..=1.0));
                Some((named?, share?))
            })
        });
        let (served_as, woods) = (served_as?, woods?);
        let mut worst = FoodVerdict::Fit;
        let answers: Vec<Value> = woods
            .iter()
            .map(|(wood, share)| {
                let verdict = judge_for_food(wood.food, *share, served_as);
                worst = worst.max(verdict);
                json!({
                    "species": wood.name,
                    "grade": wood.food.word(),
                    "verdict": verdict_word(verdict),
                    "reason": wood.food_reason,
                    "pores": wood.pores.word(),
                    "source": source("grade", &wood.food_source),
                })
            })
            .collect();
        Some(json!({
            "verdict": verdict_word(worst),
            "woods": answers,
            "sources": [source("rule", &Source::read("FDA Food Code 2022, 4-101.17, read in state adoptions"))],
        }))
    })
}

const fn verdict_word(verdict: FoodVerdict) -> &'static str {
    match verdict {
        FoodVerdict::Fit => "fit",
        FoodVerdict::Warned => "warned",
        FoodVerdict::Unfit => "unfit",
    }
}

pub(super) fn board_feet(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&["length", "width", "thickness", "count"])?;
        let length = body.required("length", |field| field.positive_length());
        let width = body.required("width", |field| field.positive_length());
        let thickness = body.required("thickness", |field| field.positive_length());
        let count = count(&body);
        let (length, width, thickness, count) = (length?, width?, thickness?, count?);
        let volume = Volume::of(length, width, thickness) * count;
        let tally = tally(length, width, thickness);
        Some(json!({
            "board_feet": number(volume.board_feet()),
            "volume_mm3": number(volume.mm3()),
            "tally": {
                "surface_measure_each": tally.surface_measure,
                "board_feet": number(tally.board_feet() * count as f64),
            },
            "sources": [
                source("board_feet", &BOARD_FOOT_SOURCE),
                source("tally", &BOARD_FOOT_SOURCE),
                source("tally of stock under one inch", &TALLY_SOURCE),
            ],
        }))
    })
}

pub(super) fn weight_of(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&[
            "length",
            "width",
            "thickness",
            "species",
            "mc_percent",
            "count",
        ])?;
        let length = body.required("length", |field| field.positive_length());
        let width = body.required("width", |field| field.positive_length());
        let thickness = body.required("thickness", |field| field.positive_length());
        let wood = body.required("species", |field| species(&field));
        let measured = match body.field("mc_percent") {
            Some(field) => moisture(&field),
            None => Moisture::from_percent(12.0).ok(),
        };
        let count = count(&body);
        let volume = Volume::of(length?, width?, thickness?) * count?;
        let (wood, measured) = (wood?, measured?);
        let mass = weight(volume, &wood.figures, measured);
        Some(json!({
            "weight_g": number(mass.grams()),
            "weight_lb": number(mass.pounds()),
            "sources": [
                source("weight", &WEIGHT_SOURCE),
                source("specific gravity", &wood.density_source),
            ],
        }))
    })
}
