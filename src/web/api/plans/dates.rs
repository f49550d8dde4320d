//! Questions about dates of one project or several. Nothing is stored.

use std::time::Duration;

use axum::extract::State;
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use super::body::ReadyBody;
use super::several::wanted;
use crate::app::App;
use crate::app::dates::{self, LatestStart};
use crate::app::days::instant_of;
use crate::app::plan::ReadyDate;
use crate::app::planning::Suppose;
use crate::store::resource::{self, Resource};
use crate::store::{By, ProjectId, ResourceId};
use crate::web::api::projects::day;
use crate::web::extract::RawBody;
use crate::web::local_time::LocalTime;
use crate::web::pages::plans::trouble::plan_error;
use crate::web::pages::projects::{Opened, by};
use crate::web::{Error, Json, Member, Path, Query, Routes, Steward, Who};
use crate::wire::{self, Node, Object, Problem};

/// For each question; what is proven ends sooner.
const TIME: Duration = Duration::from_secs(5);
/// The most of anything that is supposed.
const MOST_MORE: i64 = 50;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api_solve(Who::Member, routes!(find_dates))
        .api_solve(Who::Member, routes!(suppose))
        .api_solve(Who::Steward, routes!(suppose_for_several))
}

#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
struct Ask {
    /// The local day for the question when work must begin; the due day if left out.
    #[param(value_type = Option<String>, format = Date)]
    by_day: Option<String>,
}

/// How early and how late.
#[derive(Serialize, ToSchema)]
struct DatesBody {
    /// The end of the last step in the earliest plan, drying and cure counted.
    #[schema(value_type = String, format = DateTime)]
    ready_at: Timestamp,
    #[schema(value_type = String, format = Date)]
    ready_day: String,
    /// Whether no plan is ready earlier.
    proven: bool,
    #[schema(value_type = Option<String>, format = Date)]
    due_day: Option<String>,
    /// Whether the due day can be met; `false` is certain only where `proven`.
    in_time: Option<bool>,
    latest_start: Option<LatestStartBody>,
}

/// By when work must begin.
#[derive(Serialize, ToSchema)]
struct LatestStartBody {
    #[schema(value_type = String, format = Date)]
    by_day: String,
    /// Absent where it is too late already.
    #[schema(value_type = Option<String>, format = Date)]
    start_day: Option<String>,
}

/// How early a project can be ready, and by when it must be started.
#[utoipa::path(get, path = "/api/v1/projects/{id}/plan/dates", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path), Ask),
    responses((status = 200, body = DatesBody), (status = 400), (status = 404),
        (status = 409, body = Problem, description = "There is no way to plan it, and why")))]
async fn find_dates(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    Query(ask): Query<Ask>,
) -> Result<Json<DatesBody>, Error> {
    let opened = Opened::find(&app, id).await?;
    let due = opened.project.about.due_day;
    let today = LocalTime::load(&app).await?.today();
    let by_day = match ask.by_day.as_deref() {
        None | Some("") => due.filter(|day| *day >= today),
        Some(text) => Some(
            text.parse::<Date>()
                .ok()
                .filter(|day| *day >= today)
                .ok_or_else(|| {
                    Error::Malformed(format!(
                        "by_day is {text:?}; must be a day like {today}, today or later."
                    ))
                })?,
        ),
    };
    let by = by(&app, &member);
    let earliest = dates::earliest(&app, by, id, TIME)
        .await
        .map_err(plan_error)?;
    let latest_start = match by_day {
        None => None,
        Some(day) => {
            let found = dates::latest_start(&app, by, id, day, TIME)
                .await
                .map_err(plan_error)?;
            Some(LatestStartBody {
                by_day: day.to_string(),
                start_day: match found {
                    LatestStart::Day(start) => Some(start.to_string()),
                    LatestStart::TooLate => None,
                },
            })
        }
    };
    Ok(Json(DatesBody {
        ready_at: earliest.ready_at,
        ready_day: earliest.ready_day.to_string(),
        proven: earliest.proven,
        due_day: due.map(|day| day.to_string()),
        in_time: earliest.in_time,
        latest_start,
    }))
}

/// What a supposition does to the dates.
#[derive(Serialize, ToSchema)]
struct WhatIfBody {
    now: Vec<ReadyBody>,
    then: Vec<ReadyBody>,
    /// Minutes by which the project, or the last of several, is ready sooner; below zero where it is later.
    sooner_minutes: i64,
    /// Whether both plans are proven best, so that the difference is real.
    proven: bool,
}

fn time_of_day(node: &Node<'_>) -> Option<u16> {
    let text = node.text()?;
    match text.parse::<Time>() {
        Ok(time) => Some(
            u16::from(time.hour().unsigned_abs()) * 60 + u16::from(time.minute().unsigned_abs()),
        ),
        Err(_) => node.refuse(format!("is {text:?}; must be a time of day like \"18:00\"")),
    }
}

/// An opening that is only supposed, on the workshop's own clock.
fn opening(node: &Node<'_>, time: &LocalTime) -> Option<(Timestamp, Timestamp, bool)> {
    let fields = node.object(&["day", "opens", "shuts", "machines"])?;
    let on = fields.required("day", |field| {
        let on = day(&field)?;
        if on < time.today() {
            return field.refuse(format!("is {on}; must be today or later"));
        }
        Some(on)
    });
    let opens = fields.required("opens", |field| time_of_day(&field));
    let shuts = fields.required("shuts", |field| time_of_day(&field));
    let machines = match fields.field("machines") {
        Some(field) => field.boolean(),
        None => Some(false),
    };
    let (on, opens, shuts, machines) = (on?, opens?, shuts?, machines?);
    if shuts <= opens {
        return fields
            .node()
            .refuse("ends before it begins; must end later on the same day");
    }
    let at = |minute| instant_of(on, minute, &time.zone);
    Some((at(opens), at(shuts), machines))
}

