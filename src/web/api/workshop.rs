//! What stewards set, for scripts: everything in one document, changed in parts.

use std::collections::BTreeMap;

use axum::extract::State;
use axum::response::{IntoResponse, Response};
use jiff::civil::Date;
use serde::Serialize;
use serde_json::{Map, Value, json};
use utoipa::ToSchema;
use utoipa_axum::routes;

use super::{read, title};
use crate::app::settings::{self, Counts, Draft, Figure, label_stock};
use crate::app::species::Woods;
use crate::app::{App, choice, days};
use crate::calc::work::StepKind;
use crate::export::pdf::LabelStock;
use crate::reference;
use crate::store::practice::{FLATTENING_TOOLS, PracticeChanges};
use crate::store::settings::{AirReading, Cutting, HERE, Labels, Season};
use crate::store::species;
use crate::store::workshop::{self, Workshop};
use crate::units::{Length, LengthFormat, Money};
use crate::web::{Error, IfMatch, Json, JsonBody, Routes, Steward, Version, Who};
use crate::wire::length::to_json;
use crate::wire::{FieldError, Node, Object};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(find_workshop))
        .api(Who::Steward, routes!(update_workshop))
}

/// A reading of the air. The newest one whose place is `workshop` is the air that glue and offcuts are in now; movement
/// is reckoned between the driest and the dampest of all.
#[derive(Serialize, ToSchema)]
struct Air {
    #[schema(example = "workshop")]
    place: String,
    /// `winter`, `spring`, `summer` or `autumn`.
    #[schema(example = "winter")]
    season: &'static str,
    #[schema(example = 20.5)]
    temperature_c: f64,
    #[schema(example = 45.0)]
    relative_humidity_percent: f64,
    #[schema(value_type = String, format = Date, example = "2027-02-14")]
    read_on: Date,
}

/// Saws, trims, and what is worth keeping. Lengths are millimetres.
#[derive(Serialize, ToSchema)]
struct CuttingBody {
    #[schema(value_type = f64, example = 3.175)]
    rip_kerf: Value,
    #[schema(value_type = f64, example = 3.175)]
    crosscut_kerf: Value,
    #[schema(value_type = f64)]
    edge_trim: Value,
    #[schema(value_type = f64)]
    end_trim: Value,
    #[schema(value_type = f64)]
    min_rip_length: Value,
    #[schema(value_type = f64)]
    keep_length: Value,
    #[schema(value_type = f64)]
    keep_width: Value,
    /// From 0 to 1: the share of a kept remainder that counts as not used.
    #[schema(example = 0.5)]
    keep_credit: f64,
}

/// The sheet that labels are printed on.
#[derive(Serialize, ToSchema)]
struct LabelsBody {
    /// `A4` or `Letter`.
    #[schema(example = "Letter")]
    paper: String,
    #[schema(example = 3)]
    columns: u16,
    #[schema(example = 10)]
    rows: u16,
}

/// Everything that a steward may set.
#[derive(Serialize, ToSchema)]
struct WorkshopBody {
    #[schema(example = "Sparrow Yard Workshop")]
    name: String,
    /// A name of the IANA time zone database.
    #[schema(example = "Europe/Paris")]
    time_zone: String,
    /// How many days a claim lasts unless it is extended.
    #[schema(example = 14)]
    claim_days: u16,
    labels: LabelsBody,
    /// Whether who has not signed in may look at bins, hours and reference.
    guests_may_look: bool,
    /// Whether members see who used how much of the shared wood.
    members_see_users: bool,
    /// Whether notices may be posted to addresses inside the workshop's own network.
    notices_inside: bool,
    /// By place and season.
    air: Vec<Air>,
    cutting: CuttingBody,
    /// Asked for a board foot from the bins where the species has no price of its own.
    #[schema(example = 2.5)]
    price_per_board_foot: f64,
    /// Of a kilogram; 0 where nobody counts it.
    #[schema(example = 12.0)]
    price_of_glue: f64,
    /// For a square metre of board, through all grits.
    #[schema(example = 3.0)]
    price_of_abrasive: f64,
    /// Of a litre.
    #[schema(example = 40.0)]
    price_of_finish: f64,
    /// Species with a price of their own, a board foot each.
    prices: BTreeMap<String, f64>,
    /// Grits of sandpaper on the shelf, coarse to fine.
    grits: Vec<u16>,
    /// Where the workshop differs from common practice: only what differs is here. Lengths are millimetres, times minutes,
    /// `clamp_force_n` newtons; `step_minutes` is by the key of the step.
    #[schema(value_type = Object, example = json!({"glue": "crosslinked PVA", "flattening": 1.5, "step_minutes": {"rip": 4}}))]
    practice: Value,
    version: i64,
}

