//! All woods, hardwoods first, to sort, filter and search.

use std::cmp::Reverse;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;

use super::units::{density, hardness};
use crate::app::App;
use crate::app::species::Woods;
use crate::calc::wood::{Direction, coefficient};
use crate::reference::{Hazard, Species, WoodKind};
use crate::store::offcut;
use crate::units::{FoodGrade, Provenance, Volume};
use crate::web::paging::percent_encoded;
use crate::web::{Error, Query, Section, Shell, Typed, page};

#[derive(Template)]
#[template(path = "reference/woods.html")]
struct WoodsPage {
    shell: Shell,
    typed: Typed,
    kinds: [(&'static str, &'static str); 3],
    foods: [(&'static str, &'static str); 4],
    hazards: [(&'static str, &'static str); 2],
    orders: [(&'static str, &'static str); 6],
    is_filtered: bool,
    woods: Vec<WoodLine>,
}

struct WoodLine {
    address: String,
    name: String,
    latin: String,
    colour: String,
    kind: &'static str,
    density: String,
    hardness: String,
    movement: String,
    pores: &'static str,
    food: &'static str,
    food_mark: &'static str,
    hazard: &'static str,
    in_bins: String,
    is_ours: bool,
}

#[derive(Deserialize, Default)]
#[serde(default)]
pub(super) struct Asked {
    text: String,
    kind: String,
    food: String,
    hazard: String,
    order: String,
    here: String,
}

const KINDS: [(&str, &str); 3] = [
    ("", "hardwoods first"),
    ("hardwood", "hardwoods only"),
    ("softwood", "softwoods only"),
];
const FOODS: [(&str, &str); 4] = [
    ("", "any use"),
    ("cutting", "a surface to cut on"),
    ("serving", "at least serving"),
    ("accent", "at least thin accents"),
];
const HAZARDS: [(&str, &str); 2] = [("", "any"), ("none known", "no hazard known")];
const ORDERS: [(&str, &str); 6] = [
    ("", "name"),
    ("dark", "dark to light"),
    ("heavy", "heaviest first"),
    ("hard", "hardest first"),
    ("still", "moving least first"),
    ("bins", "most in the bins first"),
];

/// How a grade is marked beside its word.
pub(super) const fn food_mark(grade: FoodGrade) -> &'static str {
    match grade {
        FoodGrade::Cutting => "good",
        FoodGrade::Serving => "",
        FoodGrade::Accent => "busy",
        FoodGrade::Avoid => "late",
    }
}

/// Whether a figure of it is the workshop's own.
pub(super) fn is_ours(wood: &Species) -> bool {
    wood.sources()
        .into_iter()
        .any(|(_, source)| source.provenance == Provenance::Workshop)
}

fn fits(wood: &Species, asked: &Asked) -> bool {
    let text = asked.text.trim().to_lowercase();
    let said = [&wood.name, &wood.latin, &wood.region]
        .into_iter()
        .chain(&wood.other_names)
        .any(|word| word.to_lowercase().contains(&text));
    let least = FoodGrade::from_word(&asked.food);
    said && WoodKind::from_word(&asked.kind).is_none_or(|kind| wood.kind == kind)
        && least.is_none_or(|least| wood.food >= least)
        && (asked.hazard.is_empty() || wood.hazard == Hazard::NoneKnown)
}

pub(super) async fn list(
    State(app): State<App>,
    shell: Shell,
    Query(asked): Query<Asked>,
) -> Result<Response, Error> {
    let typed = Typed::filled(
        [
            ("text", asked.text.clone()),
            ("kind", asked.kind.clone()),
            ("food", asked.food.clone()),
            ("hazard", asked.hazard.clone()),
            ("order", asked.order.clone()),
            ("here", asked.here.clone()),
        ]
        .into_iter()
        .filter(|(_, value)| !value.is_empty()),
    );
    let woods = Woods::load(app.store.read()).await?;
    let stock = offcut::stock_by_species(app.store.read()).await?;
    let volume = |wood: &Species| {
        stock
            .iter()
            .filter(|of| of.of.eq_ignore_ascii_case(&wood.name))
            .map(|of| of.stock.volume_mm3)
            .sum::<i64>()
    };
    let mut shown: Vec<(&Species, i64)> = woods
        .list()
        .iter()
        .filter(|wood| fits(wood, &asked))
        .map(|wood| (wood, volume(wood)))
        .filter(|(_, volume)| asked.here.is_empty() || *volume > 0)
        .collect();
    shown.sort_by_key(|(wood, _)| wood.name.to_lowercase());
    match asked.order.as_str() {
        "dark" => {
            shown.sort_by(|(one, _), (other, _)| one.lightness().total_cmp(&other.lightness()))
        }
        "heavy" => {
            shown.sort_by(|(one, _), (other, _)| other.density_kg_m3.total_cmp(&one.density_kg_m3));
        }
        "hard" => shown.sort_by(|(one, _), (other, _)| {
            other.hardness.newtons().total_cmp(&one.hardness.newtons())
        }),
        "still" => shown.sort_by(|(one, _), (other, _)| moves(one).total_cmp(&moves(other))),
        "bins" => shown.sort_by_key(|(_, volume)| Reverse(*volume)),
        _ => {}
    }
    shown.sort_by_key(|(wood, _)| wood.kind);
    let is_filtered = typed.pairs().next().is_some();
    page(&WoodsPage {
        is_filtered,
        woods: shown
            .into_iter()
            .map(|(wood, volume)| WoodLine {
                address: address(&wood.name),
                name: wood.name.clone(),
                latin: wood.latin.clone(),
                colour: wood.colour_code(),
                kind: wood.kind.word(),
                density: density(wood.density_kg_m3, shell.lengths()),
                hardness: hardness(wood.hardness, shell.lengths()),
                movement: coefficient(&wood.figures, Direction::Tangential)
                    .map_or_else(|| "not published".to_owned(), |share| format!("{share:.5}")),
                pores: wood.pores.word(),
                food: wood.food.word(),
                food_mark: food_mark(wood.food),
                hazard: wood.hazard.word(),
                in_bins: if volume > 0 {
                    format!("{:.1} bf", Volume::from_mm3(volume as f64).board_feet())
                } else {
                    String::new()
                },
                is_ours: is_ours(wood),
            })
            .collect(),
        typed,
        kinds: KINDS,
        foods: FOODS,
        hazards: HAZARDS,
        orders: ORDERS,
        shell: shell.at(Section::Reference),
    })
}

/// The tangential coefficient, the larger one; what has none comes last.
fn moves(wood: &Species) -> f64 {
    coefficient(&wood.figures, Direction::Tangential).unwrap_or(f64::INFINITY)
}

/// Where the page of a wood is.
pub(super) fn address(name: &str) -> String {
    format!("/reference/woods/{}", percent_encoded(name))
}
