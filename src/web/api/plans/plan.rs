//! Plans: proposed, looked at, booked whole or not at all.

use std::time::Duration;

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_axum::routes;

use super::booking::BookingBody;
use super::{kept_moment, moment, zone};
use crate::app::plan::{self, PlanAnswer, PlanError};
use crate::app::{App, booking as bookings, why};
use crate::store::{ProjectId, ProposalId, booking};
use crate::web::extract::RawBody;
use crate::web::pages::plans::booking::booking_error;
use crate::web::pages::plans::trouble::{plan_error, why_words};
use crate::web::pages::projects::{by, own, unknown_project};
use crate::web::{Error, Json, Member, Path, Routes, Shell, Who};
use crate::wire::{self, Object, Problem};

/// How long a plan may take if the request does not say.
const SECONDS: f64 = 5.0;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(list_of_project))
        .api_solve(Who::Owner, routes!(propose_for_project))
        .api(Who::Owner, routes!(cancel_bookings))
        .api_solve(Who::Steward, routes!(propose_for_several))
        .api(Who::Member, routes!(find_plan))
        .api(Who::Owner, routes!(accept_plan))
        .api(Who::Member, routes!(why_not_earlier))
}

/// A plan that waits to be accepted.
#[derive(Serialize, ToSchema)]
#[schema(as = Plan)]
struct PlanBody {
    #[schema(value_type = i64)]
    id: ProposalId,
    is_accepted: bool,
    /// Whether no plan has less weighted lateness, or as little and an earlier end.
    proven: bool,
    /// Weighted minutes late of all its projects.
    #[schema(value_type = f64)]
    tardiness_minutes: Value,
    #[schema(example = "2027-03-12T20:40:00+01:00")]
    finish: String,
    bound: PlanBound,
    projects: Vec<PlanProject>,
    steps: Vec<PlanStep>,
    /// Bookings that would start at another time than they do now.
    moved: usize,
    /// Kinds of stations that the steps ask for and the workshop does not list.
    unlisted: Vec<String>,
    /// Steps that follow a done one later than they should.
    overdue: Vec<PlanOverdue>,
    seconds: f64,
}

/// What no plan can beat.
#[derive(Serialize, ToSchema)]
struct PlanBound {
    #[schema(value_type = f64)]
    tardiness_minutes: Value,
    finish: String,
}

/// When a project would be ready.
#[derive(Serialize, ToSchema)]
pub(super) struct PlanProject {
    #[schema(value_type = i64)]
    project: ProjectId,
    name: String,
    /// The end of its last step, with drying and cure counted.
    ready: String,
    due_day: Option<String>,
    late_minutes: i64,
}

impl PlanProject {
    pub fn new(ready: &plan::ReadyDate, zone: &TimeZone) -> Result<PlanProject, Error> {
        Ok(PlanProject {
            project: ready.project,
            name: ready.name.clone(),
            ready: kept_moment(ready.ready_at, zone)?,
            due_day: ready.due_day.clone(),
            late_minutes: ready.late_minutes,
        })
    }
}

#[derive(Serialize, ToSchema)]
struct PlanStep {
    #[schema(value_type = i64)]
    project: ProjectId,
    #[schema(example = "glue-up")]
    step: String,
    name: String,
    from: String,
    to: String,
    /// Whether somebody works at it; drying and cure go on by themselves.
    attended: bool,
    /// Panels with the same load lie in one set of clamps.
    clamp_load: Option<String>,
    uses: Vec<PlanUse>,
    /// When the step is booked now, if it is.
    before: Option<String>,
}

/// What a step uses, which for clamps goes on until they come off.
#[derive(Serialize, ToSchema)]
pub(super) struct PlanUse {
    pub resource: i64,
    pub amount: u32,
    pub from: String,
    pub to: String,
}

#[derive(Serialize, ToSchema)]
struct PlanOverdue {
    #[schema(value_type = i64)]
    project: ProjectId,
    step: String,
    after: String,
    at_most_minutes: i64,
}

/// A decimal that is kept as text, so that none of its digits is lost.
fn decimal(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or(Value::Null)
}

