//! The week: openings, what is booked in them, and which clamps are free.

use axum::extract::State;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use super::body::BookingBody;
use crate::app::App;
use crate::store::resource::ResourceKind;
use crate::web::pages::plans::week::{Week, free_over};
use crate::web::{Error, Json, Query, Routes, Who};
use crate::wire::length::to_json;

pub(super) fn routes(routes: Routes) -> Routes {
    routes.api(Who::Member, routes!(find_week))
}

#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
struct Ask {
    /// Any local day of the week; this week if left out.
    #[param(value_type = Option<String>, format = Date)]
    week: Option<String>,
}

/// How many are free from a moment on.
#[derive(Serialize, ToSchema)]
struct FreeBody {
    #[schema(value_type = String, format = DateTime)]
    from: Timestamp,
    free: u32,
}

/// A set of clamps during an opening.
#[derive(Serialize, ToSchema)]
struct ClampSetBody {
    id: i64,
    #[schema(example = "long clamps")]
    name: String,
    /// In millimetres.
    #[schema(value_type = f64)]
    reach: Option<serde_json::Value>,
    /// How many there are.
    count: u32,
    free: Vec<FreeBody>,
}

#[derive(Serialize, ToSchema)]
struct OpeningBody {
    #[schema(value_type = String, format = DateTime)]
    from: Timestamp,
    #[schema(value_type = String, format = DateTime)]
    to: Timestamp,
    /// A steward is on duty, so the machines may run.
    machines: bool,
    note: String,
    clamps: Vec<ClampSetBody>,
}

#[derive(Serialize, ToSchema)]
struct ClosureBody {
    #[schema(value_type = String, format = Date)]
    day: String,
    reason: String,
}

/// A week from Monday on.
#[derive(Serialize, ToSchema)]
struct WeekBody {
    #[schema(value_type = String, format = Date, example = "2027-03-01")]
    monday: String,
    openings: Vec<OpeningBody>,
    closures: Vec<ClosureBody>,
    /// Everybody's, by time.
    bookings: Vec<BookingBody>,
    /// What does not fit together any more: work outside the openings, more in use than there is, one person in two places.
    conflicts: Vec<String>,
}

/// A week's openings with the clamps that are free in them, and everybody's bookings.
#[utoipa::path(get, path = "/api/v1/glue-ups", tag = "plans", security(("token" = [])), params(Ask),
    responses((status = 200, body = WeekBody), (status = 400)))]
async fn find_week(
    State(app): State<App>,
    Query(ask): Query<Ask>,
) -> Result<Json<WeekBody>, Error> {
    let week = Week::load(&app, ask.week.as_deref()).await?;
    let uses: Vec<_> = week.uses.iter().map(|used| used.used.clone()).collect();
    let sets: Vec<_> = week
        .ground
        .resources
        .iter()
        .filter(|resource| resource.about.kind == ResourceKind::ClampSet)
        .collect();
    let openings = week.ground.hours.openings(week.monday, week.sunday());
    let openings = openings.iter().map(|span| OpeningBody {
        from: span.from,
        to: span.to,
        machines: span.machines,
        note: span.note.clone(),
        clamps: sets
            .iter()
            .map(|set| ClampSetBody {
                id: set.id.0,
                name: set.about.name.clone(),
                reach: set.about.reach.map(to_json),
                count: set.about.capacity,
                free: free_over(set, &uses, span.from, span.to)
                    .into_iter()
                    .map(|(from, free)| FreeBody { from, free })
                    .collect(),
            })
            .collect(),
    });
    Ok(Json(WeekBody {
        monday: week.monday.to_string(),
        openings: openings.collect(),
        closures: week
            .days()
            .filter_map(|day| {
                let closure = week.ground.hours.closure_on(day)?;
                Some(ClosureBody {
                    day: day.to_string(),
                    reason: closure.days.reason.clone(),
                })
            })
            .collect(),
        bookings: week
            .bookings
            .iter()
            .map(|known| BookingBody::new(known, &week.uses, &week.ground.resources))
            .collect(),
        conflicts: week.conflicts(),
    }))
}