impl WorkshopBody {
    fn new(workshop: &Workshop, prices: &[(String, Money)]) -> WorkshopBody {
        let settings = &workshop.settings;
        let stock = LabelStock::COMMON[label_stock(&settings.labels)];
        let cutting = &settings.cutting;
        WorkshopBody {
            name: workshop.name.clone(),
            time_zone: Draft::of(workshop).time_zone,
            claim_days: settings.claim_days,
            labels: LabelsBody {
                paper: stock.paper.name().to_owned(),
                columns: u16::try_from(stock.columns).unwrap_or(u16::MAX),
                rows: u16::try_from(stock.rows).unwrap_or(u16::MAX),
            },
            guests_may_look: settings.guests_may_look,
            members_see_users: settings.members_see_users,
            notices_inside: settings.notices_inside,
            air: settings
                .air
                .iter()
                .map(|air| Air {
                    place: air.place.clone(),
                    season: air.season.word(),
                    temperature_c: air.temperature_c,
                    relative_humidity_percent: air.relative_humidity_percent,
                    read_on: air.read_on,
                })
                .collect(),
            cutting: CuttingBody {
                rip_kerf: to_json(cutting.rip_kerf),
                crosscut_kerf: to_json(cutting.crosscut_kerf),
                edge_trim: to_json(cutting.edge_trim),
                end_trim: to_json(cutting.end_trim),
                min_rip_length: to_json(cutting.min_rip_length),
                keep_length: to_json(cutting.keep_length),
                keep_width: to_json(cutting.keep_width),
                keep_credit: f64::from(cutting.keep_credit_thousandths) / 1000.0,
            },
            price_per_board_foot: settings.price_per_board_foot().units(),
            price_of_glue: Money::from_cents(settings.materials.glue_cents).units(),
            price_of_abrasive: Money::from_cents(settings.materials.abrasive_cents).units(),
            price_of_finish: Money::from_cents(settings.materials.finish_cents).units(),
            prices: prices
                .iter()
                .map(|(name, price)| (name.clone(), price.units()))
                .collect(),
            grits: settings.grits.clone(),
            practice: print_practice(&settings.practice),
            version: workshop.version,
        }
    }
}

fn print_practice(changes: &PracticeChanges) -> Value {
    let mut printed = Map::new();
    for figure in settings::figures() {
        if let Some(value) = (figure.get)(changes) {
            let value = match figure.counts {
                Counts::Length => to_json(Length::from_nm(value)),
                Counts::Minutes | Counts::Force | Counts::Plain => json!(value),
            };
            printed.insert(figure.name.to_owned(), value);
        }
    }
    for (name, word) in [
        ("glue", &changes.glue),
        ("finish", &changes.finish),
        ("flattening_tool", &changes.flattening_tool),
    ] {
        if let Some(word) = word {
            printed.insert(name.to_owned(), json!(word));
        }
    }
    if !changes.step_minutes.is_empty() {
        printed.insert("step_minutes".to_owned(), json!(changes.step_minutes));
    }
    Value::Object(printed)
}

/// What a steward changes; what is left out stays, `null` takes a figure back to the usual.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what `draft` reads by hand, so that every flaw is told at once"
)]
struct WorkshopChange {
    #[schema(example = "Sparrow Yard Workshop")]
    name: Option<String>,
    #[schema(example = "Europe/Paris")]
    time_zone: Option<String>,
    #[schema(example = 21)]
    claim_days: Option<u16>,
    #[schema(value_type = Option<Object>, example = json!({"paper": "A4", "columns": 3, "rows": 8}))]
    labels: Option<Value>,
    #[schema(example = true)]
    guests_may_look: Option<bool>,
    members_see_users: Option<bool>,
    notices_inside: Option<bool>,
    /// All readings by place and season; `place` is the workshop and `read_on` today unless they are given.
    #[schema(value_type = Option<Vec<Object>>, example = json!([{"place": "workshop", "season": "winter", "temperature_c": 20.5,
        "relative_humidity_percent": 35, "read_on": "2027-02-14"}]))]
    air: Option<Value>,
    /// Any of the lengths and `keep_credit`; a length is text with its unit or a number of millimetres.
    #[schema(value_type = Option<Object>, example = json!({"rip_kerf": "1/8 in", "keep_credit": 0.5}))]
    cutting: Option<Value>,
    #[schema(example = 2.5)]
    price_per_board_foot: Option<f64>,
    #[schema(example = 12.0)]
    price_of_glue: Option<f64>,
    #[schema(example = 3.0)]
    price_of_abrasive: Option<f64>,
    #[schema(example = 40.0)]
    price_of_finish: Option<f64>,
    /// By species; `null` takes its own price away.
    #[schema(value_type = Option<Object>, example = json!({"black walnut": 9.5}))]
    prices: Option<Value>,
    grits: Option<Vec<u16>>,
    #[schema(value_type = Option<Object>, example = json!({"flattening": "1/16 in", "clamped_minutes": 720, "step_minutes": {"rip": null}}))]
    practice: Option<Value>,
}

