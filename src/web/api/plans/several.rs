//! Plans that wait to be accepted, of one project or of several.

use std::time::Duration;

use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse as _, Response};
use jiff::Timestamp;
use serde_json::{Value, json};
use utoipa_axum::routes;

use super::body::{BookingBody, BookingsBody, PlanBody, WhysBody, of_booking};
use crate::app::plan::{self, PlanAnswer};
use crate::app::planning::instant;
use crate::app::{App, why};
use crate::calc::schedule::Progress;
use crate::store::{By, MemberId, ProjectId, ProposalId, booking, project, resource};
use crate::web::extract::RawBody;
use crate::web::local_time::LocalTime;
use crate::web::pages::plans::trouble::plan_error;
use crate::web::pages::projects::{by, own};
use crate::web::{
    Error, Json, Member, Path, Routes, Shell, Steward, Who, stream_work, wants_progress,
};
use crate::wire::{self, Node, Object, Problem};

/// How long is looked for, if nothing else is said; what is proven ends sooner.
const TIME: Duration = Duration::from_secs(6);

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api_solve(Who::Steward, routes!(propose_plan))
        .api(Who::Member, routes!(find_plan))
        .api(Who::Member, routes!(explain_plan))
        .api(Who::Owner, routes!(accept_plan))
}

/// What is to be planned.
pub(super) struct Wanted {
    pub projects: Vec<ProjectId>,
    pub time: Duration,
}

fn seconds(node: Option<Node<'_>>) -> Option<Duration> {
    let seconds = match node {
        Some(node) => node.number(0.0..=300.0)?,
        None => TIME.as_secs_f64(),
    };
    Some(Duration::from_secs_f64(seconds))
}

/// The projects that are named, and how long to look.
pub(super) fn wanted(fields: &Object<'_>) -> Option<Wanted> {
    let projects = fields.required("projects", |field| {
        let list = field.list_of_at_most(300, |item| item.whole(1..=i64::MAX).map(ProjectId))?;
        if list.is_empty() {
            return field.refuse("is empty; must name at least one project");
        }
        Some(list)
    });
    let time = seconds(fields.field("seconds"));
    Some(Wanted {
        projects: projects?,
        time: time?,
    })
}

/// A body that says how long to look, or nothing.
pub(super) fn seconds_alone(body: &[u8]) -> Result<Duration, Error> {
    if body.is_empty() {
        return Ok(TIME);
    }
    wire::read(body, |body| {
        seconds(body.object(&["seconds"])?.field("seconds"))
    })
    .map_err(Error::Calculation)
}

fn progress_body(progress: &Progress) -> Value {
    let decimal = |text: String| text.parse::<f64>().unwrap_or_default();
    json!({
        "late_minutes": decimal(progress.tardiness.to_string()),
        "late_minutes_at_least": decimal(progress.bound.to_string()),
        "finish_at": instant(progress.finish),
    })
}

async fn print(
    app: &App,
    id: ProposalId,
    answer: &PlanAnswer,
    accepted_at: Option<Timestamp>,
) -> Result<PlanBody, Error> {
    let mut db = app.store.read().acquire().await?;
    let resources = resource::list(&mut *db).await?;
    let mut projects = Vec::with_capacity(answer.ready.len());
    for ready in &answer.ready {
        projects.extend(project::find(&mut *db, ready.project).await?);
    }
    PlanBody::new(id, answer, accepted_at, &projects, &resources)
}

/// Looks for a plan and answers with it, or streams how the search goes.
pub(super) async fn proposed(
    app: &App,
    by: By,
    member: MemberId,
    wanted: Wanted,
    headers: &HeaderMap,
) -> Result<Response, Error> {
    let Wanted { projects, time } = wanted;
    if wants_progress(headers) {
        let app = app.clone();
        return Ok(stream_work(async move |teller| {
            let told = move |progress: Progress| teller.tell(progress_body(&progress));
            let (id, answer) = plan::propose(&app, by, member, &projects, time, told)
                .await
                .map_err(plan_error)?;
            let body = print(&app, id, &answer, None).await?;
            serde_json::to_value(body).map_err(|error| Error::Internal(error.into()))
        }));
    }
    let (id, answer) = plan::propose(app, by, member, &projects, time, |_| ())
        .await
        .map_err(plan_error)?;
    let body = print(app, id, &answer, None).await?;
    let mut response = (StatusCode::CREATED, Json(body)).into_response();
    if let Ok(location) = HeaderValue::from_str(&format!("/api/v1/plans/{id}")) {
        response.headers_mut().insert(header::LOCATION, location);
    }
    Ok(response)
}

