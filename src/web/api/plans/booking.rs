//! Single bookings: looked up, begun, done, moved, pinned.

use std::str::FromStr;

use axum::extract::State;
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use super::body::{BookingBody, WhysBody, of_booking};
use crate::app::days::{days_after, instant_of};
use crate::app::{App, booking as bookings, why};
use crate::store::booking::{self, Booking, Search};
use crate::store::{BookingId, By, ProjectId, resource};
use crate::web::local_time::LocalTime;
use crate::web::pages::plans::booking::booking_error;
use crate::web::pages::plans::trouble::plan_error;
use crate::web::pages::projects::by;
use crate::web::{
    Error, IfMatch, Json, Member, Paging, Path, Query, Routes, Shell, Steward, Version, Who,
};
use crate::wire::{FieldError, Problem};

/// A list reaches so many days ahead, if it is not said otherwise.
const AHEAD_DAYS: u16 = 60;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(list_bookings))
        .api(Who::Member, routes!(find_booking))
        .api(Who::Owner, routes!(begin_booking))
        .api(Who::Owner, routes!(finish_booking))
        .api(Who::Owner, routes!(move_booking))
        .api(Who::Steward, routes!(pin_booking))
        .api(Who::Owner, routes!(list_possible_times))
        .api(Who::Member, routes!(explain_booking))
}

#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
struct Filter {
    /// `mine` (if left out) or `all`.
    #[serde(default)]
    whose: String,
    /// Of one project, whoever's it is.
    project: Option<i64>,
    /// Local day; today if left out. What began before and lasts into it is listed too.
    #[param(value_type = Option<String>, format = Date)]
    from: Option<String>,
    /// The last local day; 60 days later if left out.
    #[param(value_type = Option<String>, format = Date)]
    to: Option<String>,
}

/// The place of a booking in the list: by time, then by number.
struct Cursor(Timestamp, BookingId);

impl FromStr for Cursor {
    type Err = ();

    fn from_str(text: &str) -> Result<Cursor, ()> {
        let (at, id) = text.split_once('.').ok_or(())?;
        let at = at.parse().map_err(|_| ())?;
        let at = Timestamp::from_second(at).map_err(|_| ())?;
        Ok(Cursor(at, id.parse().map_err(|_| ())?))
    }
}

fn day(name: &str, text: Option<&str>, usual: Date) -> Result<Date, Error> {
    match text {
        None | Some("") => Ok(usual),
        Some(text) => text.parse().map_err(|_| {
            Error::Malformed(format!(
                "{name} is {text:?}; must be a day like 2027-03-01."
            ))
        }),
    }
}

/// Bookings by time.
#[utoipa::path(get, path = "/api/v1/bookings", tag = "plans", security(("token" = [])),
    params(Filter, crate::web::PagingParams),
    responses((status = 200, body = super::body::BookingsBody), (status = 400)))]
async fn list_bookings(
    State(app): State<App>,
    member: Member,
    Query(filter): Query<Filter>,
    paging: Paging,
) -> Result<Response, Error> {
    let time = LocalTime::load(&app).await?;
    let from = day("from", filter.from.as_deref(), time.today())?;
    let to = day("to", filter.to.as_deref(), days_after(from, AHEAD_DAYS))?;
    let whose = match filter.whose.as_str() {
        "all" => None,
        "" | "mine" => Some(member.id()),
        other => {
            return Err(Error::Malformed(format!(
                "whose is {other:?}; must be mine or all."
            )));
        }
    };
    let search = Search {
        from: instant_of(from, 0, &time.zone),
        to: instant_of(to, 1440, &time.zone),
        member: if filter.project.is_some() {
            None
        } else {
            whose
        },
        project: filter.project.map(ProjectId),
        after: paging.after::<Cursor>()?.map(|Cursor(at, id)| (at, id)),
        limit: paging.limit + 1,
    };
    let mut db = app.store.read().acquire().await?;
    let found = booking::list(&mut *db, &search).await?;
    let resources = resource::list(&mut *db).await?;
    let mut bodies = Vec::with_capacity(found.len());
    for known in &found {
        let uses = booking::list_uses(&mut *db, known.id).await?;
        let uses = of_booking(known.project, known.id, uses);
        bodies.push((
            format!("{}.{}", known.from.as_second(), known.id),
            BookingBody::new(known, &uses, &resources),
        ));
    }
    let page = paging.page(bodies, |(cursor, _)| cursor.clone());
    Ok(page.map(|(_, body)| body).into_response())
}

async fn found(app: &App, id: BookingId) -> Result<Booking, Error> {
    booking::find(app.store.read(), id)
        .await?
        .ok_or_else(|| booking_error(bookings::BookingError::Unknown))
}

/// The booking as it is now, under its ETag.
async fn answered(app: &App, id: BookingId) -> Result<Response, Error> {
    let known = found(app, id).await?;
    let mut db = app.store.read().acquire().await?;
    let resources = resource::list(&mut *db).await?;
    let uses = booking::list_uses(&mut *db, id).await?;
    let uses = of_booking(known.project, id, uses);
    Ok((
        Version(known.version).etag(),
        Json(BookingBody::new(&known, &uses, &resources)),
    )
        .into_response())
}

