//! Match, claims and cuts of a project.

use std::time::Duration;

use axum::extract::State;
use axum::http::StatusCode;
use serde::Deserialize;
use serde_json::{Value, json};
use utoipa_axum::routes;

use super::body::day;
use crate::app::App;
use crate::app::claim as claims;
use crate::app::cut::{self as cuts, Remainder};
use crate::app::matching::{self as matches, MatchError};
use crate::app::running_match::reason;
use crate::store::claim::{self, Claim};
use crate::store::layout::{self, Source};
use crate::store::{BinId, ClaimId, LayoutId, ProjectId};
use crate::web::api::shapes::{Claims, CutAnswer, CutDone, Cuts, LastDay, MatchAsked};
use crate::web::extract::RawBody;
use crate::web::pages::projects::{by, claim_error, cut_error, own, unknown_project};
use crate::web::{Error, Json, Member, Path, Query, Routes, Who};
use crate::wire::kept_match::{KeptLayout, KeptMatch};
use crate::wire::length::to_json;
use crate::wire::matching::{LayoutBody, Response as MatchBody};
use crate::wire::{self, Node};

/// How long a match may take if the request does not say.
const TIME: Duration = Duration::from_secs(10);

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(find_match))
        .api_solve(Who::Owner, routes!(match_project))
        .api(Who::Member, routes!(list_claims))
        .api(Who::Owner, routes!(claim_match))
        .api(Who::Owner, routes!(extend_claims))
        .api(Who::Owner, routes!(let_go_claim))
        .api(Who::Member, routes!(list_cuts))
        .api(Who::Owner, routes!(cut_layout))
        .api(Who::Owner, routes!(drop_board))
}

pub(super) fn match_error(error: MatchError) -> Error {
    match error {
        MatchError::Unknown => unknown_project(),
        MatchError::Busy => Error::Busy,
        MatchError::Store(refusal) => refusal.into(),
        MatchError::Unreadable(error) => Error::Internal(error.into()),
        other => Error::Conflict(reason(&other)),
    }
}

/// The match that waits to be claimed; its strips are named `P7-s1`, its pieces by their tags.
#[utoipa::path(get, path = "/api/v1/projects/{id}/match", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = MatchBody), (status = 404)))]
async fn find_match(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Json<MatchBody>, Error> {
    let project = crate::store::project::find(app.store.read(), id)
        .await?
        .ok_or_else(unknown_project)?;
    let found = project.current_match().ok_or_else(|| {
        Error::NotFound("The project has no match for its design as it stands.".into())
    })?;
    let kept = KeptMatch::parse(&found.answer).map_err(|error| Error::Internal(error.into()))?;
    Ok(Json(kept.response()))
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct MatchAsk {
    seconds: Option<f64>,
    /// Layouts of the match before whose pieces are still free stay.
    #[serde(default)]
    keep_rest: bool,
}

/// Find the best match for what the project still wants, and keep it until it is claimed.
#[utoipa::path(post, path = "/api/v1/projects/{id}/match", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)), request_body(content = MatchAsked, example = json!({"seconds": 2.0, "keep_rest": false})),
    responses((status = 200, body = MatchBody),
        (status = 404), (status = 409), (status = 422)))]
async fn match_project(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    Json(ask): Json<MatchAsk>,
) -> Result<Json<MatchBody>, Error> {
    own(&app, &member, id).await?;
    let seconds = ask.seconds.unwrap_or(TIME.as_secs_f64());
    if !(0.0..=300.0).contains(&seconds) {
        return Err(Error::Wrong(vec![wire::FieldError {
            pointer: "/seconds".to_owned(),
            detail: format!("is {seconds}; must be from 0 to 300"),
        }]));
    }
    let time = Duration::from_secs_f64(seconds);
    let by = by(&app, &member);
    let kept = if ask.keep_rest {
        matches::find_keeping_rest(&app, by, id, time, |_| ()).await
    } else {
        matches::find(&app, by, id, time, |_| ()).await
    };
    Ok(Json(kept.map_err(match_error)?.response()))
}

fn print_claim(claim: &Claim) -> Value {
    json!({
        "id": claim.id,
        "tag": claim.tag,
        "offcut": claim.offcut,
        "pieces": claim.pieces,
        "pieces_cut": claim.pieces_cut,
        "state": claim.state.word(),
        "last_day": claim.last_day.to_string(),
        "version": claim.version,
    })
}

