//! When the workshop is open, for scripts: the hours of a span of days, and the rules they follow from.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use super::{day, note, read};
use crate::app::hours::Hours;
use crate::app::opening_rule::{self as rules, KeptRule, Rule, RuleKind, clock, parse_clock};
use crate::app::{App, days};
use crate::store::opening::{ClosedDays, ExtraHours, WeeklyHours};
use crate::store::workshop;
use crate::web::{Error, IfMatch, Json, JsonBody, Path, Query, Routes, Steward, Version, Who};
use crate::wire::{FieldError, Node};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Visitor, routes!(list_openings))
        .api(Who::Visitor, routes!(list_rules))
        .api(Who::Steward, routes!(create_rule))
        .api(Who::Visitor, routes!(find_rule))
        .api(Who::Steward, routes!(update_rule))
        .api(Who::Steward, routes!(remove_rule))
}

/// The longest span of days that is answered at once.
const LONGEST_SPAN: i32 = 400;

fn kind_of(word: &str) -> Result<RuleKind, Error> {
    match word {
        "weekly" => Ok(RuleKind::Weekly),
        "extra" => Ok(RuleKind::Extra),
        "closures" => Ok(RuleKind::Closure),
        _ => Err(Error::NotFound(
            "There are weekly openings, extra ones, and closures.".into(),
        )),
    }
}

/// One opening.
#[derive(Serialize, ToSchema)]
struct SpanBody {
    /// The local day.
    #[schema(example = "2027-03-01")]
    day: String,
    #[schema(value_type = String, format = DateTime)]
    from: Timestamp,
    #[schema(value_type = String, format = DateTime)]
    to: Timestamp,
    /// A steward is on duty, so machines may run.
    machines: bool,
    note: String,
}

#[derive(Serialize, ToSchema)]
struct SpansBody {
    #[schema(example = "Europe/Paris")]
    time_zone: String,
    items: Vec<SpanBody>,
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct Asked {
    /// The first day, such as `2027-03-01`; today if left out.
    #[serde(default)]
    from: String,
    /// The last day; two weeks later if left out.
    #[serde(default)]
    to: String,
}

/// When the workshop is open, closures left out.
#[utoipa::path(get, path = "/api/v1/openings", tag = "workshop", security((), ("token" = [])), params(Asked),
    responses((status = 200, body = SpansBody), (status = 422)))]
async fn list_openings(
    State(app): State<App>,
    Query(asked): Query<Asked>,
) -> Result<Json<SpansBody>, Error> {
    let now = app.clock.now();
    let mut db = app.store.read().acquire().await?;
    let zone = workshop::get(&mut *db).await?.time_zone;
    let mut errors = Vec::new();
    let mut day = |field: &str, text: &str, otherwise: Date| {
        if text.is_empty() {
            return otherwise;
        }
        super::day_of(text).unwrap_or_else(|detail| {
            errors.push(FieldError {
                pointer: format!("/{field}"),
                detail,
            });
            otherwise
        })
    };
    let from = day("from", &asked.from, days::day_of(now, &zone));
    let to = day("to", &asked.to, days::days_after(from, 13));
    if errors.is_empty() && !(0..=LONGEST_SPAN).contains(&(to - from).get_days()) {
        errors.push(FieldError {
            pointer: "/to".to_owned(),
            detail: format!(
                "is {to}; must be from {from}, the first day, to {LONGEST_SPAN} days later"
            ),
        });
    }
    if !errors.is_empty() {
        return Err(Error::Wrong(errors));
    }
    let hours = Hours::load(&mut db, days::instant_of(from, 0, &zone)).await?;
    let spans = hours.openings(from, to).into_iter().map(|span| SpanBody {
        day: span.day.to_string(),
        from: span.from,
        to: span.to,
        machines: span.machines,
        note: span.note,
    });
    Ok(Json(SpansBody {
        time_zone: zone.iana_name().unwrap_or("UTC").to_owned(),
        items: spans.collect(),
    }))
}

/// A rule; which fields it has depends on its kind.
#[derive(Serialize, ToSchema)]
struct RuleBody {
    id: i64,
    /// `weekly`, `extra` or `closures`.
    #[schema(example = "weekly")]
    kind: &'static str,
    /// Monday is 1 (ISO 8601).
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = 1)]
    weekday: Option<i8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    day: Option<String>,
    /// Local time; `24:00` is the midnight after.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "18:00")]
    from: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "21:00")]
    to: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    machines: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "2027-03-01")]
    first_day: Option<String>,
    /// Of weekly hours without it, there is no last day.
    #[serde(skip_serializing_if = "Option::is_none")]
    last_day: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
    version: i64,
}

