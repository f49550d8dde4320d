//! What only the member who calls may change: password, sessions, calendar link.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::app::{App, PasswordChangeError, PasswordError};
use crate::store::calendar_link;
use crate::web::calendar::make_link;
use crate::web::{ClientAddress, Error, Json, Member, Routes, Who};
use crate::wire::FieldError;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(change_password))
        .api(Who::Member, routes!(end_sessions))
        .api(Who::Member, routes!(find_calendar))
        .api(Who::Member, routes!(create_calendar))
        .api(Who::Member, routes!(end_calendar))
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct PasswordChange {
    #[schema(example = "shavings on the floor")]
    present: String,
    /// At least twelve letters.
    #[schema(example = "long curls from a sharp plane")]
    new: String,
}

/// Choose a new password; every browser is signed out. Tokens stay.
#[utoipa::path(put, path = "/api/v1/me/password", tag = "members", security(("token" = [])), request_body = PasswordChange,
    responses((status = 204, description = "It is changed"), (status = 429)))]
async fn change_password(
    State(app): State<App>,
    ClientAddress(address): ClientAddress,
    Member(caller): Member,
    Json(change): Json<PasswordChange>,
) -> Result<StatusCode, Error> {
    let wrong = |pointer: &str, detail: String| {
        Error::Wrong(vec![FieldError {
            pointer: pointer.to_owned(),
            detail,
        }])
    };
    let changed = app
        .change_password(address, &caller.member, &change.present, &change.new)
        .await;
    match changed {
        Ok(_) => {}
        Err(PasswordChangeError::TooMany(wait)) => return Err(Error::TooMany(wait)),
        Err(PasswordChangeError::Failed(error)) => return Err(error.into()),
        Err(error @ PasswordChangeError::WrongPresent) => {
            return Err(wrong("/present", error.to_string()));
        }
        Err(PasswordChangeError::Password(
            error @ (PasswordError::TooShort(_) | PasswordError::TooLong),
        )) => return Err(wrong("/new", error.to_string())),
        Err(PasswordChangeError::Password(error)) => return Err(error.into()),
    }
    // A script has no use for the fresh session that a browser goes on with.
    app.sign_out_everywhere(caller.member.id).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Sign out every browser of yours. Tokens stay.
#[utoipa::path(delete, path = "/api/v1/me/sessions", tag = "members", security(("token" = [])),
    responses((status = 204, description = "No browser of yours is signed in now")))]
async fn end_sessions(State(app): State<App>, Member(caller): Member) -> Result<StatusCode, Error> {
    app.sign_out_everywhere(caller.member.id).await?;
    Ok(StatusCode::NO_CONTENT)
}

#[derive(Serialize, ToSchema)]
struct CalendarBody {
    /// Whether you have a link; it was shown when it was made.
    is_there: bool,
}

/// Secret links: whoever has one reads the calendar (RFC 5545).
#[derive(Serialize, ToSchema)]
struct CalendarLinkBody {
    /// Your own steps and openings. Shown this once.
    #[schema(example = "http://127.0.0.1:8080/calendar/SECRET.ics")]
    own: String,
    /// Everybody's.
    #[schema(example = "http://127.0.0.1:8080/calendar/SECRET/workshop")]
    workshop: String,
}

/// Whether you have a calendar link.
#[utoipa::path(get, path = "/api/v1/me/calendar", tag = "members", security(("token" = [])),
    responses((status = 200, body = CalendarBody)))]
async fn find_calendar(
    State(app): State<App>,
    member: Member,
) -> Result<Json<CalendarBody>, Error> {
    let is_there = calendar_link::is_there(app.store.read(), member.id()).await?;
    Ok(Json(CalendarBody { is_there }))
}

/// Make a calendar link; the one before opens nothing any more.
#[utoipa::path(post, path = "/api/v1/me/calendar", tag = "members", security(("token" = [])),
    responses((status = 201, body = CalendarLinkBody)))]
async fn create_calendar(State(app): State<App>, member: Member) -> Result<Response, Error> {
    let (own, workshop) = make_link(&app, member.id()).await?;
    let headers = [(header::CACHE_CONTROL, "no-store")];
    let body = CalendarLinkBody { own, workshop };
    Ok((StatusCode::CREATED, headers, Json(body)).into_response())
}

/// End your calendar link.
#[utoipa::path(delete, path = "/api/v1/me/calendar", tag = "members", security(("token" = [])),
    responses((status = 204, description = "It opens nothing any more")))]
async fn end_calendar(State(app): State<App>, member: Member) -> Result<StatusCode, Error> {
    let mut db = app.store.begin().await?;
    calendar_link::set(&mut db, member.id(), None, app.clock.now()).await?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}