const FIELDS: [&str; 16] = [
    "name",
    "time_zone",
    "claim_days",
    "labels",
    "guests_may_look",
    "members_see_users",
    "notices_inside",
    "air",
    "cutting",
    "price_per_board_foot",
    "price_of_glue",
    "price_of_abrasive",
    "price_of_finish",
    "prices",
    "grits",
    "practice",
];

/// `null` as `Some(None)`.
fn or_null<'a, T>(
    field: &Node<'a>,
    read: impl FnOnce(&Node<'a>) -> Option<T>,
) -> Option<Option<T>> {
    if field.is_null() {
        Some(None)
    } else {
        read(field).map(Some)
    }
}

fn put<T>(place: &mut T, value: Option<T>) {
    if let Some(value) = value {
        *place = value;
    }
}

/// Puts what a body says into the draft; a flaw leaves it as it was and is noted.
fn draft(node: &Node<'_>, draft: &mut Draft, woods: &Woods, today: Date) -> Option<()> {
    let body = node.object(&FIELDS)?;
    put(
        &mut draft.name,
        body.optional("name", |field| title(&field, 120)),
    );
    put(
        &mut draft.time_zone,
        body.optional("time_zone", |field| field.text().map(str::to_owned)),
    );
    let settings = &mut draft.settings;
    let days = body.optional("claim_days", |field| {
        field.whole(1..=i64::from(settings::LONGEST_CLAIM))
    });
    put(
        &mut settings.claim_days,
        days.and_then(|days| u16::try_from(days).ok()),
    );
    put(
        &mut settings.labels,
        body.optional("labels", |field| labels(&field)),
    );
    for (name, place) in [
        ("guests_may_look", &mut settings.guests_may_look),
        ("members_see_users", &mut settings.members_see_users),
        ("notices_inside", &mut settings.notices_inside),
    ] {
        put(place, body.optional(name, |field| field.boolean()));
    }
    let air = body.optional("air", |field| {
        field.list_of_at_most(settings::MOST_READINGS, |reading| air(&reading, today))
    });
    put(&mut settings.air, air);
    body.optional("cutting", |field| cutting(&field, &mut settings.cutting));
    let price = body.optional("price_per_board_foot", |field| field.money());
    put(
        &mut settings.price_per_board_foot_cents,
        price.map(Money::cents),
    );
    for (name, place) in [
        ("price_of_glue", &mut settings.materials.glue_cents),
        ("price_of_abrasive", &mut settings.materials.abrasive_cents),
        ("price_of_finish", &mut settings.materials.finish_cents),
    ] {
        let price = body.optional(name, |field| field.money());
        put(place, price.map(Money::cents));
    }
    put(
        &mut draft.prices,
        body.optional("prices", |field| prices(&field, woods)),
    );
    let grits = body.optional("grits", |field| {
        field.list_of_at_most(40, |grit| {
            grit.whole(1..=10_000)
                .and_then(|grit| u16::try_from(grit).ok())
        })
    });
    put(
        &mut settings.grits,
        grits.map(|mut grits| {
            grits.sort_unstable();
            grits.dedup();
            grits
        }),
    );
    body.optional("practice", |field| practice(&field, &mut settings.practice));
    Some(())
}