impl RuleBody {
    fn new(kept: &KeptRule) -> RuleBody {
        let empty = RuleBody {
            id: kept.id,
            kind: "",
            weekday: None,
            day: None,
            from: None,
            to: None,
            machines: None,
            first_day: None,
            last_day: None,
            note: None,
            reason: None,
            version: kept.version,
        };
        match &kept.rule {
            Rule::Weekly(hours) => RuleBody {
                kind: "weekly",
                weekday: Some(hours.weekday),
                from: Some(clock(hours.from_minute)),
                to: Some(clock(hours.to_minute)),
                machines: Some(hours.machines),
                first_day: Some(hours.from_day.to_string()),
                last_day: hours.to_day.map(|day| day.to_string()),
                ..empty
            },
            Rule::Extra(hours) => RuleBody {
                kind: "extra",
                day: Some(hours.on_day.to_string()),
                from: Some(clock(hours.from_minute)),
                to: Some(clock(hours.to_minute)),
                machines: Some(hours.machines),
                note: Some(hours.note.clone()),
                ..empty
            },
            Rule::Closure(closed) => RuleBody {
                kind: "closures",
                first_day: Some(closed.from_day.to_string()),
                last_day: Some(closed.to_day.to_string()),
                reason: Some(closed.reason.clone()),
                ..empty
            },
        }
    }
}

#[derive(Serialize, ToSchema)]
struct RulesBody {
    items: Vec<RuleBody>,
}

/// What a steward says of a rule: `weekday`, `from`, `to`, `machines`, `first_day`, `last_day` of weekly hours; `day`, `from`,
/// `to`, `machines`, `note` of an extra opening; `first_day`, `last_day`, `reason` of a closure.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what `rule` reads by hand, so that every flaw is told at once"
)]
#[schema(example = json!({"weekday": 1, "from": "18:00", "to": "21:00", "machines": true}))]
struct RuleDraft {
    weekday: Option<i8>,
    day: Option<String>,
    from: Option<String>,
    to: Option<String>,
    machines: Option<bool>,
    /// Of weekly hours, today if left out.
    first_day: Option<String>,
    /// Of a closure, the first day if left out.
    last_day: Option<String>,
    note: Option<String>,
    reason: Option<String>,
}

fn minute(field: &Node<'_>) -> Option<u16> {
    match parse_clock(field.text()?) {
        Ok(minute) => Some(minute),
        Err(detail) => field.refuse(detail),
    }
}

fn rule(node: &Node<'_>, kind: RuleKind, today: Date) -> Option<Rule> {
    let rule = match kind {
        RuleKind::Weekly => {
            let body =
                node.object(&["weekday", "from", "to", "machines", "first_day", "last_day"])?;
            let weekday = body.required("weekday", |field| field.whole(1..=7));
            let from = body.required("from", |field| minute(&field));
            let to = body.required("to", |field| minute(&field));
            let machines = body.optional("machines", |field| field.boolean());
            let first = body.optional("first_day", |field| day(&field));
            let last = body.optional("last_day", |field| day(&field));
            Rule::Weekly(WeeklyHours {
                weekday: i8::try_from(weekday?).ok()?,
                from_minute: from?,
                to_minute: to?,
                machines: machines.unwrap_or(false),
                from_day: first.unwrap_or(today),
                to_day: last,
            })
        }
        RuleKind::Extra => {
            let body = node.object(&["day", "from", "to", "machines", "note"])?;
            let on_day = body.required("day", |field| day(&field));
            let from = body.required("from", |field| minute(&field));
            let to = body.required("to", |field| minute(&field));
            let machines = body.optional("machines", |field| field.boolean());
            let note = body.optional("note", |field| note(&field, 200));
            Rule::Extra(ExtraHours {
                on_day: on_day?,
                from_minute: from?,
                to_minute: to?,
                machines: machines.unwrap_or(false),
                note: note.unwrap_or_default(),
            })
        }
        RuleKind::Closure => {
            let body = node.object(&["first_day", "last_day", "reason"])?;
            let first = body.required("first_day", |field| day(&field));
            let last = body.optional("last_day", |field| day(&field));
            let reason = body.optional("reason", |field| note(&field, 200));
            let first = first?;
            Rule::Closure(ClosedDays {
                from_day: first,
                to_day: last.unwrap_or(first),
                reason: reason.unwrap_or_default(),
            })
        }
    };
    for flaw in rules::flaws(&rule) {
        node.note(flaw);
    }
    Some(rule)
}

