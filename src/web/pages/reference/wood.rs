//! One wood: how it looks, its figures with their sources, and what the bins hold of it.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::units::{density, hardness, plain};
use super::woods::{address, food_mark, is_ours};
use crate::app::App;
use crate::app::species::Woods;
use crate::calc::cautions::of_wood;
use crate::calc::wood::{Direction, change};
use crate::reference::{Caution, Species, cautions_about};
use crate::store::offcut::{self, Search, Stock};
use crate::units::{FoodGrade, Length, LengthFormat, Moisture, Source, Volume};
use crate::web::pages::bins::PieceLine;
use crate::web::paging::percent_encoded;
use crate::web::{Error, Path, Section, Shell, page, see_other};

/// Pieces on the page of a wood; the rest is a click away in the bins.
const MOST_PIECES: u32 = 12;

#[derive(Template)]
#[template(path = "reference/wood.html")]
struct WoodPage {
    shell: Shell,
    name: String,
    latin: String,
    other_names: String,
    kind: &'static str,
    region: String,
    colour: String,
    figures: Vec<Figure>,
    food: &'static str,
    food_mark: &'static str,
    food_words: &'static str,
    food_reason: String,
    food_source: String,
    hazard: &'static str,
    hazard_note: String,
    hazard_source: String,
    cautions: Vec<&'static Caution>,
    movement: Option<Movement>,
    holds: Option<String>,
    pieces: Vec<PieceLine>,
    has_more: bool,
    search: String,
    address: String,
    is_ours: bool,
    /// Whether the calculators know it.
    is_printed: bool,
}

/// A number with what it is and where it comes from.
struct Figure {
    what: &'static str,
    value: String,
    source: String,
}

/// What a board does between a dry and a damp season.
struct Movement {
    width: String,
    flat_sawn: String,
    quarter_sawn: Option<String>,
}

/// What a grade lets one make.
const fn food_words(grade: FoodGrade) -> &'static str {
    match grade {
        FoodGrade::Cutting => "fit for a surface to cut on",
        FoodGrade::Serving => "for trays, bowls and bread, without a knife",
        FoodGrade::Accent => "in thin strips among other woods",
        FoodGrade::Avoid => "not where food touches it",
    }
}

fn figures(wood: &Species) -> Vec<Figure> {
    let mut figures = Vec::new();
    let mut add = |what, value: String, source: &Source| {
        figures.push(Figure {
            what,
            value,
            source: source.to_string(),
        });
    };
    let inches = LengthFormat::Inches(Default::default());
    let kg = wood.density_kg_m3;
    add(
        "Density at 12 % moisture",
        format!(
            "{}, {}",
            density(kg, LengthFormat::Millimetres),
            density(kg, inches)
        ),
        &wood.density_source,
    );
    add(
        "Specific gravity",
        plain(wood.figures.specific_gravity),
        &wood.density_source,
    );
    add(
        "Hardness, Janka ball in side grain",
        format!(
            "{}, {}",
            hardness(wood.hardness, LengthFormat::Millimetres),
            hardness(wood.hardness, inches)
        ),
        &wood.hardness_source,
    );
    if let Some(source) = &wood.shrinkage_source {
        let rows = [
            (
                "Shrinkage along the rings, green to ovendry",
                wood.figures.shrinkage_tangential,
            ),
            ("Shrinkage across the rings", wood.figures.shrinkage_radial),
        ];
        for (what, percent) in rows {
            if let Some(percent) = percent {
                add(what, format!("{} %", plain(percent)), source);
            }
        }
    }
    if let Some(source) = &wood.coefficient_source {
        let rows = [
            (
                "Movement coefficient, flat-sawn",
                wood.figures.coefficient_tangential,
            ),
            (
                "Movement coefficient, quarter-sawn",
                wood.figures.coefficient_radial,
            ),
        ];
        for (what, share) in rows {
            if let Some(share) = share {
                add(what, format!("{share:.5}"), source);
            }
        }
    }
    add("Pores", wood.pores.word().to_owned(), &wood.pores_source);
    figures
}

