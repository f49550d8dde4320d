//! The combined answer for one design.

use serde_json::{Value, json};

use super::super::advice::{AdviceBody, usual_circumstances};
use super::super::design;
use super::super::problem::Problem;
use super::super::reading::{Node, Object, read};
use super::air::air_of;
use super::answer::{MOST_PIECES, growth_rings, moisture};
use super::finishing::known_finish;
use super::glue_up::known_glue;
use super::money::read_prices;
use crate::calc::advice::{MeasuredPiece, Season, advise};
use crate::calc::gluing::ClampSet;
use crate::calc::matching::Shop;
use crate::calc::wood::GrowthRings;
use crate::calc::work::{Needs, Practice, Wood, needs};
use crate::reference::{Finish, Glue, Species, finish, glue, woods};
use crate::units::Force;

pub(super) fn project_advice(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&[
            "design",
            "glue",
            "accept_glue",
            "finish",
            "coats",
            "workshop_air",
            "dry_season",
            "damp_season",
            "growth_rings",
            "longest_solid_joint",
            "measured",
            "clamps",
            "grits",
            "prices",
        ])?;
        let drawn = body.required("design", |field| design::design(&field));
        let glue = named(&body, "glue", "crosslinked PVA", known_glue, glue);
        let finish = named(&body, "finish", "tung oil", known_finish, finish);
        let accepted = match body.field("accept_glue") {
            Some(field) => field.boolean(),
            None => Some(false),
        };
        let coats = body.field("coats").map(|field| field.whole(1..=20));
        let air = |name| body.field(name).map(|field| air_of(&field));
        let (now, dry, damp) = (air("workshop_air"), air("dry_season"), air("damp_season"));
        let measured = list_or_none(&body, "measured", measured_piece);
        let clamps = list_or_none(&body, "clamps", clamp_set);
        let grits = list_or_none(&body, "grits", |grit| grit.whole(12..=2500));
        let prices = body.field("prices").map(|field| read_prices(&field));

        let (drawn, glue, finish): (_, &Glue, &Finish) = (drawn?, glue?, finish?);
        let known: Vec<Wood> = woods().iter().map(wood).collect();
        let mut practice = Practice::default();
        practice.clamping.rack = clamps?;
        if let Some(field) = body.field("longest_solid_joint") {
            practice.gluing.cross_grain = field.length()?;
        }
        let needed = match needs(&drawn, &practice, &Shop::default(), &known) {
            Ok(needed) => needed,
            Err(flaws) => {
                for flaw in design::field_errors("/design", &flaws) {
                    body.node().note(flaw);
                }
                return None;
            }
        };
        let mut circumstances = usual_circumstances(woods(), drawn.kind(), glue, finish);
        circumstances.glue.accepted = accepted?;
        if let Some(coats) = coats {
            circumstances.finish.choice.coats = coats?;
        }
        for (given, name, season) in [
            (dry, "the dry season", &mut circumstances.dry_season),
            (damp, "the damp season", &mut circumstances.damp_season),
        ] {
            if let Some(air) = given {
                *season = Season {
                    air: air?,
                    name: name.to_owned(),
                    is_read: true,
                };
            }
        }
        circumstances.rings = match body.field("growth_rings") {
            Some(field) => rings_of(&field, &needed)?,
            None => Vec::new(),
        };
        circumstances.air = now.map_or(Some(None), |air| air.map(Some))?;
        circumstances.measured = measured?;
        circumstances.grits = grits?;
        if let Some(prices) = prices {
            circumstances.prices = prices?;
        }
        let advice = advise(&needed, &practice, &circumstances);
        let mut answer = json!(AdviceBody::new(
            &advice,
            &circumstances,
            &practice.clamping.rack,
            woods(),
            glue,
            finish,
        ));
        answer["warnings"] = needed
            .warnings
            .iter()
            .map(|warning| {
                json!({"text": warning.about.to_string(), "cure": warning.cure.to_string()})
            })
            .collect();
        answer["board_feet"] = json!({
            "finished": super::answer::number(needed.finished_board_feet()),
            "rough": super::answer::number(needed.rough_board_feet()),
        });
        Some(answer)
    })
}

/// A glue or finish by name, or the usual one.
fn named<T>(
    body: &Object<'_>,
    field: &str,
    usual: &str,
    read: impl FnOnce(&Node<'_>) -> Option<&'static T>,
    find: impl FnOnce(&str) -> Option<&'static T>,
) -> Option<&'static T> {
    match body.field(field) {
        Some(node) => read(&node),
        None => find(usual),
    }
}

fn list_or_none<'a, T>(
    body: &Object<'a>,
    field: &str,
    element: impl FnMut(Node<'a>) -> Option<T>,
) -> Option<Vec<T>> {
    match body.field(field) {
        Some(node) => node.list(element),
        None => Some(Vec::new()),
    }
}

fn wood(species: &Species) -> Wood {
    Wood {
        species: species.name.clone(),
        figures: species.figures,
        food: species.food,
    }
}

/// By the name of the strip or blank; what is not named is unknown.
fn rings_of(node: &Node<'_>, needs: &Needs) -> Option<Vec<GrowthRings>> {
    let mut rings = vec![GrowthRings::Unknown; needs.places.len()];
    for (name, field) in node.table()? {
        match needs.places.iter().position(|place| place.label == name) {
            Some(place) => rings[place] = growth_rings(&field)?,
            None => {
                let known: Vec<&str> = needs
                    .places
                    .iter()
                    .map(|place| place.label.as_str())
                    .collect();
                return field.refuse(format!(
                    "names no piece of this design; must be one of {}",
                    known.join(", ")
                ));
            }
        }
    }
    Some(rings)
}

fn measured_piece(node: Node<'_>) -> Option<MeasuredPiece> {
    let piece = node.object(&["name", "mc_percent"])?;
    let name = piece.required("name", |field| field.text().map(str::to_owned));
    let measured = piece.required("mc_percent", |field| moisture(&field));
    Some(MeasuredPiece {
        name: name?,
        moisture: measured?,
    })
}

/// A set without a force is answered as such: nothing is said of its pressure.
fn clamp_set(node: Node<'_>) -> Option<ClampSet> {
    let set = node.object(&["name", "reach", "force_n", "count"])?;
    let name = set.required("name", |field| field.text().map(str::to_owned));
    let reach = set.required("reach", |field| field.positive_length());
    let rated = set
        .field("force_n")
        .map(|field| field.number(1.0..=1e6).map(Force::from_newtons));
    let count = set.required("count", |field| field.whole(0..=MOST_PIECES));
    Some(ClampSet {
        name: name?,
        reach: reach?,
        rated: rated.map_or(Some(None), |read| read.map(Some))?,
        count: count?,
    })
}
