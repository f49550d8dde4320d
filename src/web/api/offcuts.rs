//! Offcuts for scripts.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use crate::app::App;
use crate::app::days::instant_of;
use crate::app::offcut::{self as use_case, BrokenClaims, OffcutError};
use crate::app::species::Woods;
use crate::app::strip_search::{Place, pieces_for_strip};
use crate::calc::matching::Section;
use crate::store::offcut::{
    self, GrowthRings, NewOffcut, Offcut, Search, Show, StripWanted, Unusable,
};
use crate::store::{BinId, OffcutId, workshop};
use crate::units::Length;
use crate::web::{Error, IfMatch, Json, Member, Paged, Paging, Path, Query, Routes, Version, Who};
use crate::wire::FieldError;
use crate::wire::length::to_json;
use crate::wire::reading::{Node, read};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Visitor, routes!(list_offcuts))
        .api(Who::Visitor, routes!(list_for_strip))
        .api(Who::Member, routes!(create_offcut))
        .api(Who::Visitor, routes!(find_offcut))
        .api(Who::Member, routes!(update_offcut))
        .api(Who::Member, routes!(move_offcut))
        .api(Who::Member, routes!(take_offcut))
}

/// A stretch along the untrimmed length that may lie in no strip; millimetres.
#[derive(Serialize, ToSchema)]
struct UnusableBody {
    #[schema(value_type = f64)]
    from: Value,
    #[schema(value_type = f64)]
    to: Value,
    why: String,
}

/// A piece, or `count` equal ones under one tag. Lengths are millimetres.
#[derive(Serialize, ToSchema)]
pub(super) struct OffcutBody {
    id: i64,
    #[schema(example = "A017")]
    tag: String,
    #[schema(example = "hard maple")]
    species: String,
    #[schema(value_type = f64, example = 660.4)]
    length: Value,
    #[schema(value_type = f64, example = 82.55)]
    width: Value,
    #[schema(value_type = f64, example = 22.225)]
    thickness: Value,
    count: u32,
    /// Of these, pieces that are claimed.
    held: u32,
    unusable: Vec<UnusableBody>,
    square_ends: bool,
    straight_edges: bool,
    /// `flat-sawn`, `quarter-sawn` or `unknown`.
    growth_rings: &'static str,
    moisture_percent: Option<f64>,
    bin: Option<i64>,
    parent: Option<i64>,
    note: String,
    /// `in bin`, `claimed`, `cut up` or `gone`.
    state: &'static str,
    version: i64,
}

impl OffcutBody {
    pub(super) fn new(piece: &Offcut) -> OffcutBody {
        OffcutBody {
            id: piece.id.0,
            tag: piece.tag.clone(),
            species: piece.species.clone(),
            length: to_json(piece.length),
            width: to_json(piece.width),
            thickness: to_json(piece.thickness),
            count: piece.count,
            held: piece.held,
            unusable: piece
                .unusable
                .iter()
                .map(|part| UnusableBody {
                    from: to_json(part.from),
                    to: to_json(part.to),
                    why: part.why.clone(),
                })
                .collect(),
            square_ends: piece.square_ends,
            straight_edges: piece.straight_edges,
            growth_rings: piece.growth_rings.word(),
            moisture_percent: piece.moisture_milli.map(|milli| milli as f64 / 1000.0),
            bin: piece.bin.map(|bin| bin.0),
            parent: piece.parent.map(|parent| parent.0),
            note: piece.note.clone(),
            state: piece.state_word(),
            version: piece.version,
        }
    }
}

#[derive(Serialize, ToSchema)]
struct OffcutsBody {
    items: Vec<OffcutBody>,
    /// The cursor of the next page.
    next: Option<String>,
}

/// What a caller says of a piece. Lengths in any form of the calculation contract.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what `draft` reads by hand, so that every flaw is told at once"
)]
struct OffcutDraft {
    #[schema(example = "hard maple")]
    species: String,
    #[schema(value_type = String, example = "26 in")]
    length: Value,
    #[schema(value_type = String, example = "3 1/4 in")]
    width: Value,
    #[schema(value_type = String, example = "7/8 in")]
    thickness: Value,
    /// Defaults to 1.
    count: Option<u32>,
    unusable: Option<Vec<Value>>,
    square_ends: Option<bool>,
    straight_edges: Option<bool>,
    growth_rings: Option<String>,
    moisture_percent: Option<f64>,
    /// The number of the bin.
    bin: i64,
    note: Option<String>,
}