impl PlanBody {
    fn new(
        id: ProposalId,
        answer: &PlanAnswer,
        is_accepted: bool,
        zone: &TimeZone,
    ) -> Result<PlanBody, Error> {
        let of = |project: ProjectId, step: &str| {
            let mut before = answer.before.iter();
            before.find(|known| known.project == project && known.step == step)
        };
        let mut steps = Vec::with_capacity(answer.steps.len());
        for step in &answer.steps {
            let mut uses = Vec::with_capacity(step.uses.len());
            for used in &step.uses {
                uses.push(PlanUse {
                    resource: used.resource.0,
                    amount: used.amount,
                    from: kept_moment(used.from_at, zone)?,
                    to: kept_moment(used.to_at, zone)?,
                });
            }
            steps.push(PlanStep {
                project: step.project,
                step: step.step.clone(),
                name: step.name.clone(),
                from: kept_moment(step.from_at, zone)?,
                to: kept_moment(step.to_at, zone)?,
                attended: step.attended,
                clamp_load: step.clamp_load.clone(),
                uses,
                before: of(step.project, &step.step)
                    .map(|before| kept_moment(before.from_at, zone))
                    .transpose()?,
            });
        }
        let projects = answer.ready.iter();
        Ok(PlanBody {
            id,
            is_accepted,
            proven: answer.proven,
            tardiness_minutes: decimal(&answer.tardiness),
            finish: kept_moment(answer.finish_at, zone)?,
            bound: PlanBound {
                tardiness_minutes: decimal(&answer.tardiness_bound),
                finish: kept_moment(answer.finish_bound_at, zone)?,
            },
            projects: projects
                .map(|ready| PlanProject::new(ready, zone))
                .collect::<Result<_, Error>>()?,
            steps,
            moved: answer.moved,
            unlisted: answer.unlisted.clone(),
            overdue: answer
                .overdue
                .iter()
                .map(|overdue| PlanOverdue {
                    project: overdue.project,
                    step: overdue.step.clone(),
                    after: overdue.after.clone(),
                    at_most_minutes: overdue.at_most_minutes,
                })
                .collect(),
            seconds: answer.seconds,
        })
    }
}

/// `seconds` of a body, or what it is without.
pub(super) fn seconds(fields: &Object<'_>) -> Option<Duration> {
    let seconds = match fields.field("seconds") {
        Some(field) => field.number(0.0..=300.0),
        None => Some(SECONDS),
    };
    seconds.map(Duration::from_secs_f64)
}

async fn proposed(
    app: &App,
    member: &Member,
    ids: &[ProjectId],
    time: Duration,
) -> Result<Response, Error> {
    let (id, answer) = plan::propose(app, by(app, member), member.id(), ids, time, |_| ())
        .await
        .map_err(plan_error)?;
    Ok((
        StatusCode::CREATED,
        [(header::LOCATION, format!("/api/v1/plans/{id}"))],
        Json(PlanBody::new(id, &answer, false, &zone(app).await?)?),
    )
        .into_response())
}

/// The project's bookings, by time.
#[utoipa::path(get, path = "/api/v1/projects/{id}/plan", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = Value, example = json!({"ready": "2027-03-12T20:40:00+01:00", "items": []})),
        (status = 401, body = Problem), (status = 404, body = Problem)))]
async fn list_of_project(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Json<Value>, Error> {
    crate::store::project::find(app.store.read(), id)
        .await?
        .ok_or_else(unknown_project)?;
    let zone = zone(&app).await?;
    let list = booking::list_of_project(app.store.read(), id).await?;
    let ready: Option<Timestamp> = list.iter().map(|booking| booking.to).max();
    let mut items = Vec::with_capacity(list.len());
    for known in &list {
        items.push(BookingBody::load(&app, known, &zone).await?);
    }
    Ok(Json(serde_json::json!({
        "ready": ready.map(|at| moment(at, &zone)),
        "items": items,
    })))
}

/// Plan the project's steps around everybody else's bookings. Nothing is booked before the plan is accepted.
#[utoipa::path(post, path = "/api/v1/projects/{id}/plan", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)), request_body(content = Value, example = json!({"seconds": 5.0})),
    responses((status = 201, body = PlanBody), (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem),
        (status = 409, body = Problem), (status = 422, body = Problem), (status = 503, body = Problem)))]
async fn propose_for_project(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    RawBody(body): RawBody,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let time = wire::read(&body, |body| seconds(&body.object(&["seconds"])?))
        .map_err(Error::Calculation)?;
    proposed(&app, &member, &[id], time).await
}

