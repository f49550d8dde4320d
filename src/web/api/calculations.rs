//! Calculations without stored data: the same code that pages and projects use.

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::{IntoResponse as _, Response};
use serde::Serialize;
use serde_json::{Value, json};
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::app::{App, Asker, Stop, budget};
use crate::calc::{matching, schedule};
use crate::web::extract::RawBody;
use crate::web::progress::{stream, wants_progress};
use crate::web::{Error, Json, Path, Routes, Who};
use crate::wire;
use crate::wire::calculators::{CALCULATORS, calculator};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api_solve(Who::Anyone, routes!(calculate_match))
        .api_solve(Who::Anyone, routes!(calculate_schedule))
        .api(Who::Anyone, routes!(calculate))
        .api(Who::Anyone, routes!(list_calculations))
}

/// Match strips to offcuts: which piece yields which strip, and where to cut.
///
/// With `Accept: text/event-stream` the answer is a stream of `progress` events and one `answer` or `problem`; closing
/// the connection stops the solve.
#[utoipa::path(post, path = "/api/v1/calculations/match", tag = "calculations", request_body(content = Object,
        example = json!({"stock": [{"id": "B3-0412", "species": "hard maple", "length": "26 in", "width": "3 1/4 in", "thickness": "7/8 in"}],
            "strips": [{"id": "a", "species": ["hard maple"], "length": "17 1/2 in",
                "sections": [{"rip": "1 5/8 in", "thickness": "3/4 in"}]}]})),
    responses((status = 200, body = wire::matching::Response),
        (status = 422), (status = 429)))]
async fn calculate_match(
    State(app): State<App>,
    asker: Asker,
    headers: HeaderMap,
    RawBody(body): RawBody,
) -> Result<Response, Error> {
    let longest = app.slots.longest();
    let solve = move |stop: &Stop, tell: &(dyn Fn(matching::Progress) + Sync)| {
        wire::matching::answer(&body, |limits| budget(limits, longest, stop), tell)
    };
    if wants_progress(&headers) {
        return Ok(stream(&app, asker, move |stop, tell| {
            solve(stop, &|progress| tell(match_progress(progress))).map(value)
        }));
    }
    let answer = app
        .slots
        .run_for(asker, move |stop| solve(stop, &|_| ()))
        .await?;
    Ok(Json(answer.map_err(Error::Calculation)?).into_response())
}

/// Schedule tasks on shared resources in opening hours.
///
/// With `Accept: text/event-stream` the answer is a stream of `progress` events and one `answer` or `problem`; closing
/// the connection stops the solve.
#[utoipa::path(post, path = "/api/v1/calculations/schedule", tag = "calculations", request_body(content = Object,
        example = json!({"from": "2027-03-01T00:00", "to": "2027-03-08T00:00",
            "calendars": {"shop": [{"from": "2027-03-01T10:00", "to": "2027-03-01T20:00"}]},
            "resources": [{"id": "glue bench", "capacity": 2}],
            "tasks": [{"id": "P7 glue", "minutes": 40, "calendar": "shop", "needs": {"glue bench": 1}}]})),
    responses((status = 200, body = wire::schedule::Response),
        (status = 422), (status = 429)))]
async fn calculate_schedule(
    State(app): State<App>,
    asker: Asker,
    headers: HeaderMap,
    RawBody(body): RawBody,
) -> Result<Response, Error> {
    let longest = app.slots.longest();
    let solve = move |stop: &Stop, tell: &(dyn Fn(schedule::Progress) + Sync)| {
        wire::schedule::answer(&body, |limits| budget(limits, longest, stop), tell)
    };
    if wants_progress(&headers) {
        return Ok(stream(&app, asker, move |stop, tell| {
            solve(stop, &|progress| tell(schedule_progress(progress))).map(value)
        }));
    }
    let answer = app
        .slots
        .run_for(asker, move |stop| solve(stop, &|_| ()))
        .await?;
    Ok(Json(answer.map_err(Error::Calculation)?).into_response())
}

/// Answer one of the small calculators; `GET /api/v1/calculations` lists them.
#[utoipa::path(post, path = "/api/v1/calculations/{name}", tag = "calculations",
    params(("name" = String, Path, description = "Which calculator", example = "board-feet")),
    request_body(content = Object,
        example = json!({"length": "96 in", "width": "6 in", "thickness": "1 in", "count": 1})),
    responses((status = 200, body = Object, description = "The figures, and under `sources` where each comes from"),
        (status = 404), (status = 422)))]
async fn calculate(Path(name): Path<String>, RawBody(body): RawBody) -> Result<Json<Value>, Error> {
    let calculator = calculator(&name).ok_or_else(|| {
        Error::NotFound(format!(
            "There is no calculation {name:?}; GET /api/v1/calculations lists them."
        ))
    })?;
    (calculator.answer)(&body)
        .map(Json)
        .map_err(Error::Calculation)
}

/// A calculation that can be called.
#[derive(Serialize, ToSchema)]
struct CalculationBody {
    #[schema(example = "board-feet")]
    name: &'static str,
    summary: &'static str,
    /// A request that works.
    example: Value,
}

#[derive(Serialize, ToSchema)]
struct CalculationsBody {
    items: Vec<CalculationBody>,
}

/// The small calculators, each with a request that works.
#[utoipa::path(get, path = "/api/v1/calculations", tag = "calculations",
    responses((status = 200, body = CalculationsBody)))]
async fn list_calculations() -> Json<CalculationsBody> {
    let items = CALCULATORS.iter().map(|calculator| CalculationBody {
        name: calculator.name,
        summary: calculator.summary,
        example: serde_json::from_str(calculator.example).unwrap_or_default(),
    });
    Json(CalculationsBody {
        items: items.collect(),
    })
}

fn value(answer: impl serde::Serialize) -> Value {
    serde_json::to_value(answer).unwrap_or_default()
}

fn match_progress(progress: matching::Progress) -> Value {
    json!({
        "covered": progress.covered,
        "spend": progress.spend.units(),
        "net_wood_mm3": progress.net_wood_mm3,
        "bound": {
            "covered": progress.bound.covered,
            "spend": progress.bound.spend.units(),
            "net_wood_mm3": progress.bound.net_wood_mm3,
        },
    })
}

fn schedule_progress(progress: schedule::Progress) -> Value {
    let number = |tardiness: schedule::Tardiness| -> Value {
        serde_json::from_str(&tardiness.to_string()).unwrap_or_default()
    };
    json!({
        "tardiness_minutes": number(progress.tardiness),
        "finish": progress.finish.to_string(),
        "bound": { "tardiness_minutes": number(progress.bound) },
    })
}