const DRAFT_FIELDS: [&str; 12] = [
    "species",
    "length",
    "width",
    "thickness",
    "count",
    "unusable",
    "square_ends",
    "straight_edges",
    "growth_rings",
    "moisture_percent",
    "bin",
    "note",
];

const RINGS: [(&str, GrowthRings); 3] = [
    ("flat-sawn", GrowthRings::FlatSawn),
    ("quarter-sawn", GrowthRings::QuarterSawn),
    ("unknown", GrowthRings::Unknown),
];

fn draft(node: &Node<'_>) -> Option<NewOffcut> {
    let body = node.object(&DRAFT_FIELDS)?;
    let species = body.required("species", |field| field.text().map(str::to_owned));
    let length = body.required("length", |field| field.positive_length());
    let width = body.required("width", |field| field.positive_length());
    let thickness = body.required("thickness", |field| field.positive_length());
    let count = body.optional("count", |field| field.whole(1..=10_000));
    let unusable = body.optional("unusable", |field| {
        field.list(|part| {
            let part = part.object(&["from", "to", "why"])?;
            let from = part.required("from", |field| field.length());
            let to = part.required("to", |field| field.length());
            let why = part.optional("why", |field| field.text().map(str::to_owned));
            Some(Unusable {
                from: from?,
                to: to?,
                why: why.unwrap_or_default(),
            })
        })
    });
    let square_ends = body.optional("square_ends", |field| field.boolean());
    let straight_edges = body.optional("straight_edges", |field| field.boolean());
    let growth_rings = body.optional("growth_rings", |field| field.one_of(&RINGS));
    let moisture = body.optional("moisture_percent", |field| field.number(0.0..=200.0));
    let bin = body.required("bin", |field| field.whole(1..=i64::MAX));
    let note = body.optional("note", |field| field.text().map(str::to_owned));
    Some(NewOffcut {
        species: species?,
        length: length?,
        width: width?,
        thickness: thickness?,
        count: count
            .and_then(|count| u32::try_from(count).ok())
            .unwrap_or(1),
        unusable: unusable.unwrap_or_default(),
        square_ends: square_ends.unwrap_or(false),
        straight_edges: straight_edges.unwrap_or(false),
        growth_rings: growth_rings.unwrap_or(GrowthRings::Unknown),
        moisture_milli: moisture.map(|percent| (percent * 1000.0).round() as i64),
        bin: BinId(bin?),
        note: note.unwrap_or_default(),
    })
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct Asked {
    /// `free`, `in bin` (the default), `claimed`, `cut up`, `gone` or `all`.
    #[serde(default)]
    show: String,
    /// Part of a tag, species or note.
    #[serde(default)]
    text: String,
    #[serde(default)]
    species: String,
    /// In any form of the calculation contract: `17 1/2 in`.
    #[serde(default)]
    least_length: String,
    #[serde(default)]
    least_width: String,
    #[serde(default)]
    least_thickness: String,
    bin: Option<i64>,
    /// Pieces that came on this day or later, such as `2027-03-01`.
    #[serde(default)]
    added_since: String,
    /// Pieces that came before this day.
    #[serde(default)]
    added_before: String,
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

/// Pieces, the newest first.
#[utoipa::path(get, path = "/api/v1/offcuts", tag = "bins", security((), ("token" = [])), params(Asked),
    responses((status = 200, body = OffcutsBody), (status = 422)))]