/// Plan several projects together: due dates weighed against each other, panels in shared clamps where that is better.
///
/// What runs, was done or is pinned stays, and other bookings move as little as the better dates allow. Nothing is booked until the plan is
/// accepted. With `Accept: text/event-stream` the answer is a stream of `progress` events and one `answer` or `problem`; closing the
/// connection stops the solve.
#[utoipa::path(post, path = "/api/v1/plans", tag = "plans", security(("token" = [])),
    request_body(content = Object, example = json!({"projects": [7, 9], "seconds": 5.0})),
    responses((status = 201, body = PlanBody),
        (status = 404), (status = 409, body = Problem, description = "There is no way to plan them, and why"),
        (status = 422)))]
async fn propose_plan(
    State(app): State<App>,
    Steward(caller): Steward,
    headers: HeaderMap,
    RawBody(body): RawBody,
) -> Result<Response, Error> {
    let wanted = wire::read(&body, |body| {
        wanted(&body.object(&["projects", "seconds"])?)
    })
    .map_err(Error::Calculation)?;
    let by = By {
        member: Some(caller.member.id),
        at: app.clock.now(),
    };
    proposed(&app, by, caller.member.id, wanted, &headers).await
}

/// A kept plan, if the caller asked for it or is a steward.
async fn kept(
    app: &App,
    member: &Member,
    id: ProposalId,
) -> Result<(PlanAnswer, Option<Timestamp>), Error> {
    let mut db = app.store.read().acquire().await?;
    let (answer, asked_by, accepted_at) = plan::find(&mut db, id).await.map_err(plan_error)?;
    member.require_owner(asked_by)?;
    Ok((answer, accepted_at))
}

/// A plan that waits to be accepted, or was. It is kept for a week.
#[utoipa::path(get, path = "/api/v1/plans/{id}", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = PlanBody), (status = 404)))]
async fn find_plan(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProposalId>,
) -> Result<Json<PlanBody>, Error> {
    let (answer, accepted_at) = kept(&app, &member, id).await?;
    Ok(Json(print(&app, id, &answer, accepted_at).await?))
}

/// Why a step of a plan is not earlier: what it waits for, which closure, whose clamps.
#[utoipa::path(get, path = "/api/v1/plans/{id}/projects/{project}/steps/{step}/reasons", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path), ("project" = i64, Path), ("step" = String, Path, description = "The step's key within its project", example = "glue-up")),
    responses((status = 200, body = WhysBody),
        (status = 404), (status = 409)))]
async fn explain_plan(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path((id, of, step)): Path<(ProposalId, ProjectId, String)>,
) -> Result<Json<WhysBody>, Error> {
    let (answer, _) = kept(&app, &member, id).await?;
    let is_there = |known: &plan::PlannedStep| known.project == of && known.step == step;
    if !answer.steps.iter().any(is_there) {
        return Err(Error::NotFound(format!(
            "The plan has no step {step:?} of project {of}."
        )));
    }
    let time = LocalTime::load(&app).await?;
    let mut db = app.store.read().acquire().await?;
    let reasons = why::of_proposal(&mut db, by(&app, &member), id, of, &step)
        .await
        .map_err(plan_error)?;
    Ok(Json(WhysBody::new(&reasons, of, shell.lengths(), &time)))
}

/// Book all of a plan or nothing: it fails whole if somebody booked in between, or what it was made for has changed.
#[utoipa::path(post, path = "/api/v1/plans/{id}/accept", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = BookingsBody),
        (status = 404), (status = 409)))]
async fn accept_plan(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProposalId>,
) -> Result<Json<BookingsBody>, Error> {
    let (answer, _) = kept(&app, &member, id).await?;
    for ready in &answer.ready {
        own(&app, &member, ready.project).await?;
    }
    let mut db = app.store.begin().await?;
    let projects = plan::accept(&mut db, by(&app, &member), id)
        .await
        .map_err(plan_error)?;
    db.commit().await?;
    let mut db = app.store.read().acquire().await?;
    let resources = resource::list(&mut *db).await?;
    let mut items = Vec::new();
    for of in projects {
        for known in booking::list_of_project(&mut *db, of).await? {
            let uses = booking::list_uses(&mut *db, known.id).await?;
            let uses = of_booking(of, known.id, uses);
            items.push(BookingBody::new(&known, &uses, &resources));
        }
    }
    Ok(Json(BookingsBody { items }))
}