fn labels(node: &Node<'_>) -> Option<Labels> {
    let body = node.object(&["paper", "columns", "rows"])?;
    let paper = body.required("paper", |field| field.text().map(str::to_owned));
    let columns = body.required("columns", |field| field.whole(1..=100));
    let rows = body.required("rows", |field| field.whole(1..=100));
    let labels = Labels {
        paper: paper?,
        columns: u16::try_from(columns?).ok()?,
        rows: u16::try_from(rows?).ok()?,
    };
    let is_known = LabelStock::COMMON.iter().any(|stock| {
        stock.paper.name() == labels.paper
            && stock.columns == usize::from(labels.columns)
            && stock.rows == usize::from(labels.rows)
    });
    if is_known {
        return Some(labels);
    }
    let known: Vec<String> = LabelStock::COMMON
        .iter()
        .map(|stock| format!("{} {} × {}", stock.paper.name(), stock.columns, stock.rows))
        .collect();
    node.refuse(format!(
        "is no sheet that is known; must be one of {}",
        known.join(", ")
    ))
}

fn air(node: &Node<'_>, today: Date) -> Option<AirReading> {
    let body = node.object(&[
        "place",
        "season",
        "temperature_c",
        "relative_humidity_percent",
        "read_on",
    ])?;
    let place = body.field("place").map(|field| title(&field, 60));
    let season = body.required("season", |field| field.one_of(&Season::ALL));
    let read_on = body.field("read_on").map(|field| {
        let text = field.text()?;
        match text.parse::<Date>() {
            Ok(day) => Some(day),
            Err(_) => field.refuse("is no day; must be like 2027-02-14"),
        }
    });
    let temperature = body.required("temperature_c", |field| field.number(-30.0..=60.0));
    let humidity = body.required("relative_humidity_percent", |field| {
        field.number(0.0..=100.0)
    });
    Some(AirReading {
        place: place.unwrap_or_else(|| Some(HERE.to_owned()))?,
        season: season?,
        temperature_c: temperature?,
        relative_humidity_percent: humidity?,
        read_on: read_on.unwrap_or(Some(today))?,
    })
}

fn cutting(node: &Node<'_>, cutting: &mut Cutting) -> Option<()> {
    let body = node.object(&[
        "rip_kerf",
        "crosscut_kerf",
        "edge_trim",
        "end_trim",
        "min_rip_length",
        "keep_length",
        "keep_width",
        "keep_credit",
    ])?;
    for (name, place) in [
        ("rip_kerf", &mut cutting.rip_kerf),
        ("crosscut_kerf", &mut cutting.crosscut_kerf),
        ("edge_trim", &mut cutting.edge_trim),
        ("end_trim", &mut cutting.end_trim),
        ("min_rip_length", &mut cutting.min_rip_length),
        ("keep_length", &mut cutting.keep_length),
        ("keep_width", &mut cutting.keep_width),
    ] {
        put(place, body.optional(name, |field| field.length()));
    }
    let credit = body.optional("keep_credit", |field| field.number(0.0..=1.0));
    put(
        &mut cutting.keep_credit_thousandths,
        credit.map(|share| (share * 1000.0).round() as u16),
    );
    Some(())
}

fn prices(node: &Node<'_>, woods: &Woods) -> Option<Vec<(String, Option<Money>)>> {
    let mut prices = Vec::new();
    for (name, field) in node.table()? {
        match (woods.find(name), woods.flaw(name)) {
            (Some(wood), None) => {
                if let Some(price) = or_null(&field, |field| field.money()) {
                    prices.push((wood.name.clone(), price));
                }
            }
            (_, flaw) => {
                field.refuse::<()>(flaw.unwrap_or_else(|| "is no wood that is known".into()));
            }
        }
    }
    Some(prices)
}

fn practice(node: &Node<'_>, changes: &mut PracticeChanges) -> Option<()> {
    let mut known = vec!["glue", "finish", "flattening_tool", "step_minutes"];
    known.extend(settings::figures().map(|figure| figure.name));
    let body = node.object(&known)?;
    let named = |name: &str| body.optional(name, |field| or_null(&field, |field| field.text()));
    // A newly chosen glue or finish brings its own figures, unless a figure is given as well.
    if let Some(word) = named("glue") {
        match word.map(|word| (word, reference::glue(word))) {
            Some((word, None)) => refuse_word(&body, "glue", word),
            found => choice::choose_glue(changes, found.and_then(|(_, glue)| glue)),
        }
    }
    if let Some(word) = named("finish") {
        match word.map(|word| (word, reference::finish(word))) {
            Some((word, None)) => refuse_word(&body, "finish", word),
            found => choice::choose_finish(changes, found.and_then(|(_, finish)| finish)),
        }
    }
    for figure in settings::figures() {
        let value = body.optional(figure.name, |field| {
            or_null(&field, |field| figure_value(figure, field))
        });
        if let Some(value) = value {
            (figure.set)(changes, value);
        }
    }
    let tools = FLATTENING_TOOLS.map(|(word, _)| (word, word));
    let tool = body.optional("flattening_tool", |field| {
        or_null(&field, |field| field.one_of(&tools).map(str::to_owned))
    });
    put(&mut changes.flattening_tool, tool);
    body.optional("step_minutes", |field| {
        steps(&field, &mut changes.step_minutes)
    });
    Some(())
}