async fn today(app: &App) -> Result<Date, Error> {
    let zone = workshop::get(app.store.read()).await?.time_zone;
    Ok(days::day_of(app.clock.now(), &zone))
}

async fn answer(app: &App, kind: RuleKind, id: i64) -> Result<Response, Error> {
    let mut db = app.store.read().acquire().await?;
    let kept = rules::find(&mut db, kind, id)
        .await?
        .ok_or_else(|| Error::NotFound("There are no such hours.".into()))?;
    Ok((Version(kept.version).etag(), Json(RuleBody::new(&kept))).into_response())
}

/// The rules of a kind; single days and closures only from today on.
#[utoipa::path(get, path = "/api/v1/openings/{kind}", tag = "workshop", security((), ("token" = [])),
    params(("kind" = String, Path, description = "`weekly`, `extra` or `closures`", example = "weekly")),
    responses((status = 200, body = RulesBody)))]
async fn list_rules(
    State(app): State<App>,
    Path(kind): Path<String>,
) -> Result<Json<RulesBody>, Error> {
    let kind = kind_of(&kind)?;
    let today = today(&app).await?;
    let mut db = app.store.read().acquire().await?;
    let kept = rules::list(&mut db, kind, today).await?;
    Ok(Json(RulesBody {
        items: kept.iter().map(RuleBody::new).collect(),
    }))
}

/// Open every week, on a day, or close for some days.
#[utoipa::path(post, path = "/api/v1/openings/{kind}", tag = "workshop", security(("token" = [])), request_body = RuleDraft,
    params(("kind" = String, Path, description = "`weekly`, `extra` or `closures`", example = "weekly")),
    responses((status = 201, body = RuleBody)))]
async fn create_rule(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(word): Path<String>,
    body: JsonBody,
) -> Result<Response, Error> {
    let kind = kind_of(&word)?;
    let today = today(&app).await?;
    let new = read(&body, |node| rule(&node, kind, today))?;
    let mut db = app.store.begin().await?;
    let id = rules::create(&mut db, app.by(&caller), &new).await?;
    db.commit().await?;
    let location = format!("/api/v1/openings/{word}/{id}");
    Ok((
        StatusCode::CREATED,
        [(header::LOCATION, location)],
        answer(&app, kind, id).await?,
    )
        .into_response())
}

/// One rule.
#[utoipa::path(get, path = "/api/v1/openings/{kind}/{id}", tag = "workshop", security((), ("token" = [])),
    params(("kind" = String, Path, example = "weekly"), ("id" = i64, Path, example = 1)),
    responses((status = 200, body = RuleBody)))]
async fn find_rule(
    State(app): State<App>,
    Path((kind, id)): Path<(String, i64)>,
) -> Result<Response, Error> {
    answer(&app, kind_of(&kind)?, id).await
}

/// Change a rule; the whole of it is written. What is booked already stays where it is.
#[utoipa::path(put, path = "/api/v1/openings/{kind}/{id}", tag = "workshop", security(("token" = [])), request_body = RuleDraft,
    params(("kind" = String, Path, example = "weekly"), ("id" = i64, Path, example = 1),
        ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = RuleBody)))]
async fn update_rule(
    State(app): State<App>,
    Steward(caller): Steward,
    Path((kind, id)): Path<(String, i64)>,
    IfMatch(Version(version)): IfMatch,
    body: JsonBody,
) -> Result<Response, Error> {
    let kind = kind_of(&kind)?;
    let today = today(&app).await?;
    let new = read(&body, |node| rule(&node, kind, today))?;
    answer(&app, kind, id).await?;
    let mut db = app.store.begin().await?;
    rules::update(&mut db, app.by(&caller), id, version, &new).await?;
    db.commit().await?;
    answer(&app, kind, id).await
}

/// Remove a rule. What is booked stays booked.
#[utoipa::path(delete, path = "/api/v1/openings/{kind}/{id}", tag = "workshop", security(("token" = [])),
    params(("kind" = String, Path, example = "weekly"), ("id" = i64, Path, example = 1),
        ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 204, description = "It is gone")))]
async fn remove_rule(
    State(app): State<App>,
    Steward(caller): Steward,
    Path((kind, id)): Path<(String, i64)>,
    IfMatch(Version(version)): IfMatch,
) -> Result<StatusCode, Error> {
    let kind = kind_of(&kind)?;
    answer(&app, kind, id).await?;
    let mut db = app.store.begin().await?;
    rules::remove(&mut db, app.by(&caller), kind, id, version).await?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}
