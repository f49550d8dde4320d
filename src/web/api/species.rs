//! Woods for scripts.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use crate::app::App;
use crate::app::species::{Figures, Woods, add, correct, forget};
use crate::export::svg::Colour;
use crate::reference::{Pores, Species, WoodKind};
use crate::store::{offcut, species};
use crate::units::{FoodGrade, Hazard, Source};
use crate::web::pages::species_error;
use crate::web::paging::percent_encoded;
use crate::web::{Error, IfMatch, Json, Paged, Paging, Path, Query, Routes, Steward, Version, Who};
use crate::wire::reading::{Node, Object, read};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Visitor, routes!(list_species))
        .api(Who::Visitor, routes!(find_species))
        .api(Who::Steward, routes!(create_species))
        .api(Who::Steward, routes!(update_species))
        .api(Who::Steward, routes!(delete_species))
}

/// Where a figure comes from.
#[derive(Serialize, ToSchema)]
struct SpeciesSource {
    /// Which figures: `density`, `hardness`, `shrinkage`, `coefficient`, `pores`, `hazard` or `food`.
    #[schema(example = "coefficient")]
    of: &'static str,
    publication: String,
    /// `read`, `memory`, `practice` or `workshop`.
    provenance: &'static str,
    /// The whole as a page shows it.
    text: String,
}

impl SpeciesSource {
    fn new((of, source): (&'static str, &Source)) -> SpeciesSource {
        SpeciesSource {
            of,
            publication: source.publication.to_string(),
            provenance: source.provenance.word(),
            text: source.to_string(),
        }
    }
}

/// A wood with its figures and where each comes from.
#[derive(Serialize, ToSchema)]
struct SpeciesBody {
    #[schema(example = "hard maple")]
    name: String,
    other_names: Vec<String>,
    latin: String,
    /// `hardwood` or `softwood`.
    kind: &'static str,
    region: String,
    /// Ovendry mass over volume at 12 % moisture, relative to water.
    specific_gravity: f64,
    /// At 12 % moisture, water included.
    density_kg_m3: f64,
    /// Janka ball in side grain at 12 % moisture.
    hardness_n: f64,
    /// Per cent from green to ovendry, along the growth rings.
    shrinkage_tangential: Option<f64>,
    shrinkage_radial: Option<f64>,
    /// Share of the width for each per cent of moisture, from 6 to 14 %.
    coefficient_tangential: Option<f64>,
    coefficient_radial: Option<f64>,
    /// `none`, `closed`, `semi-open` or `open`.
    pores: &'static str,
    /// `none known`, `irritant`, `sensitiser` or `toxic`.
    hazard: &'static str,
    hazard_note: String,
    /// `cutting`, `serving`, `accent` or `avoid`.
    food: &'static str,
    food_reason: String,
    #[schema(example = "#D9B98C")]
    colour: String,
    /// What the bins hold of it.
    in_bins_mm3: i64,
    sources: Vec<SpeciesSource>,
    /// Of the workshop's own figures; 0 where it has none.
    version: i64,
}

#[derive(Serialize, ToSchema)]
struct SpeciesList {
    items: Vec<SpeciesBody>,
    /// The cursor of the next page.
    next: Option<String>,
}

/// What a steward says of a wood.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what `draft` reads by hand, so that every flaw is told at once"
)]
#[schema(example = json!({
    "name": "osage orange", "latin": "Maclura pomifera", "kind": "hardwood", "region": "North America",
    "specific_gravity": 0.85, "density_kg_m3": 950, "hardness_n": 11600,
    "pores": "closed", "food": "accent", "food_reason": "hard and close; little is known of it with food",
    "hazard": "irritant", "hazard_note": "the sap reddens skin", "colour": "#B08A4A", "source": "weighed ten pieces"}))]
struct SpeciesDraft {
    /// Only of a new wood.
    name: Option<String>,
    latin: Option<String>,
    kind: String,
    region: Option<String>,
    specific_gravity: f64,
    density_kg_m3: f64,
    hardness_n: f64,
    shrinkage_tangential: Option<f64>,
    shrinkage_radial: Option<f64>,
    coefficient_tangential: Option<f64>,
    coefficient_radial: Option<f64>,
    pores: String,
    hazard: String,
    hazard_note: Option<String>,
    food: String,
    food_reason: String,
    colour: String,
    /// Where the figures are from, if not measured here.
    source: Option<String>,
}

const FIELDS: [&str; 17] = [
    "latin",
    "kind",
    "region",
    "specific_gravity",
    "density_kg_m3",
    "hardness_n",
    "shrinkage_tangential",
    "shrinkage_radial",
    "coefficient_tangential",
    "coefficient_radial",
    "pores",
    "hazard",
    "hazard_note",
    "food",
    "food_reason",
    "colour",
    "source",
];