async fn claims_of(app: &App, id: ProjectId) -> Result<Json<Value>, Error> {
    let claims = claim::list_of_project(app.store.read(), id).await?;
    let items: Vec<Value> = claims.iter().map(print_claim).collect();
    Ok(Json(json!({"items": items})))
}

/// The project's claims, the oldest first.
#[utoipa::path(get, path = "/api/v1/projects/{id}/claims", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = Claims)))]
async fn list_claims(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Json<Value>, Error> {
    claims_of(&app, id).await
}

/// Claim everything that the match uses, or nothing: 409 names the pieces that somebody took.
#[utoipa::path(post, path = "/api/v1/projects/{id}/claims", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 201, body = Claims),
        (status = 404), (status = 409)))]
async fn claim_match(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<(StatusCode, Json<Value>), Error> {
    let project = own(&app, &member, id).await?;
    let mut db = app.store.begin().await?;
    claims::claim_match(&mut db, by(&app, &member), project.member, id)
        .await
        .map_err(claim_error)?;
    db.commit().await?;
    Ok((StatusCode::CREATED, claims_of(&app, id).await?))
}

/// Hold everything that is claimed until another day.
#[utoipa::path(patch, path = "/api/v1/projects/{id}/claims", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)), request_body(content = LastDay, example = json!({"last_day": "2027-03-20"})),
    responses((status = 200, body = Claims),
        (status = 404), (status = 409), (status = 422)))]
async fn extend_claims(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    RawBody(body): RawBody,
) -> Result<Json<Value>, Error> {
    own(&app, &member, id).await?;
    let last_day = wire::read(&body, |body| {
        body.object(&["last_day"])?
            .required("last_day", |field| day(&field))
    })
    .map_err(Error::Calculation)?;
    let mut db = app.store.begin().await?;
    claims::extend_all(&mut db, by(&app, &member), id, last_day)
        .await
        .map_err(claim_error)?;
    db.commit().await?;
    claims_of(&app, id).await
}

#[derive(Deserialize)]
struct PutBack {
    bin: Option<BinId>,
}

/// Let a piece go uncut; `?bin=3` puts it into another bin.
#[utoipa::path(delete, path = "/api/v1/projects/{id}/claims/{claim}", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path), ("claim" = i64, Path), ("bin" = Option<i64>, Query)),
    responses((status = 204), (status = 409), (status = 412)))]
async fn let_go_claim(
    State(app): State<App>,
    member: Member,
    Path((id, claim_id)): Path<(ProjectId, ClaimId)>,
    Query(PutBack { bin }): Query<PutBack>,
) -> Result<StatusCode, Error> {
    own(&app, &member, id).await?;
    claim::find(app.store.read(), claim_id)
        .await?
        .filter(|claim| claim.project == id)
        .ok_or_else(|| Error::NotFound("There is no such claim.".into()))?;
    let mut db = app.store.begin().await?;
    claims::put_back(&mut db, by(&app, &member), claim_id, bin)
        .await
        .map_err(claim_error)?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}

fn print_remainder(remainder: &Remainder) -> Value {
    json!({
        "length": to_json(remainder.length),
        "width": to_json(remainder.width),
        "thickness": to_json(remainder.thickness),
        "count": remainder.count,
        "square_ends": remainder.square_ends,
        "straight_edges": remainder.straight_edges,
    })
}

