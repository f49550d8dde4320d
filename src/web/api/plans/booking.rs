//! Booked steps: begun, done, moved, pinned.

use axum::extract::State;
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use super::plan::PlanUse;
use super::{moment, zone};
use crate::app::days::instant_of;
use crate::app::{App, booking as bookings, days, why};
use crate::store::booking::{self, Booking, BookingState};
use crate::store::{BookingId, ProjectId};
use crate::web::local_time::LocalTime;
use crate::web::pages::plans::booking::booking_error;
use crate::web::pages::plans::trouble::{plan_error, why_words};
use crate::web::pages::projects::by;
use crate::web::{Error, IfMatch, Json, Member, Path, Query, Routes, Shell, Steward, Version, Who};
use crate::wire::{FieldError, Problem};

/// The longest stretch of days that one call lists.
const MOST_DAYS: u16 = 100;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(list_bookings))
        .api(Who::Member, routes!(find_booking))
        .api(Who::Member, routes!(booking_reasons))
        .api(Who::Owner, routes!(possible_times))
        .api(Who::Owner, routes!(begin_booking))
        .api(Who::Owner, routes!(finish_booking))
        .api(Who::Owner, routes!(move_booking))
        .api(Who::Steward, routes!(pin_booking))
}

/// One step at its time.
#[derive(Serialize, ToSchema)]
#[schema(as = Booking)]
pub(super) struct BookingBody {
    #[schema(value_type = i64)]
    id: BookingId,
    #[schema(value_type = i64)]
    project: ProjectId,
    project_name: String,
    member_name: String,
    /// Names the step among those of its project.
    #[schema(example = "glue-up")]
    step: String,
    name: String,
    #[schema(example = "2027-03-05T18:00:00+01:00")]
    from: String,
    to: String,
    /// Whether somebody works at it; drying and cure go on by themselves.
    attended: bool,
    /// `planned`, `running` or `done`.
    state: &'static str,
    /// No plan moves it.
    pinned: bool,
    clamp_load: Option<String>,
    /// What it uses: clamps until they come off.
    uses: Vec<PlanUse>,
    version: i64,
}

impl BookingBody {
    pub async fn load(app: &App, known: &Booking, zone: &TimeZone) -> Result<BookingBody, Error> {
        let uses = booking::list_uses(app.store.read(), known.id).await?;
        Ok(BookingBody {
            id: known.id,
            project: known.project,
            project_name: known.project_name.clone(),
            member_name: known.member_name.clone(),
            step: known.step.clone(),
            name: known.name.clone(),
            from: moment(known.from, zone),
            to: moment(known.to, zone),
            attended: known.attended,
            state: match known.state {
                BookingState::Planned => "planned",
                BookingState::Running => "running",
                BookingState::Done => "done",
            },
            pinned: known.pinned,
            clamp_load: known.clamp_load.clone(),
            uses: uses
                .iter()
                .map(|used| PlanUse {
                    resource: used.resource.0,
                    amount: used.amount,
                    from: moment(used.from, zone),
                    to: moment(used.to, zone),
                })
                .collect(),
            version: known.version,
        })
    }
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct Days {
    /// The first day; today if left out.
    #[param(value_type = Option<String>, example = "2027-03-01")]
    from: Option<Date>,
    /// The last day; six days later if left out, at most 100.
    #[param(value_type = Option<String>, example = "2027-03-07")]
    to: Option<Date>,
    /// Only your own.
    #[serde(default)]
    mine: bool,
}

/// Everybody's bookings that touch some days, by time.
#[utoipa::path(get, path = "/api/v1/bookings", tag = "plans", security(("token" = [])), params(Days),
    responses((status = 200, body = Value), (status = 401, body = Problem), (status = 422, body = Problem)))]
async fn list_bookings(
    State(app): State<App>,
    member: Member,
    Query(asked): Query<Days>,
) -> Result<Json<Value>, Error> {
    let zone = zone(&app).await?;
    let first = asked
        .from
        .unwrap_or_else(|| days::day_of(app.clock.now(), &zone));
    let last = asked.to.unwrap_or_else(|| days::days_after(first, 6));
    let span = (last - first).get_days();
    if !(0..=i32::from(MOST_DAYS)).contains(&span) {
        return Err(Error::Wrong(vec![FieldError {
            pointer: "/to".to_owned(),
            detail: format!(
                "is {last}; must be from {first} to {}",
                days::days_after(first, MOST_DAYS)
            ),
        }]));
    }
    let (from, to) = (instant_of(first, 0, &zone), instant_of(last, 1440, &zone));
    let whose = asked.mine.then(|| member.id());
    let list = booking::list_between(app.store.read(), from, to, whose).await?;
    let mut items = Vec::with_capacity(list.len());
    for known in &list {
        items.push(BookingBody::load(&app, known, &zone).await?);
    }
    Ok(Json(
        json!({"from": first.to_string(), "to": last.to_string(), "items": items}),
    ))
}

async fn found(app: &App, id: BookingId) -> Result<Booking, Error> {
    booking::find(app.store.read(), id)
        .await?
        .ok_or_else(|| booking_error(bookings::BookingError::Unknown))
}

async fn owned(app: &App, member: &Member, id: BookingId) -> Result<Booking, Error> {
    let known = found(app, id).await?;
    member.require_owner(known.member)?;
    Ok(known)
}

async fn answer(app: &App, id: BookingId) -> Result<Response, Error> {
    let known = found(app, id).await?;
    let body = BookingBody::load(app, &known, &zone(app).await?).await?;
    Ok((Version(known.version).etag(), Json(body)).into_response())
}