async fn list_offcuts(
    State(app): State<App>,
    Query(asked): Query<Asked>,
    paging: Paging,
) -> Result<Paged<OffcutBody>, Error> {
    let mut errors = Vec::new();
    let mut size = |field: &str, text: &str| {
        if text.is_empty() {
            return None;
        }
        Length::parse_positive(text, None)
            .map_err(|error| {
                errors.push(FieldError {
                    pointer: format!("/{field}"),
                    detail: error.to_string(),
                });
            })
            .ok()
    };
    let least_length = size("least_length", &asked.least_length);
    let least_width = size("least_width", &asked.least_width);
    let least_thickness = size("least_thickness", &asked.least_thickness);
    let zone = workshop::get(app.store.read()).await?.time_zone;
    let mut begin = |field: &str, text: &str| {
        if text.is_empty() {
            return None;
        }
        let day = text.parse::<Date>().ok();
        if day.is_none() {
            errors.push(FieldError {
                pointer: format!("/{field}"),
                detail: format!("is {text:?}; must be a day like 2027-03-01"),
            });
        }
        day.map(|day| instant_of(day, 0, &zone))
    };
    let added_since = begin("added_since", &asked.added_since);
    let added_before = begin("added_before", &asked.added_before);
    let show = if asked.show.is_empty() {
        Some(Show::InBin)
    } else {
        Show::from_word(&asked.show)
    };
    let Some(show) = show.filter(|_| errors.is_empty()) else {
        if show.is_none() {
            errors.push(FieldError {
                pointer: "/show".to_owned(),
                detail: format!(
                    "is {:?}; must be free, in bin, claimed, cut up, gone or all",
                    asked.show
                ),
            });
        }
        return Err(Error::Wrong(errors));
    };
    let search = Search {
        show,
        text: Some(asked.text).filter(|text| !text.is_empty()),
        species: Some(asked.species).filter(|text| !text.is_empty()),
        least_length,
        least_width,
        least_thickness,
        bin: asked.bin.map(BinId),
        added_since,
        added_before,
        before: paging.after()?,
        limit: u32::try_from(paging.rows()).unwrap_or(u32::MAX),
    };
    let pieces = offcut::list(app.store.read(), &search).await?;
    Ok(
        paging.page(pieces.iter().map(OffcutBody::new).collect(), |piece| {
            piece.id.to_string()
        }),
    )
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct StripAsked {
    #[param(example = "hard maple")]
    species: String,
    /// Along the grain, in any form of the calculation contract.
    #[param(example = "17 1/2 in")]
    length: String,
    /// How wide the strip is ripped.
    #[param(example = "1 5/8 in")]
    rip: String,
    /// How thick the piece must be at least.
    #[param(example = "3/4 in")]
    thickness: String,
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

/// A free piece, and what it could give.
#[derive(Serialize, ToSchema)]
struct GivingBody {
    /// Strips that its free copies surely give, cut in a plain way; a match may find more.
    #[schema(example = 2)]
    strips: usize,
    #[serde(flatten)]
    piece: OffcutBody,
}

#[derive(Serialize, ToSchema)]
struct GivingsBody {
    items: Vec<GivingBody>,
    /// The cursor of the next page.
    next: Option<String>,
}

/// Free pieces that could give a strip, those that give most first.
#[utoipa::path(get, path = "/api/v1/offcuts/for-strip", tag = "bins", security((), ("token" = [])), params(StripAsked),
    responses((status = 200, body = GivingsBody), (status = 422)))]
async fn list_for_strip(
    State(app): State<App>,
    Query(asked): Query<StripAsked>,
    paging: Paging,
) -> Result<Paged<GivingBody>, Error> {
    let mut errors = Vec::new();
    let woods = Woods::load(app.store.read()).await?;
    if let Some(detail) = woods.flaw(&asked.species) {
        errors.push(FieldError {
            pointer: "/species".to_owned(),
            detail,
        });
    }
    let mut size = |field: &str, text: &str| {
        Length::parse_positive(text, None)
            .map_err(|error| {
                errors.push(FieldError {
                    pointer: format!("/{field}"),
                    detail: error.to_string(),
                });
            })
            .ok()
    };
    let length = size("length", &asked.length);
    let rip = size("rip", &asked.rip);
    let thickness = size("thickness", &asked.thickness);
    let (Some(length), Some(rip), Some(thickness), true) =
        (length, rip, thickness, errors.is_empty())
    else {
        return Err(Error::Wrong(errors));
    };
    let strip = StripWanted {
        species: asked.species,
        length,
        section: Section { rip, thickness },
    };
    let mut db = app.store.read().acquire().await?;
    let after = paging.after::<Place>()?;
    let most = paging.limit as usize + 1;
    let found = pieces_for_strip(&mut db, &strip, after, most).await?;
    Ok(paging
        .page(found, |giving| giving.place().to_string())
        .map(|giving| GivingBody {
            strips: giving.strips,
            piece: OffcutBody::new(&giving.piece),
        }))
}

async fn found(app: &App, id: OffcutId) -> Result<Offcut, Error> {
    offcut::find(app.store.read(), id)
        .await?
        .ok_or_else(|| Error::NotFound(format!("no piece with the number {id}")))
}

pub(super) async fn answer(app: &App, id: OffcutId) -> Result<Response, Error> {
    let piece = found(app, id).await?;
    Ok((Version(piece.version).etag(), Json(OffcutBody::new(&piece))).into_response())
}