/// Every layout of the project in the order of the cuts, with the remainders that it should leave of each copy.
#[utoipa::path(get, path = "/api/v1/projects/{id}/cuts", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = Cuts)))]
async fn list_cuts(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Json<Value>, Error> {
    let mut items = Vec::new();
    for stored in layout::list_of_project(app.store.read(), id).await? {
        let kept = KeptLayout::parse(&stored.cut).map_err(|error| Error::Internal(error.into()))?;
        let remainders = cuts::expected_remainders(&kept, BinId(0));
        let (tag, bought) = match &stored.source {
            Source::Claimed { tag, .. } => (Some(tag), None),
            Source::Bought(name) => (None, Some(name)),
        };
        items.push(json!({
            "id": stored.id,
            "tag": tag,
            "bought": bought,
            "copies": stored.copies,
            "copies_cut": stored.copies_cut,
            "layout": LayoutBody::new(&kept.layout),
            "remainders": remainders.iter().map(print_remainder).collect::<Vec<_>>(),
        }));
    }
    Ok(Json(json!({"items": items})))
}

fn remainder(node: &Node<'_>) -> Option<Remainder> {
    let fields = node.object(&[
        "length",
        "width",
        "thickness",
        "count",
        "square_ends",
        "straight_edges",
        "bin",
        "note",
    ])?;
    let length = fields.required("length", |field| field.positive_length());
    let width = fields.required("width", |field| field.positive_length());
    let thickness = fields.required("thickness", |field| field.positive_length());
    let bin = fields.required("bin", |field| field.whole(1..=i64::MAX));
    let count = match fields.field("count") {
        Some(field) => field.whole(1..=1000),
        None => Some(1),
    };
    let flag = |name: &str| match fields.field(name) {
        Some(field) => field.boolean(),
        None => Some(false),
    };
    let (square_ends, straight_edges) = (flag("square_ends"), flag("straight_edges"));
    let note = match fields.field("note") {
        Some(field) => field.text().map(str::to_owned),
        None => Some(String::new()),
    };
    Some(Remainder {
        length: length?,
        width: width?,
        thickness: thickness?,
        count: u32::try_from(count?).ok()?,
        square_ends: square_ends?,
        straight_edges: straight_edges?,
        bin: BinId(bin?),
        note: note?,
    })
}

/// Book copies of a layout as cut, with what went back to bins of all of them.
#[utoipa::path(post, path = "/api/v1/projects/{id}/cuts/{layout}", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path), ("layout" = i64, Path)),
    request_body(content = CutDone, example = json!({"copies": 1, "remainders": [{"length": "20 in", "width": "2 in",
        "thickness": "7/8 in", "bin": 1}]})),
    responses((status = 200, body = CutAnswer, example = json!({"offcut": 12, "tags": ["A061"], "strips_mm3": 1_000_000, "waste_mm3": 50_000})), (status = 404),
        (status = 409), (status = 422)))]
async fn cut_layout(
    State(app): State<App>,
    member: Member,
    Path((id, layout_id)): Path<(ProjectId, LayoutId)>,
    RawBody(body): RawBody,
) -> Result<Json<Value>, Error> {
    own(&app, &member, id).await?;
    layout::find(app.store.read(), layout_id)
        .await?
        .filter(|layout| layout.project == id)
        .ok_or_else(|| Error::NotFound("There is no such cut in this project.".into()))?;
    let (copies, remainders) = wire::read(&body, |body| {
        let fields = body.object(&["copies", "remainders"])?;
        let copies = match fields.field("copies") {
            Some(field) => field.whole(1..=1_000_000),
            None => Some(1),
        };
        let remainders = fields.required("remainders", |field| {
            field.list_of_at_most(100, |item| remainder(&item))
        });
        Some((u32::try_from(copies?).ok()?, remainders?))
    })
    .map_err(Error::Calculation)?;
    let mut db = app.store.begin().await?;
    let done = cuts::cut(&mut db, by(&app, &member), layout_id, copies, &remainders)
        .await
        .map_err(cut_error)?;
    db.commit().await?;
    let tags: Vec<&str> = done
        .remainders
        .iter()
        .map(|(_, tag)| tag.as_str())
        .collect();
    Ok(Json(json!({
        "offcut": done.offcut,
        "tags": tags,
        "strips_mm3": done.strips_mm3,
        "waste_mm3": done.waste_mm3,
    })))
}

/// Forget a board that would have been bought.
#[utoipa::path(delete, path = "/api/v1/projects/{id}/boards/{layout}", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path), ("layout" = i64, Path)),
    responses((status = 204), (status = 404)))]
async fn drop_board(
    State(app): State<App>,
    member: Member,
    Path((id, layout_id)): Path<(ProjectId, LayoutId)>,
) -> Result<StatusCode, Error> {
    own(&app, &member, id).await?;
    layout::find(app.store.read(), layout_id)
        .await?
        .filter(|layout| layout.project == id)
        .ok_or_else(|| Error::NotFound("There is no such board in this project.".into()))?;
    let mut db = app.store.begin().await?;
    claims::drop_board(&mut db, by(&app, &member), layout_id)
        .await
        .map_err(claim_error)?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}