fn draft(body: &Object<'_>) -> Option<Figures> {
    let number = |name| body.required(name, |field| field.number(0.0..=1e6));
    // A figure that nobody knows may be left out or null.
    let optional = |name| match body.field(name) {
        Some(field) if !field.is_null() => field.number(0.0..=1e6).map(Some),
        _ => Some(None),
    };
    let text = |name| match body.field(name) {
        Some(field) if !field.is_empty_text() => field.text().map(str::to_owned),
        _ => Some(String::new()),
    };
    let word = |name, known: &[(&'static str, &'static str)]| {
        body.required(name, |field| field.one_of(known))
            .map(str::to_owned)
    };
    let kind = body.required("kind", |field| {
        field.one_of(&[
            (WoodKind::Hardwood.word(), true),
            (WoodKind::Softwood.word(), false),
        ])
    });
    let specific_gravity = number("specific_gravity");
    let density = number("density_kg_m3");
    let hardness = number("hardness_n");
    let shrinkage_tangential = optional("shrinkage_tangential");
    let shrinkage_radial = optional("shrinkage_radial");
    let coefficient_tangential = optional("coefficient_tangential");
    let coefficient_radial = optional("coefficient_radial");
    let pores = word(
        "pores",
        &[Pores::None, Pores::Closed, Pores::SemiOpen, Pores::Open]
            .map(|pores| (pores.word(), pores.word())),
    );
    let hazard = word(
        "hazard",
        &[
            Hazard::NoneKnown,
            Hazard::Irritant,
            Hazard::Sensitiser,
            Hazard::Toxic,
        ]
        .map(|hazard| (hazard.word(), hazard.word())),
    );
    let food = word(
        "food",
        &FoodGrade::ALL.map(|grade| (grade.word(), grade.word())),
    );
    let colour = body.required("colour", |field| {
        let text = field.text()?;
        Colour::parse(text).or_else(|| field.refuse("must be a colour such as \"#D9B98C\""))
    });
    let food_reason = body.required("food_reason", |field| field.text().map(str::to_owned));
    let (latin, region, hazard_note, source) = (
        text("latin"),
        text("region"),
        text("hazard_note"),
        text("source"),
    );
    let colour = colour?;
    Some(Figures {
        latin: latin?,
        is_hardwood: kind?,
        region: region?,
        specific_gravity: specific_gravity?,
        density_kg_m3: density?,
        shrinkage_tangential: shrinkage_tangential?,
        shrinkage_radial: shrinkage_radial?,
        coefficient_tangential: coefficient_tangential?,
        coefficient_radial: coefficient_radial?,
        hardness_n: hardness?,
        pores: pores?,
        hazard: hazard?,
        hazard_note: hazard_note?,
        food: food?,
        food_reason: food_reason?,
        colour: [colour.red, colour.green, colour.blue],
        source: source?,
    })
}

fn new_wood(node: Node<'_>) -> Option<(String, Figures)> {
    let mut known = vec!["name"];
    known.extend(FIELDS);
    let body = node.object(&known)?;
    let name = body.required("name", |field| field.text().map(str::to_owned));
    let figures = draft(&body);
    Some((name?, figures?))
}

fn read_body<T>(body: &Value, walk: impl FnOnce(Node<'_>) -> Option<T>) -> Result<T, Error> {
    read(body.to_string().as_bytes(), walk).map_err(Error::Calculation)
}

/// What belongs to every wood besides its figures.
struct Around {
    stock: Vec<offcut::StockOf>,
    own: Vec<species::WorkshopSpecies>,
}

impl Around {
    async fn load(app: &App) -> Result<Around, Error> {
        Ok(Around {
            stock: offcut::stock_by_species(app.store.read()).await?,
            own: species::list(app.store.read()).await?,
        })
    }

    fn body(&self, wood: &Species) -> SpeciesBody {
        let is_it = |name: &str| name.eq_ignore_ascii_case(&wood.name);
        SpeciesBody {
            name: wood.name.clone(),
            other_names: wood.other_names.clone(),
            latin: wood.latin.clone(),
            kind: wood.kind.word(),
            region: wood.region.clone(),
            specific_gravity: wood.figures.specific_gravity,
            density_kg_m3: wood.density_kg_m3,
            hardness_n: wood.hardness.newtons(),
            shrinkage_tangential: wood.figures.shrinkage_tangential,
            shrinkage_radial: wood.figures.shrinkage_radial,
            coefficient_tangential: wood.figures.coefficient_tangential,
            coefficient_radial: wood.figures.coefficient_radial,
            pores: wood.pores.word(),
            hazard: wood.hazard.word(),
            hazard_note: wood.hazard_note.clone(),
            food: wood.food.word(),
            food_reason: wood.food_reason.clone(),
            colour: wood.colour_code(),
            in_bins_mm3: self
                .stock
                .iter()
                .filter(|of| is_it(&of.of))
                .map(|of| of.stock.volume_mm3)
                .sum(),
            sources: wood.sources().into_iter().map(SpeciesSource::new).collect(),
            version: self
                .own
                .iter()
                .find(|own| is_it(&own.name))
                .map_or(0, |own| own.version),
        }
    }
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct Asked {
    /// Part of a name, in English or Latin.
    #[serde(default)]
    text: String,
    /// The cursor of the page before.
    #[expect(
        dead_code,
        reason = "`Paging` reads it; it stands here for the document"
    )]
    after: Option<String>,
    #[expect(
        dead_code,
        reason = "`Paging` reads it; it stands here for the document"
    )]
    limit: Option<u32>,
}