fn refuse_word(body: &Object<'_>, name: &str, word: &str) {
    if let Some(field) = body.field(name) {
        field.refuse::<()>(format!("is {word:?}; must be a {name} of the reference"));
    }
}

fn figure_value(figure: &Figure, field: &Node<'_>) -> Option<i64> {
    let value = match figure.counts {
        Counts::Length => field.length()?.nm(),
        Counts::Minutes | Counts::Force | Counts::Plain => field.whole(0..=10_000_000)?,
    };
    match figure.flaw(value, LengthFormat::Millimetres) {
        None => Some(value),
        Some(flaw) => field.refuse(flaw),
    }
}

fn steps(node: &Node<'_>, minutes: &mut BTreeMap<String, u32>) -> Option<()> {
    for (key, field) in node.table()? {
        if StepKind::from_key(key).is_none_or(|kind| kind.row().minutes == 0) {
            field.refuse::<()>("is no step whose minutes can be set; must be the key of one");
            continue;
        }
        let given = or_null(&field, |field| {
            field.whole(0..=i64::from(settings::LONGEST_STEP))
        });
        match given {
            Some(Some(given)) => {
                minutes.insert(key.to_owned(), u32::try_from(given).ok()?);
            }
            Some(None) => _ = minutes.remove(key),
            None => {}
        }
    }
    Some(())
}

async fn answer(app: &App) -> Result<Response, Error> {
    let workshop = workshop::get(app.store.read()).await?;
    let prices = species::list_prices(app.store.read()).await?;
    let body = WorkshopBody::new(&workshop, &prices);
    Ok((Version(workshop.version).etag(), Json(body)).into_response())
}

/// Everything that the workshop has set.
#[utoipa::path(get, path = "/api/v1/workshop", tag = "workshop", security(("token" = [])),
    responses((status = 200, body = WorkshopBody)))]
async fn find_workshop(State(app): State<App>) -> Result<Response, Error> {
    answer(&app).await
}

/// Set something; what is left out stays, and holds from now on.
#[utoipa::path(patch, path = "/api/v1/workshop", tag = "workshop", security(("token" = [])), request_body = WorkshopChange,
    params(("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = WorkshopBody)))]
async fn update_workshop(
    State(app): State<App>,
    Steward(caller): Steward,
    IfMatch(Version(version)): IfMatch,
    body: JsonBody,
) -> Result<Response, Error> {
    let woods = Woods::load(app.store.read()).await?;
    let mut set = Draft::of(&workshop::get(app.store.read()).await?);
    let zone = workshop::get(app.store.read()).await?.time_zone;
    let today = days::day_of(app.clock.now(), &zone);
    read(&body, |node| draft(&node, &mut set, &woods, today))?;
    let flaws = settings::flaws(&set, LengthFormat::Millimetres);
    if !flaws.is_empty() {
        return Err(Error::Wrong(flaws.into_iter().map(placed).collect()));
    }
    let mut db = app.store.begin().await?;
    settings::save(&mut db, app.by(&caller), version, &set).await?;
    db.commit().await?;
    answer(&app).await
}

/// The flaw of a draft at its place in the body.
fn placed(flaw: FieldError) -> FieldError {
    let name = flaw.pointer.trim_start_matches('/').to_owned();
    let parent = if FIELDS.contains(&name.split('/').next().unwrap_or_default()) {
        ""
    } else if settings::figures().any(|figure| figure.name == name) {
        "/practice"
    } else if StepKind::from_key(&name).is_some() {
        "/practice/step_minutes"
    } else {
        "/cutting"
    };
    FieldError {
        pointer: format!("{parent}/{name}"),
        ..flaw
    }
}
