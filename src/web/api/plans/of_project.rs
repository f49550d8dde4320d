//! One project's plan: what is booked, a proposal, cancelled.

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use super::body::{BookingBody, of_booking};
use super::several::{Wanted, proposed, seconds_alone};
use crate::app::{App, booking as bookings};
use crate::store::booking;
use crate::store::{ProjectId, resource};
use crate::web::extract::RawBody;
use crate::web::pages::plans::booking::booking_error;
use crate::web::pages::projects::{Opened, by, own};
use crate::web::{Error, Json, Member, Path, Routes, Who};
use crate::wire::Problem;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(find_project_plan))
        .api_solve(Who::Owner, routes!(propose_project_plan))
        .api(Who::Owner, routes!(cancel_project_plan))
}

/// What a project has booked.
#[derive(Serialize, ToSchema)]
struct ProjectPlanBody {
    /// By time; empty where nothing is booked.
    bookings: Vec<BookingBody>,
    /// The end of the last step, drying and cure counted.
    #[schema(value_type = Option<String>, format = DateTime)]
    ready_at: Option<Timestamp>,
    #[schema(value_type = Option<String>, format = Date)]
    due_day: Option<String>,
}

/// What a project has booked.
#[utoipa::path(get, path = "/api/v1/projects/{id}/plan", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = ProjectPlanBody), (status = 404)))]
async fn find_project_plan(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Json<ProjectPlanBody>, Error> {
    let opened = Opened::find(&app, id).await?;
    let mut db = app.store.read().acquire().await?;
    let resources = resource::list(&mut *db).await?;
    let list = booking::list_of_project(&mut *db, id).await?;
    let mut bodies = Vec::with_capacity(list.len());
    for known in &list {
        let uses = booking::list_uses(&mut *db, known.id).await?;
        let uses = of_booking(id, known.id, uses);
        bodies.push(BookingBody::new(known, &uses, &resources));
    }
    Ok(Json(ProjectPlanBody {
        ready_at: list.iter().map(|known| known.to).max(),
        due_day: opened.project.about.due_day.map(|day| day.to_string()),
        bookings: bodies,
    }))
}

/// Plan one project around everybody else's bookings. Nothing is booked until the plan is accepted.
///
/// With `Accept: text/event-stream` the answer is a stream of `progress` events and one `answer` or `problem`; closing the
/// connection stops the solve.
#[utoipa::path(post, path = "/api/v1/projects/{id}/plan", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    request_body(content = Option<serde_json::Value>, description = "How long to look at most; it ends sooner where the best plan is proven",
        example = json!({"seconds": 4.0})),
    responses((status = 201, body = super::body::PlanBody),
        (status = 404), (status = 409, body = Problem, description = "There is no way to plan it, and why"),
        (status = 422)))]
async fn propose_project_plan(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    headers: HeaderMap,
    RawBody(body): RawBody,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let wanted = Wanted {
        projects: vec![id],
        time: seconds_alone(&body)?,
    };
    proposed(&app, by(&app, &member), member.id(), wanted, &headers).await
}

#[derive(Serialize, ToSchema)]
struct CancelledBody {
    /// How many bookings are gone.
    cancelled: usize,
}

/// Cancel every booking of a project that has not begun.
#[utoipa::path(delete, path = "/api/v1/projects/{id}/plan", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = CancelledBody),
        (status = 404), (status = 409)))]
async fn cancel_project_plan(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Json<CancelledBody>, Error> {
    own(&app, &member, id).await?;
    let mut db = app.store.begin().await?;
    let cancelled = bookings::cancel_all(&mut db, by(&app, &member), id)
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    Ok(Json(CancelledBody { cancelled }))
}