fn more(node: &Node<'_>, resources: &[Resource]) -> Option<(ResourceId, u32)> {
    let fields = node.object(&["resource", "count"])?;
    let resource = fields.required("resource", |field| {
        let id = ResourceId(field.whole(1..=i64::MAX)?);
        if resources.iter().all(|known| known.id != id) {
            return field.refuse(format!("is {id}; must be the id of clamps or a station"));
        }
        Some(id)
    });
    let count = fields.required("count", |field| field.whole(1..=MOST_MORE));
    Some((resource?, u32::try_from(count?).ok()?))
}

/// What is supposed for these projects; where they are not known, for none.
fn supposed(
    fields: &Object<'_>,
    ids: Option<&[ProjectId]>,
    time: &LocalTime,
    resources: &[Resource],
) -> Option<Suppose> {
    // Every flaw is told at once, so all is read before anything is given up.
    let openings = match fields.field("openings") {
        Some(field) => field.list_of_at_most(50, |item| opening(&item, time)),
        None => Some(Vec::new()),
    };
    let more = match fields.field("more") {
        Some(field) => field.list_of_at_most(50, |item| more(&item, resources)),
        None => Some(Vec::new()),
    };
    let coats = match fields.field("coats_left_out") {
        Some(field) => field.whole(1..=20),
        None => Some(0),
    };
    let coats = u32::try_from(coats?).ok()?;
    let ids = ids.filter(|_| coats > 0).unwrap_or_default();
    let suppose = Suppose {
        openings: openings?,
        more: more?.into_iter().collect(),
        fewer_coats: ids.iter().map(|id| (*id, coats)).collect(),
    };
    if coats == 0 && suppose == Suppose::default() {
        return fields
            .node()
            .refuse("supposes nothing; must hold openings, more or coats_left_out");
    }
    Some(suppose)
}

async fn effect(
    app: &App,
    by: By,
    ids: &[ProjectId],
    suppose: &Suppose,
    time: Duration,
) -> Result<Json<WhatIfBody>, Error> {
    let found = dates::what_if(app, by, ids, suppose, time)
        .await
        .map_err(plan_error)?;
    let ready = |list: &[ReadyDate]| {
        list.iter()
            .map(|ready| ready.ready_at)
            .max()
            .unwrap_or_default()
    };
    let print = |list: &[ReadyDate]| {
        list.iter()
            .map(ReadyBody::new)
            .collect::<Result<_, Error>>()
    };
    Ok(Json(WhatIfBody {
        sooner_minutes: (ready(&found.now) - ready(&found.then)) / 60,
        now: print(&found.now)?,
        then: print(&found.then)?,
        proven: found.proven,
    }))
}

/// What one more opening, more clamps or a coat left out would do to a project's date.
#[utoipa::path(post, path = "/api/v1/projects/{id}/plan/what-if", tag = "plans", security(("token" = [])),
    params(("id" = i64, Path)),
    request_body(content = serde_json::Value, example = json!({
        "openings": [{"day": "2027-03-05", "opens": "18:00", "shuts": "21:00", "machines": true}],
        "more": [{"resource": 1, "count": 4}], "coats_left_out": 1})),
    responses((status = 200, body = WhatIfBody), (status = 404),
        (status = 409, body = Problem, description = "There is no way to plan it, and why"), (status = 422)))]
async fn suppose(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    RawBody(body): RawBody,
) -> Result<Json<WhatIfBody>, Error> {
    Opened::find(&app, id).await?;
    let time = LocalTime::load(&app).await?;
    let resources = resource::list(app.store.read()).await?;
    let suppose = wire::read(&body, |body| {
        let fields = body.object(&["openings", "more", "coats_left_out"])?;
        supposed(&fields, Some(&[id]), &time, &resources)
    })
    .map_err(Error::Calculation)?;
    effect(&app, by(&app, &member), &[id], &suppose, TIME).await
}

/// What one more opening, more clamps or a coat left out of each would do to the dates of several projects that are planned together.
#[utoipa::path(post, path = "/api/v1/plans/what-if", tag = "plans", security(("token" = [])),
    request_body(content = serde_json::Value, example = json!({
        "projects": [7, 9], "seconds": 5.0,
        "openings": [{"day": "2027-03-05", "opens": "18:00", "shuts": "21:00", "machines": true}],
        "more": [{"resource": 1, "count": 4}], "coats_left_out": 1})),
    responses((status = 200, body = WhatIfBody), (status = 404),
        (status = 409, body = Problem, description = "There is no way to plan them, and why"), (status = 422)))]
async fn suppose_for_several(
    State(app): State<App>,
    Steward(caller): Steward,
    RawBody(body): RawBody,
) -> Result<Json<WhatIfBody>, Error> {
    let time = LocalTime::load(&app).await?;
    let resources = resource::list(app.store.read()).await?;
    let (wanted, suppose) = wire::read(&body, |body| {
        let names = ["projects", "seconds", "openings", "more", "coats_left_out"];
        let fields = body.object(&names)?;
        let wanted = wanted(&fields);
        let ids = wanted.as_ref().map(|wanted| wanted.projects.as_slice());
        let suppose = supposed(&fields, ids, &time, &resources);
        Some((wanted?, suppose?))
    })
    .map_err(Error::Calculation)?;
    let by = By {
        member: Some(caller.member.id),
        at: app.clock.now(),
    };
    effect(&app, by, &wanted.projects, &suppose, wanted.time).await
}