/// Put a piece into a bin; it gets a tag.
#[utoipa::path(post, path = "/api/v1/offcuts", tag = "bins", security(("token" = [])), request_body = OffcutDraft,
    responses((status = 201, body = OffcutBody),
        (status = 422)))]
async fn create_offcut(
    State(app): State<App>,
    member: Member,
    Json(body): Json<Value>,
) -> Result<Response, Error> {
    let piece = read_draft(&body)?;
    let mut db = app.store.begin().await?;
    let id = use_case::add(&mut db, app.by(&member.0), &piece, None)
        .await
        .map_err(failed)?;
    db.commit().await?;
    let made = found(&app, id).await?;
    Ok((
        StatusCode::CREATED,
        [(header::LOCATION, format!("/api/v1/offcuts/{id}"))],
        Version(made.version).etag(),
        Json(OffcutBody::new(&made)),
    )
        .into_response())
}

fn read_draft(body: &Value) -> Result<NewOffcut, Error> {
    read(body.to_string().as_bytes(), |node| draft(&node)).map_err(Error::Calculation)
}

fn failed(error: OffcutError) -> Error {
    crate::web::pages::stock_error(error)
}

/// One piece.
#[utoipa::path(get, path = "/api/v1/offcuts/{id}", tag = "bins", security((), ("token" = [])),
    params(("id" = i64, Path, description = "The number of the piece")),
    responses((status = 200, body = OffcutBody), (status = 404)))]
async fn find_offcut(State(app): State<App>, Path(id): Path<OffcutId>) -> Result<Response, Error> {
    answer(&app, id).await
}

/// Correct a piece; the whole of it is written.
#[utoipa::path(put, path = "/api/v1/offcuts/{id}", tag = "bins", security(("token" = [])), request_body = OffcutDraft,
    params(("id" = i64, Path, description = "The number of the piece"),
        ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = OffcutBody), (status = 404),
        (status = 409), (status = 422)))]
async fn update_offcut(
    State(app): State<App>,
    member: Member,
    Path(id): Path<OffcutId>,
    IfMatch(Version(version)): IfMatch,
    Json(body): Json<Value>,
) -> Result<Response, Error> {
    let piece = read_draft(&body)?;
    let by = app.by(&member.0);
    let mut db = app.store.begin().await?;
    use_case::edit(&mut db, by, id, version, &piece, "", BrokenClaims::Refuse)
        .await
        .map_err(failed)?;
    db.commit().await?;
    answer(&app, id).await
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Move {
    /// The number of the bin.
    #[schema(example = 2)]
    bin: i64,
}

/// Note that a piece lies in another bin now.
#[utoipa::path(post, path = "/api/v1/offcuts/{id}/move", tag = "bins", security(("token" = [])), request_body = Move,
    params(("id" = i64, Path, description = "The number of the piece"),
        ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = OffcutBody), (status = 404), (status = 422)))]
async fn move_offcut(
    State(app): State<App>,
    member: Member,
    Path(id): Path<OffcutId>,
    IfMatch(Version(version)): IfMatch,
    Json(to): Json<Move>,
) -> Result<Response, Error> {
    let by = app.by(&member.0);
    let mut db = app.store.begin().await?;
    use_case::move_to(&mut db, by, id, version, BinId(to.bin))
        .await
        .map_err(failed)?;
    db.commit().await?;
    answer(&app, id).await
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct TakeAway {
    /// How many of the equal pieces are used up or gone.
    #[schema(example = 1)]
    pieces: u32,
    #[serde(default)]
    why: String,
}

/// Note that pieces are used up or gone.
#[utoipa::path(post, path = "/api/v1/offcuts/{id}/used-up", tag = "bins", security(("token" = [])),
    request_body = TakeAway, params(("id" = i64, Path, description = "The number of the piece")),
    responses((status = 200, body = OffcutBody), (status = 404),
        (status = 409), (status = 422)))]
async fn take_offcut(
    State(app): State<App>,
    member: Member,
    Path(id): Path<OffcutId>,
    Json(what): Json<TakeAway>,
) -> Result<Response, Error> {
    let by = app.by(&member.0);
    let mut db = app.store.begin().await?;
    use_case::take_away(
        &mut db,
        by,
        id,
        what.pieces,
        &what.why,
        BrokenClaims::Refuse,
    )
    .await
    .map_err(failed)?;
    db.commit().await?;
    answer(&app, id).await
}
