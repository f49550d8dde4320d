//! Choosing between designs: arrangements that the bins can give, two designs side by side, what another design would ask.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use super::project::{answered, stored};
use super::work::print_needs;
use crate::app::arrange::Offer;
use crate::app::{App, advice};
use crate::store::ProjectId;
use crate::units::Volume;
use crate::web::api::read;
use crate::web::api::shapes::{Design, Project, Strip};
use crate::web::pages::projects::arrangements::{found, take_arrangement, title};
use crate::web::pages::projects::{Opened, own, stop_match};
use crate::web::{Error, IfMatch, Json, JsonBody, Member, Path, Query, Routes, Version, Who};
use crate::wire::design::{arrangement, design, field_errors, print_arrangement};
use crate::wire::kept_match::KeptMatch;
use crate::wire::length::to_json;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api_solve(Who::Member, routes!(list_arrangements))
        .api(Who::Owner, routes!(take))
        .api(Who::Member, routes!(compare))
        .api(Who::Owner, routes!(try_design))
        .api(Who::Owner, routes!(stop))
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct Seed {
    /// Another seed scatters anew.
    #[serde(default)]
    #[param(example = 0)]
    seed: u64,
}

/// An arrangement with what the bins give of it.
#[derive(Serialize, ToSchema)]
struct OfferBody {
    #[schema(example = "Two woods in turns")]
    title: &'static str,
    /// As a design holds it and as it can be taken.
    #[schema(value_type = Vec<Strip>)]
    arrangement: Value,
    wanted: u32,
    /// Strips that the bins give, of those wanted.
    covered: u32,
    /// Pieces that are cut.
    touched: u32,
    waste_mm3: f64,
    symmetric: bool,
    equal_neighbours: usize,
    /// From 0 to 1: how much neighbours differ in lightness.
    contrast: f64,
    /// Nothing better is possible for this arrangement.
    proven: bool,
}

impl OfferBody {
    fn new(offer: &Offer) -> OfferBody {
        OfferBody {
            title: title(offer.order),
            arrangement: print_arrangement(&offer.arrangement),
            wanted: offer.wanted,
            covered: offer.covered,
            touched: offer.touched,
            waste_mm3: offer.waste.mm3(),
            symmetric: offer.look.symmetric,
            equal_neighbours: offer.look.equal_neighbours,
            contrast: offer.look.contrast,
            proven: offer.proven,
        }
    }
}

#[derive(Serialize, ToSchema)]
struct OffersBody {
    items: Vec<OfferBody>,
}

/// Arrangements of the project's strips that the bins can give; a kind without strips has none.
#[utoipa::path(get, path = "/api/v1/projects/{id}/arrangements", tag = "projects", security(("token" = [])),
    params(Seed, ("id" = i64, Path, example = 1)), responses((status = 200, body = OffersBody), (status = 409)))]
async fn list_arrangements(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
    Query(Seed { seed }): Query<Seed>,
) -> Result<Json<OffersBody>, Error> {
    let offers = found(&app, id, seed).await?;
    Ok(Json(OffersBody {
        items: offers.iter().map(OfferBody::new).collect(),
    }))
}

#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what is read by hand, so that every flaw is told at once"
)]
struct Taken {
    #[schema(example = json!([{"species": "hard maple", "width": "3/4 in"}, {"species": "black walnut", "width": "3/4 in"},
        {"species": "hard maple", "width": "3/4 in"}]))]
    arrangement: Vec<Strip>,
}

/// Put an arrangement into the project's design.
#[utoipa::path(post, path = "/api/v1/projects/{id}/arrangements", tag = "projects", security(("token" = [])), request_body = Taken,
    params(("id" = i64, Path, example = 1), ("If-Match" = String, Header, description = "The ETag of the project that was read")),
    responses((status = 200, body = Project, description = "The project")))]
async fn take(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    IfMatch(Version(version)): IfMatch,
    body: JsonBody,
) -> Result<Response, Error> {
    let taken = read(&body, |node| {
        let body = node.object(&["arrangement"])?;
        body.required("arrangement", |field| arrangement(&field))
    })?;
    take_arrangement(&app, &member, id, version, taken).await?;
    Ok(answered(&stored(&app, id).await?))
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct Two {
    /// The number of a project.
    #[param(example = 1)]
    left: i64,
    /// The number of another.
    #[param(example = 2)]
    right: i64,
}

/// What a design asks, in the figures by which designs are compared. Lengths are millimetres.
#[derive(Serialize, ToSchema)]
struct SideBody {
    project: i64,
    name: String,
    #[schema(example = "striped-board")]
    kind: &'static str,
    #[schema(value_type = Object, example = json!({"length": 457.2, "width": 254.0, "thickness": 38.1}))]
    finished: Value,
    /// Why it cannot be made as the workshop works now; then there are no figures.
    flaws: Vec<String>,
    figures: Option<FiguresBody>,
}

#[derive(Serialize, ToSchema)]
struct FiguresBody {
    weight_g: f64,
    rough_board_feet: f64,
    /// Strips that the kept match covers, of those wanted; absent without a match.
    covered: Option<u32>,
    wanted: Option<u32>,
    net_board_feet: Option<f64>,
    bin_wood: f64,
    bought_wood: f64,
    glue_g: f64,
    clamps_at_once: u32,
    glue_ups: usize,
    /// Steps at which somebody must be, together.
    minutes_at_work: i64,
    minutes_from_first_coat_to_water: i64,
    warnings: Vec<String>,
}

#[derive(Serialize, ToSchema)]
struct SidesBody {
    left: SideBody,
    right: SideBody,
}

/// Two designs side by side.
#[utoipa::path(get, path = "/api/v1/projects/compare", tag = "projects", security(("token" = [])), params(Two),
    responses((status = 200, body = SidesBody), (status = 404)))]