/// One booking, with its version as `ETag`.
#[utoipa::path(get, path = "/api/v1/bookings/{id}", tag = "plans", security(("token" = [])), params(("id" = i64, Path)),
    responses((status = 200, body = BookingBody), (status = 401, body = Problem), (status = 404, body = Problem)))]
async fn find_booking(
    State(app): State<App>,
    Path(id): Path<BookingId>,
) -> Result<Response, Error> {
    answer(&app, id).await
}

/// Why the step is not earlier, in words.
#[utoipa::path(get, path = "/api/v1/bookings/{id}/reasons", tag = "plans", security(("token" = [])), params(("id" = i64, Path)),
    responses((status = 200, body = Value), (status = 401, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
async fn booking_reasons(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<BookingId>,
) -> Result<Json<Value>, Error> {
    let known = found(&app, id).await?;
    let mut db = app.store.read().acquire().await?;
    let reasons = why::of_booking(&mut db, by(&app, &member), id)
        .await
        .map_err(plan_error)?;
    drop(db);
    let time = LocalTime::load(&app).await?;
    Ok(Json(
        json!({"items": why_words(&reasons, known.project, shell.lengths(), &time)}),
    ))
}

/// The times to which the booking can be moved while all others stay, soonest first.
#[utoipa::path(get, path = "/api/v1/bookings/{id}/times", tag = "plans", security(("token" = [])), params(("id" = i64, Path)),
    responses((status = 200, body = Value, example = json!({"items": [{"from": "2027-03-05T18:00:00+01:00", "to": "2027-03-05T18:40:00+01:00"}]})),
        (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
async fn possible_times(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
) -> Result<Json<Value>, Error> {
    owned(&app, &member, id).await?;
    let mut db = app.store.read().acquire().await?;
    let times = bookings::possible_times(&mut db, by(&app, &member), id)
        .await
        .map_err(booking_error)?;
    drop(db);
    let zone = zone(&app).await?;
    let items: Vec<Value> = times
        .iter()
        .map(|time| json!({"from": moment(time.from, &zone), "to": moment(time.to, &zone)}))
        .collect();
    Ok(Json(json!({"items": items})))
}

/// Say that the step has begun; what comes before it is then done.
#[utoipa::path(post, path = "/api/v1/bookings/{id}/begin", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path), ("If-Match" = String, Header, example = "\"v1\"")),
    responses((status = 200, body = BookingBody), (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem),
        (status = 409, body = Problem), (status = 412, body = Problem), (status = 428, body = Problem)))]
async fn begin_booking(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
    IfMatch(Version(version)): IfMatch,
) -> Result<Response, Error> {
    owned(&app, &member, id).await?;
    let mut db = app.store.begin().await?;
    bookings::begin(&mut db, by(&app, &member), id, version)
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    answer(&app, id).await
}

/// Say that the step is done; what it used is free from now on.
#[utoipa::path(post, path = "/api/v1/bookings/{id}/done", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path), ("If-Match" = String, Header, example = "\"v1\"")),
    responses((status = 200, body = BookingBody), (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem),
        (status = 409, body = Problem), (status = 412, body = Problem), (status = 428, body = Problem)))]
async fn finish_booking(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
    IfMatch(Version(version)): IfMatch,
) -> Result<Response, Error> {
    owned(&app, &member, id).await?;
    let mut db = app.store.begin().await?;
    bookings::finish(&mut db, by(&app, &member), id, version)
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    answer(&app, id).await
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = BookingMove)]
struct MoveTo {
    /// One of the possible times.
    #[schema(value_type = String, example = "2027-03-05T18:00:00+01:00")]
    from: Timestamp,
}

/// Move the booking to another of its possible times; all others stay.
#[utoipa::path(post, path = "/api/v1/bookings/{id}/move", tag = "plans", security(("token" = [])), request_body = MoveTo,
    params(("id" = i64, Path), ("If-Match" = String, Header, example = "\"v1\"")),
    responses((status = 200, body = BookingBody), (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem),
        (status = 409, body = Problem), (status = 412, body = Problem), (status = 422, body = Problem), (status = 428, body = Problem)))]
async fn move_booking(
    State(app): State<App>,
    member: Member,
    Path(id): Path<BookingId>,
    IfMatch(Version(version)): IfMatch,
    Json(to): Json<MoveTo>,
) -> Result<Response, Error> {
    owned(&app, &member, id).await?;
    let mut db = app.store.begin().await?;
    bookings::move_to(&mut db, by(&app, &member), id, version, to.from)
        .await
        .map_err(booking_error)?;
    db.commit().await?;
    answer(&app, id).await
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = BookingPin)]
struct Pin {
    pinned: bool,
}

/// Pin the booking, so that no plan moves it, or let plans move it again.
#[utoipa::path(put, path = "/api/v1/bookings/{id}/pin", tag = "plans", security(("token" = [])), request_body = Pin,
    params(("id" = i64, Path), ("If-Match" = String, Header, example = "\"v1\"")),
    responses((status = 200, body = BookingBody), (status = 401, body = Problem), (status = 403, body = Problem), (status = 404, body = Problem),
        (status = 412, body = Problem), (status = 422, body = Problem), (status = 428, body = Problem)))]
async fn pin_booking(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<BookingId>,
    IfMatch(Version(version)): IfMatch,
    Json(to): Json<Pin>,
) -> Result<Response, Error> {
    found(&app, id).await?;
    let by = app.by(&caller);
    let mut db = app.store.begin().await?;
    booking::set_pinned(&mut db, by, id, version, to.pinned).await?;
    db.commit().await?;
    answer(&app, id).await
}
