//! Several projects matched at once.

use std::time::Duration;

use axum::extract::State;
use axum::http::StatusCode;
use serde_json::{Value, json};
use utoipa_axum::routes;

use super::wood::match_error;
use crate::app::App;
use crate::app::together::{self, Accepted, Together, TogetherError, Worth};
use crate::store::{ProjectId, ProposalId};
use crate::units::Money;
use crate::web::api::shapes::{TogetherAnswer, TogetherAsked, TogetherClaims};
use crate::web::extract::RawBody;
use crate::web::pages::projects::{by, claim_error, own_one};
use crate::web::{Error, Json, Member, Path, Routes, Who};
use crate::wire;

const TIME: Duration = Duration::from_secs(10);

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api_solve(Who::Owner, routes!(match_together))
        .api(Who::Member, routes!(find_together))
        .api(Who::Owner, routes!(claim_together))
}

pub(super) fn together_error(error: TogetherError) -> Error {
    match error {
        TogetherError::Match(error) => match_error(error),
        TogetherError::Claim(error) => claim_error(error),
        TogetherError::AlreadyAccepted => Error::Conflict("This match was claimed already.".into()),
        TogetherError::NotAmongThem => Error::Forbidden(
            "Only a member whose project is among them, or a steward, may do this.".into(),
        ),
        TogetherError::Unreadable(error) => Error::Internal(error.into()),
    }
}

fn print_worth(worth: &Worth) -> Value {
    json!({
        "covered": worth.covered,
        "wanted": worth.wanted,
        "spend": Money::from_cents(worth.spend_cents).units(),
        "net_wood_mm3": worth.net_wood_mm3,
        "touched": worth.touched,
    })
}

fn print_together(id: ProposalId, together: &Together) -> Value {
    json!({
        "id": id,
        "answer": together.kept.response(),
        "cutters": together.cutters,
        "portions": together.portions,
        "together": print_worth(&together.together),
        "one_by_one": print_worth(&together.one_by_one),
        "agreed": together.agreed,
    })
}

/// Match projects together, one of them the caller's or a steward asks, and say what that gains against one after the other.
#[utoipa::path(post, path = "/api/v1/projects/together", tag = "projects", security(("token" = [])),
    request_body(content = TogetherAsked, example = json!({"projects": [7, 9], "seconds": 4.0})),
    responses((status = 200, body = TogetherAnswer),
        (status = 404), (status = 409), (status = 422)))]
async fn match_together(
    State(app): State<App>,
    member: Member,
    RawBody(body): RawBody,
) -> Result<Json<Value>, Error> {
    let (ids, time) = wire::read(&body, |body| {
        let fields = body.object(&["projects", "seconds"])?;
        let ids = fields.required("projects", |field| {
            field.list_of_at_most(100, |item| item.whole(1..=i64::MAX).map(ProjectId))
        });
        let seconds = match fields.field("seconds") {
            Some(field) => field.number(0.0..=300.0),
            None => Some(TIME.as_secs_f64()),
        };
        Some((ids?, Duration::from_secs_f64(seconds?)))
    })
    .map_err(Error::Calculation)?;
    own_one(&app, &member, &ids).await?;
    let (id, found) = together::propose(&app, by(&app, &member), member.id(), &ids, time, |_| ())
        .await
        .map_err(together_error)?;
    Ok(Json(print_together(id, &found)))
}

/// A match of several projects that waits to be claimed.
#[utoipa::path(get, path = "/api/v1/projects/together/{id}", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = TogetherAnswer), (status = 404)))]
async fn find_together(
    State(app): State<App>,
    Path(id): Path<ProposalId>,
) -> Result<Json<Value>, Error> {
    let mut db = app.store.read().acquire().await?;
    let (found, _, _) = together::find(&mut db, id).await.map_err(together_error)?;
    Ok(Json(print_together(id, &found)))
}

/// Claim everything that a match of several projects uses, or nothing: at once for a steward; of members the last whose project
/// is among them claims, and before that 202 says who has not agreed yet.
#[utoipa::path(post, path = "/api/v1/projects/together/{id}/claims", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 201, body = TogetherClaims), (status = 202, body = TogetherClaims),
        (status = 404), (status = 409)))]
async fn claim_together(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProposalId>,
) -> Result<(StatusCode, Json<Value>), Error> {
    let mut db = app.store.begin().await?;
    let is_steward = member.is_steward();
    let accepted = together::accept(&mut db, by(&app, &member), member.id(), is_steward, id)
        .await
        .map_err(together_error)?;
    db.commit().await?;
    Ok(match accepted {
        Accepted::Claimed(claims) => (
            StatusCode::CREATED,
            Json(json!({"claims": claims, "waits_for": []})),
        ),
        Accepted::WaitsFor(names) => (
            StatusCode::ACCEPTED,
            Json(json!({"claims": [], "waits_for": names})),
        ),
    })
}