/// Cancel every booking of the project that has not begun.
#[utoipa::path(delete, path = "/api/v1/projects/{id}/plan", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = Value, example = json!({"cancelled": 12})), (status = 401, body = Problem), (status = 403, body = Problem),
        (status = 404, body = Problem)))]
async fn cancel_bookings(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Json<Value>, Error> {
    own(&app, &member, id).await?;
    let mut db = app.store.begin().await?;
    let cancelled = bookings::cancel_all(&mut db, by(&app, &member), id)
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    Ok(Json(serde_json::json!({"cancelled": cancelled})))
}

/// Plan several projects together, their due dates weighed against each other.
#[utoipa::path(post, path = "/api/v1/plans", tag = "plans", security(("token" = [])),
    request_body(content = Value, example = json!({"projects": [7, 9], "seconds": 10.0})),
    responses((status = 201, body = PlanBody), (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem),
        (status = 409, body = Problem), (status = 422, body = Problem), (status = 503, body = Problem)))]
async fn propose_for_several(
    State(app): State<App>,
    member: Member,
    RawBody(body): RawBody,
) -> Result<Response, Error> {
    let (ids, time) = wire::read(&body, |body| {
        let fields = body.object(&["projects", "seconds"])?;
        let ids = fields.required("projects", |field| {
            let ids = field.list_of_at_most(300, |id| id.whole(1..=i64::MAX).map(ProjectId))?;
            if ids.is_empty() {
                return field.refuse("is empty; must name at least one project");
            }
            Some(ids)
        });
        let time = seconds(&fields);
        Some((ids?, time?))
    })
    .map_err(Error::Calculation)?;
    proposed(&app, &member, &ids, time).await
}

async fn kept(app: &App, member: &Member, id: ProposalId) -> Result<(PlanAnswer, bool), Error> {
    let mut db = app.store.read().acquire().await?;
    let (answer, asked_by, accepted_at) = plan::find(&mut db, id).await.map_err(plan_error)?;
    member.require_owner(asked_by)?;
    Ok((answer, accepted_at.is_some()))
}

/// A plan that was proposed to you.
#[utoipa::path(get, path = "/api/v1/plans/{id}", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = PlanBody), (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem)))]
async fn find_plan(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProposalId>,
) -> Result<Json<PlanBody>, Error> {
    let (answer, is_accepted) = kept(&app, &member, id).await?;
    let body = PlanBody::new(id, &answer, is_accepted, &zone(&app).await?)?;
    Ok(Json(body))
}

/// Book all of a plan or nothing: 409 where somebody booked the same clamps in between or what it was made for has changed.
#[utoipa::path(post, path = "/api/v1/plans/{id}/accept", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = PlanBody), (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem),
        (status = 409, body = Problem)))]
async fn accept_plan(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProposalId>,
) -> Result<Json<PlanBody>, Error> {
    let (answer, _) = kept(&app, &member, id).await?;
    for ready in &answer.ready {
        own(&app, &member, ready.project).await?;
    }
    let mut db = app.store.begin().await?;
    plan::accept(&mut db, by(&app, &member), id)
        .await
        .map_err(plan_error)?;
    db.commit().await?;
    let body = PlanBody::new(id, &answer, true, &zone(&app).await?)?;
    Ok(Json(body))
}

/// Why a step of a proposed plan is not earlier, in words.
#[utoipa::path(get, path = "/api/v1/plans/{id}/projects/{project}/steps/{step}/reasons", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path), ("project" = i64, Path), ("step" = String, Path)),
    responses((status = 200, body = Value, example = json!({"items": ["“Dry fit” comes before it and ends Mon 1 Mar, 10:15."]})),
        (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem)))]
async fn why_not_earlier(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path((id, project, step)): Path<(ProposalId, ProjectId, String)>,
) -> Result<Json<Value>, Error> {
    let (answer, _) = kept(&app, &member, id).await?;
    let mut steps = answer.steps.iter();
    if !steps.any(|known| known.project == project && known.step == step) {
        return Err(plan_error(PlanError::Unknown));
    }
    let mut db = app.store.read().acquire().await?;
    let reasons = why::of_proposal(&mut db, by(&app, &member), id, project, &step)
        .await
        .map_err(plan_error)?;
    drop(db);
    let time = crate::web::local_time::LocalTime::load(&app).await?;
    Ok(Json(serde_json::json!({
        "items": why_words(&reasons, project, shell.lengths(), &time),
    })))
}