/// From 6 to 10 % moisture, which is a heated room in winter and a damp summer.
fn movement(wood: &Species, lengths: LengthFormat) -> Option<Movement> {
    let width = match lengths {
        LengthFormat::Inches(_) => Length::from_inches(10, 1),
        LengthFormat::Millimetres => Length::from_mm(250),
    };
    let dry = Moisture::from_percent(6.0).ok()?;
    let damp = Moisture::from_percent(10.0).ok()?;
    let by = |direction| change(width, &wood.figures, direction, dry, damp).ok();
    let shown = |length: Length| format!("{:.1} mm ({:.3} in)", length.mm(), length.inches());
    Some(Movement {
        width: lengths.show(width),
        flat_sawn: shown(by(Direction::Tangential)?),
        quarter_sawn: by(Direction::Radial).map(shown),
    })
}

fn holds(stock: &Stock) -> String {
    let board_feet = Volume::from_mm3(stock.volume_mm3 as f64).board_feet();
    let pieces = if stock.pieces == 1 { "piece" } else { "pieces" };
    format!("{} {pieces}, {board_feet:.1} board feet", stock.pieces)
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    Path(name): Path<String>,
) -> Result<Response, Error> {
    let woods = Woods::load(app.store.read()).await?;
    let wood = woods.find(&name).ok_or_else(|| unknown(&name))?;
    if wood.name != name {
        return Ok(see_other(address(&wood.name)).response(&app));
    }
    let stock = offcut::stock_by_species(app.store.read()).await?;
    let here = stock
        .into_iter()
        .find(|of| of.of.eq_ignore_ascii_case(&wood.name));
    let search = Search {
        species: here.as_ref().map(|of| of.of.clone()),
        limit: MOST_PIECES + 1,
        ..Search::default()
    };
    let mut pieces = match here {
        Some(_) => offcut::list(app.store.read(), &search).await?,
        None => Vec::new(),
    };
    let has_more = pieces.len() > MOST_PIECES as usize;
    pieces.truncate(MOST_PIECES as usize);
    page(&WoodPage {
        name: wood.name.clone(),
        latin: wood.latin.clone(),
        other_names: wood.other_names.join(", "),
        kind: wood.kind.word(),
        region: wood.region.clone(),
        colour: wood.colour_code(),
        figures: figures(wood),
        food: wood.food.word(),
        food_mark: food_mark(wood.food),
        food_words: food_words(wood.food),
        food_reason: wood.food_reason.clone(),
        food_source: wood.food_source.to_string(),
        hazard: wood.hazard.word(),
        hazard_note: wood.hazard_note.clone(),
        hazard_source: wood.hazard_source.to_string(),
        cautions: of_wood(wood.hazard, wood.is_oily())
            .into_iter()
            .flat_map(cautions_about)
            .collect(),
        movement: movement(wood, shell.lengths()),
        holds: here.map(|of| holds(&of.stock)),
        pieces: pieces
            .iter()
            .map(|piece| PieceLine::new(piece, &shell, &woods))
            .collect(),
        has_more,
        search: percent_encoded(&wood.name),
        address: address(&wood.name),
        is_ours: is_ours(wood),
        is_printed: crate::reference::species(&wood.name).is_some(),
        shell: shell.at(Section::Reference),
    })
}

/// There is no such wood.
pub(super) fn unknown(name: &str) -> Error {
    let near = crate::reference::nearest_species(name);
    let shown: String = name.chars().take(60).collect();
    Error::NotFound(if near.is_empty() {
        format!("The workshop knows no wood called \"{shown}\".")
    } else {
        format!(
            "The workshop knows no wood called \"{shown}\"; nearest are {}.",
            near.join(", ")
        )
    })
}
