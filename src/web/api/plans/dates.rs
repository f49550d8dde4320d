//! Questions about dates; nothing is stored.

use axum::extract::State;
use serde_json::{Value, json};
use utoipa_axum::routes;

use super::plan::{PlanProject, seconds};
use super::{moment, zone};
use crate::app::App;
use crate::app::dates::{self, LatestStart};
use crate::app::days::instant_of;
use crate::app::planning::Suppose;
use crate::store::{ProjectId, ResourceId};
use crate::web::api::projects::day;
use crate::web::extract::RawBody;
use crate::web::pages::plans::trouble::plan_error;
use crate::web::pages::projects::{by, unknown_project};
use crate::web::{Error, Json, Member, Path, Routes, Who};
use crate::wire::{self, Node, Problem};

/// The most clamps or coats that are supposed.
const MOST_MORE: i64 = 50;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api_solve(Who::Member, routes!(project_dates))
        .api_solve(Who::Member, routes!(what_if))
}

/// How early the project can be ready, and by when its work must begin to be ready on a day (its due day if left out).
#[utoipa::path(post, path = "/api/v1/projects/{id}/plan/dates", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)), request_body(content = Value, example = json!({"by_day": "2027-03-20", "seconds": 5.0})),
    responses((status = 200, body = Value, example = json!({"ready": "2027-03-12T20:40:00+01:00", "ready_day": "2027-03-12", "proven": true,
        "due_day": "2027-03-20", "in_time": true, "by_day": "2027-03-20", "begin_by": "2027-03-08"})),
        (status = 401, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem), (status = 422, body = Problem),
        (status = 503, body = Problem)))]
async fn project_dates(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    RawBody(body): RawBody,
) -> Result<Json<Value>, Error> {
    crate::store::project::find(app.store.read(), id)
        .await?
        .ok_or_else(unknown_project)?;
    let (by_day, time) = wire::read(&body, |body| {
        let fields = body.object(&["by_day", "seconds"])?;
        let by_day = match fields.field("by_day") {
            Some(field) => day(&field).map(Some),
            None => Some(None),
        };
        let time = seconds(&fields);
        Some((by_day?, time?))
    })
    .map_err(Error::Calculation)?;
    let zone = zone(&app).await?;
    let by = by(&app, &member);
    let earliest = dates::earliest(&app, by, id, time / 2)
        .await
        .map_err(plan_error)?;
    let by_day = by_day.or(earliest.due_day);
    let begin_by = match by_day {
        None => None,
        Some(day) => {
            let found = dates::latest_start(&app, by, id, day, time / 2)
                .await
                .map_err(plan_error)?;
            match found {
                LatestStart::Day(start) => Some(start.to_string()),
                LatestStart::TooLate => None,
            }
        }
    };
    Ok(Json(json!({
        "ready": moment(earliest.ready_at, &zone),
        "ready_day": earliest.ready_day.to_string(),
        "proven": earliest.proven,
        "due_day": earliest.due_day.map(|day| day.to_string()),
        "in_time": earliest.in_time,
        "by_day": by_day.map(|day| day.to_string()),
        "begin_by": begin_by,
    })))
}

/// What is supposed, as the body says it; an opening still with its local day.
struct Supposed {
    more: Vec<(ResourceId, u32)>,
    fewer_coats: u32,
    openings: Vec<(jiff::civil::Date, u16, u16, bool)>,
}

/// A time of day such as `18:00`, as minutes after midnight.
fn time_of_day(node: &Node<'_>) -> Option<u16> {
    let text = node.text()?;
    match text.parse::<jiff::civil::Time>() {
        Ok(time) => Some(
            u16::from(time.hour().unsigned_abs()) * 60 + u16::from(time.minute().unsigned_abs()),
        ),
        Err(_) => node.refuse(format!("is {text:?}; must be a time such as \"18:00\"")),
    }
}

fn opening(node: &Node<'_>) -> Option<(jiff::civil::Date, u16, u16, bool)> {
    let fields = node.object(&["day", "from", "to", "machines"])?;
    let on = fields.required("day", |field| day(&field));
    let from = fields.required("from", |field| time_of_day(&field));
    let to = fields.required("to", |field| {
        let to = time_of_day(&field)?;
        match from {
            Some(from) if to <= from => {
                field.refuse("is not after \"from\"; must be later on the same day")
            }
            _ => Some(to),
        }
    });
    let machines = match fields.field("machines") {
        Some(field) => field.boolean(),
        None => Some(false),
    };
    Some((on?, from?, to?, machines?))
}

fn supposed(node: &Node<'_>) -> Option<Supposed> {
    let fields = node.object(&["more", "fewer_coats", "openings"])?;
    let more = match fields.field("more") {
        None => Some(Vec::new()),
        Some(field) => field.list_of_at_most(20, |item| {
            let fields = item.object(&["resource", "count"])?;
            let resource = fields.required("resource", |field| field.whole(1..=i64::MAX));
            let count = fields.required("count", |field| field.whole(1..=MOST_MORE));
            Some((ResourceId(resource?), u32::try_from(count?).ok()?))
        }),
    };
    let fewer_coats = match fields.field("fewer_coats") {
        None => Some(0),
        Some(field) => field.whole(0..=MOST_MORE),
    };
    let openings = match fields.field("openings") {
        None => Some(Vec::new()),
        Some(field) => field.list_of_at_most(20, |item| opening(&item)),
    };
    Some(Supposed {
        more: more?,
        fewer_coats: u32::try_from(fewer_coats?).ok()?,
        openings: openings?,
    })
}

/// What more clamps, another opening or a coat left out would do to the project's ready date.
#[utoipa::path(post, path = "/api/v1/projects/{id}/plan/what-if", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    request_body(content = Value, example = json!({"suppose": {"more": [{"resource": 1, "count": 4}], "fewer_coats": 1,
        "openings": [{"day": "2027-03-06", "from": "10:00", "to": "14:00", "machines": true}]}, "seconds": 5.0})),
    responses((status = 200, body = Value), (status = 401, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem),
        (status = 422, body = Problem), (status = 503, body = Problem)))]
async fn what_if(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    RawBody(body): RawBody,
) -> Result<Json<Value>, Error> {
    crate::store::project::find(app.store.read(), id)
        .await?
        .ok_or_else(unknown_project)?;
    let (supposed, time) = wire::read(&body, |body| {
        let fields = body.object(&["suppose", "seconds"])?;
        let supposed = fields.required("suppose", |field| supposed(&field));
        let time = seconds(&fields);
        Some((supposed?, time?))
    })
    .map_err(Error::Calculation)?;
    let zone = zone(&app).await?;
    let mut suppose = Suppose::default();
    suppose.more.extend(supposed.more);
    if supposed.fewer_coats > 0 {
        suppose.fewer_coats.insert(id, supposed.fewer_coats);
    }
    for (on, from, to, machines) in supposed.openings {
        let at = |minute| instant_of(on, minute, &zone);
        suppose.openings.push((at(from), at(to), machines));
    }
    let found = dates::what_if(&app, by(&app, &member), &[id], &suppose, time)
        .await
        .map_err(plan_error)?;
    let print = |ready: &[crate::app::plan::ReadyDate]| {
        let ready = ready.iter();
        ready
            .map(|ready| PlanProject::new(ready, &zone))
            .collect::<Result<Vec<_>, Error>>()
    };
    Ok(Json(json!({
        "now": print(&found.now)?,
        "then": print(&found.then)?,
        "proven": found.proven,
    })))
}