/// One booking.
#[utoipa::path(get, path = "/api/v1/bookings/{id}", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = BookingBody), (status = 404)))]
async fn find_booking(
    State(app): State<App>,
    Path(id): Path<BookingId>,
) -> Result<Response, Error> {
    answered(&app, id).await
}

/// Say that a step has begun. What comes before it is done with that, and panels in the same clamps begin with it.
#[utoipa::path(post, path = "/api/v1/bookings/{id}/begin", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = BookingBody),
        (status = 404), (status = 409)))]
async fn begin_booking(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
    IfMatch(Version(version)): IfMatch,
) -> Result<Response, Error> {
    member.require_owner(found(&app, id).await?.member)?;
    let mut db = app.store.begin().await?;
    bookings::begin(&mut db, by(&app, &member), id, version)
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    answered(&app, id).await
}

/// Say that a step is done. What it used is free from now on.
#[utoipa::path(post, path = "/api/v1/bookings/{id}/done", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = BookingBody),
        (status = 404), (status = 409)))]
async fn finish_booking(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
    IfMatch(Version(version)): IfMatch,
) -> Result<Response, Error> {
    member.require_owner(found(&app, id).await?.member)?;
    let mut db = app.store.begin().await?;
    bookings::finish(&mut db, by(&app, &member), id, version)
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    answered(&app, id).await
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct MoveBody {
    /// One of the starts that `/times` lists.
    #[schema(example = "2027-03-04T23:00:00Z")]
    from: String,
}

/// Move a step to another possible time; the project's other steps stay.
#[utoipa::path(post, path = "/api/v1/bookings/{id}/move", tag = "plans", security(("token" = [])), request_body = MoveBody,
    params(("id" = i64, Path), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = BookingBody),
        (status = 404), (status = 409, body = Problem, description = "It has begun, shares its clamps, or cannot be at that time"), (status = 422)))]
async fn move_booking(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
    IfMatch(Version(version)): IfMatch,
    Json(body): Json<MoveBody>,
) -> Result<Response, Error> {
    member.require_owner(found(&app, id).await?.member)?;
    let to: Timestamp = body.from.parse().map_err(|_| {
        Error::Wrong(vec![FieldError {
            pointer: "/from".to_owned(),
            detail: format!(
                "is {:?}; must be an instant such as \"2027-03-04T23:00:00Z\"",
                body.from
            ),
        }])
    })?;
    let mut db = app.store.begin().await?;
    bookings::move_to(&mut db, by(&app, &member), id, version, to)
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    answered(&app, id).await
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct PinBody {
    #[schema(example = true)]
    is_pinned: bool,
}

/// Pin a booking, so that no plan moves it, or let it go again.
#[utoipa::path(put, path = "/api/v1/bookings/{id}/pin", tag = "plans", security(("token" = [])), request_body = PinBody,
    params(("id" = i64, Path), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = BookingBody),
        (status = 404), (status = 422)))]
async fn pin_booking(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<BookingId>,
    IfMatch(Version(version)): IfMatch,
    Json(body): Json<PinBody>,
) -> Result<Response, Error> {
    found(&app, id).await?;
    let by = By {
        member: Some(caller.member.id),
        at: app.clock.now(),
    };
    let mut db = app.store.begin().await?;
    booking::set_pinned(&mut db, by, id, version, body.is_pinned).await?;
    db.commit().await?;
    answered(&app, id).await
}

/// A time to which a booking can be moved.
#[derive(Serialize, ToSchema)]
struct TimeBody {
    #[schema(value_type = String, format = DateTime)]
    from: Timestamp,
    #[schema(value_type = String, format = DateTime)]
    to: Timestamp,
}

#[derive(Serialize, ToSchema)]
struct TimesBody {
    items: Vec<TimeBody>,
}

/// The times to which a step can be moved while everything else stays, soonest first; at most 120.
#[utoipa::path(get, path = "/api/v1/bookings/{id}/times", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = TimesBody), (status = 404),
        (status = 409, body = Problem, description = "It has begun, or shares its clamps")))]
async fn list_possible_times(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
) -> Result<Json<TimesBody>, Error> {
    member.require_owner(found(&app, id).await?.member)?;
    let mut db = app.store.read().acquire().await?;
    let times = bookings::possible_times(&mut db, by(&app, &member), id)
        .await
        .map_err(booking_error)?;
    Ok(Json(TimesBody {
        items: times
            .into_iter()
            .map(|time| TimeBody {
                from: time.from,
                to: time.to,
            })
            .collect(),
    }))
}

/// Why a step is not earlier: what it waits for, which closure, whose clamps.
#[utoipa::path(get, path = "/api/v1/bookings/{id}/reasons", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = WhysBody), (status = 404), (status = 409)))]
async fn explain_booking(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<BookingId>,
) -> Result<Json<WhysBody>, Error> {
    let known = found(&app, id).await?;
    let time = LocalTime::load(&app).await?;
    let mut db = app.store.read().acquire().await?;
    let reasons = why::of_booking(&mut db, by(&app, &member), id)
        .await
        .map_err(plan_error)?;
    Ok(Json(WhysBody::new(
        &reasons,
        known.project,
        shell.lengths(),
        &time,
    )))
}