/// Every wood that the workshop knows, by name.
#[utoipa::path(get, path = "/api/v1/species", tag = "species", security((), ("token" = [])), params(Asked),
    responses((status = 200, body = SpeciesList)))]
async fn list_species(
    State(app): State<App>,
    Query(asked): Query<Asked>,
    paging: Paging,
) -> Result<Paged<SpeciesBody>, Error> {
    let woods = Woods::load(app.store.read()).await?;
    let around = Around::load(&app).await?;
    let after: Option<String> = paging.after()?;
    let text = asked.text.trim().to_lowercase();
    let mut found: Vec<&Species> = woods
        .list()
        .iter()
        .filter(|wood| {
            std::iter::once(&wood.name)
                .chain(&wood.other_names)
                .chain([&wood.latin])
                .any(|name| name.to_lowercase().contains(&text))
        })
        .filter(|wood| after.as_ref().is_none_or(|after| wood.name > *after))
        .collect();
    found.sort_by(|one, other| one.name.cmp(&other.name));
    let rows = usize::try_from(paging.rows()).unwrap_or(usize::MAX);
    let bodies = found.into_iter().take(rows).map(|wood| around.body(wood));
    Ok(paging.page(bodies.collect(), |body| body.name.clone()))
}

async fn answer(app: &App, name: &str) -> Result<Response, Error> {
    let woods = Woods::load(app.store.read()).await?;
    let wood = woods
        .find(name)
        .ok_or_else(|| Error::NotFound(format!("The workshop knows no wood called {name:?}.")))?;
    let body = Around::load(app).await?.body(wood);
    Ok((Version(body.version).etag(), Json(body)).into_response())
}

/// One wood, by its name or another name of it.
#[utoipa::path(get, path = "/api/v1/species/{name}", tag = "species", security((), ("token" = [])),
    params(("name" = String, Path, description = "Its name", example = "hard maple")),
    responses((status = 200, body = SpeciesBody), (status = 404)))]
async fn find_species(State(app): State<App>, Path(name): Path<String>) -> Result<Response, Error> {
    answer(&app, &name).await
}

/// Add a wood that the workshop does not know; its source is this workshop.
#[utoipa::path(post, path = "/api/v1/species", tag = "species", security(("token" = [])), request_body = SpeciesDraft,
    responses((status = 201, body = SpeciesBody),
        (status = 422)))]
async fn create_species(
    State(app): State<App>,
    Steward(caller): Steward,
    Json(body): Json<Value>,
) -> Result<Response, Error> {
    let (name, figures) = read_body(&body, new_wood)?;
    let mut db = app.store.begin().await?;
    let name = add(&mut db, app.by(&caller), &name, &figures)
        .await
        .map_err(species_error)?;
    db.commit().await?;
    let location = format!("/api/v1/species/{}", percent_encoded(&name));
    Ok((
        StatusCode::CREATED,
        [(header::LOCATION, location)],
        answer(&app, &name).await?,
    )
        .into_response())
}

/// Put this workshop's figures over those of a wood; the whole of them is written.
///
/// What is the same as printed keeps its printed source.
#[utoipa::path(put, path = "/api/v1/species/{name}", tag = "species", security(("token" = [])), request_body = SpeciesDraft,
    params(("name" = String, Path, description = "Its name", example = "hard maple"),
        ("If-Match" = String, Header, description = "The ETag that was read; \"v0\" where the figures are as printed")),
    responses((status = 200, body = SpeciesBody),
        (status = 404), (status = 422)))]
async fn update_species(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(name): Path<String>,
    IfMatch(version): IfMatch,
    Json(body): Json<Value>,
) -> Result<Response, Error> {
    let figures = read_body(&body, |node| draft(&node.object(&FIELDS)?))?;
    let mut db = app.store.begin().await?;
    correct(&mut db, app.by(&caller), &name, version.0, &figures)
        .await
        .map_err(species_error)?;
    db.commit().await?;
    answer(&app, &name).await
}

/// Take this workshop's figures of a wood away: a printed one goes back to the print, an added one is no longer known.
#[utoipa::path(delete, path = "/api/v1/species/{name}", tag = "species", security(("token" = [])),
    params(("name" = String, Path, description = "Its name", example = "osage orange"),
        ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 204, description = "They are gone"),
        (status = 404), (status = 409)))]
async fn delete_species(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(name): Path<String>,
    IfMatch(version): IfMatch,
) -> Result<StatusCode, Error> {
    let mut db = app.store.begin().await?;
    forget(&mut db, app.by(&caller), &name, version.0)
        .await
        .map_err(species_error)?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}