async fn compare(
    State(app): State<App>,
    Query(Two { left, right }): Query<Two>,
) -> Result<Json<SidesBody>, Error> {
    Ok(Json(SidesBody {
        left: side(&app, ProjectId(left)).await?,
        right: side(&app, ProjectId(right)).await?,
    }))
}

async fn side(app: &App, id: ProjectId) -> Result<SideBody, Error> {
    let opened = Opened::find(app, id).await?;
    let finished = opened.design.finished(&opened.basis.practice);
    let mut side = SideBody {
        project: id.0,
        name: opened.project.about.name.clone(),
        kind: opened.design.kind().slug(),
        finished: json!({
            "length": to_json(finished.length),
            "width": to_json(finished.width),
            "thickness": to_json(finished.thickness),
        }),
        flaws: Vec::new(),
        figures: None,
    };
    let needs = match opened.needs() {
        Ok(needs) => needs,
        Err(flaws) => {
            let errors = field_errors("", &flaws).into_iter();
            side.flaws = errors
                .map(|flaw| format!("{} {}", flaw.pointer, flaw.detail))
                .collect();
            return Ok(side);
        }
    };
    let mut db = app.store.read().acquire().await?;
    let of = advice::of_project(
        &mut db,
        &opened.project,
        &needs,
        &opened.basis,
        &opened.settings,
    )
    .await?;
    let kept = opened
        .project
        .current_match()
        .and_then(|found| KeptMatch::parse(&found.answer).ok());
    let attended = needs.steps.iter().filter(|step| step.is_attended());
    let clamps = needs.panels.iter().map(|panel| panel.clamp_count());
    side.figures = Some(FiguresBody {
        weight_g: needs.weight.grams(),
        rough_board_feet: needs.rough_board_feet(),
        covered: kept.as_ref().map(|kept| kept.outcome.covered),
        wanted: kept.as_ref().map(KeptMatch::wanted),
        net_board_feet: kept
            .as_ref()
            .map(|kept| Volume::from_mm3(kept.outcome.net_wood.mm3()).board_feet()),
        bin_wood: of.advice.cost.bin_wood.units(),
        bought_wood: of.advice.cost.bought_wood.units(),
        glue_g: of.advice.glue.amount.grams(),
        clamps_at_once: clamps.max().unwrap_or(0),
        glue_ups: needs.panels.len(),
        minutes_at_work: attended.map(|step| step.minutes.0).sum(),
        minutes_from_first_coat_to_water: of.advice.finish.plan.ready.0,
        warnings: needs
            .warnings
            .iter()
            .map(|warning| warning.about.to_string())
            .collect(),
    });
    Ok(side)
}

#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what is read by hand, so that every flaw is told at once"
)]
#[schema(example = json!({"design": {"kind": "striped-board", "length": "17 in", "width": "2 1/4 in",
    "thickness": "1 1/2 in", "surface": "edge grain", "strips": [{"species": "hard maple", "width": "3/4 in"},
    {"species": "black walnut", "width": "3/4 in"}, {"species": "hard maple", "width": "3/4 in"}]}}))]
struct Tried {
    design: Design,
}

/// What another design would ask of this project, as `needs` says it. Nothing is stored.
#[utoipa::path(post, path = "/api/v1/projects/{id}/needs", tag = "projects", security(("token" = [])), request_body = Tried,
    params(("id" = i64, Path, example = 1)), responses((status = 200, body = Object)))]
async fn try_design(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    body: JsonBody,
) -> Result<Json<Value>, Error> {
    own(&app, &member, id).await?;
    let tried = read(&body, |node| {
        let body = node.object(&["design"])?;
        body.required("design", |field| design(&field))
    })?;
    let opened = Opened::find(&app, id).await?;
    let needs = opened
        .basis
        .needs(&tried)
        .map_err(|flaws| Error::Wrong(field_errors("/design", &flaws)))?;
    Ok(Json(print_needs(&needs)))
}

/// End a match that somebody looks for on the project's page; the best so far is kept. A match that a script asked for ends
/// when the script hangs up.
#[utoipa::path(post, path = "/api/v1/projects/{id}/match/stop", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path, example = 1)), responses((status = 204, description = "None runs now")))]
async fn stop(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<StatusCode, Error> {
    stop_match(&app, &member, id).await?;
    Ok(StatusCode::NO_CONTENT)
}
