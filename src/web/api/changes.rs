//! What changed, as a list or as it happens, and for stewards who changed it.

use std::convert::Infallible;
use std::time::Duration;

use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use serde::Serialize;
use tokio::sync::{Semaphore, SemaphorePermit, mpsc};
use tokio::time::{Instant, MissedTickBehavior};
use tokio_stream::StreamExt as _;
use tokio_stream::wrappers::ReceiverStream;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::app::App;
use crate::app::notices::{is_told, print_change};
use crate::store::ChangeId;
use crate::store::change::{self, Change, Search, Signed};
use crate::web::pages::workshop::changes::{Asked, filter};
use crate::web::progress::wants_progress;
use crate::web::{Error, Paged, Paging, PagingParams, Query, Routes, Who};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(list_changes))
        .api(Who::Steward, routes!(list_audit_trail))
}

/// How often a stream looks for new changes.
const BETWEEN: Duration = Duration::from_secs(1);
/// So long a stream lasts; then the caller comes back with `Last-Event-ID`, and is known or not known anew.
const LONGEST: Duration = Duration::from_mins(15);
/// Changes of one look.
const AT_A_TIME: u32 = 200;
/// Streams at the same time.
static STREAMS: Semaphore = Semaphore::const_new(64);

/// One change, without who made it.
#[derive(ToSchema)]
#[expect(dead_code, reason = "documents what notices print as well")]
struct ChangeBody {
    id: i64,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// What was done, such as `created`, `changed`, `removed`, `claimed`.
    #[schema(example = "created")]
    verb: String,
    /// The kind of thing.
    #[schema(example = "offcut")]
    noun: String,
    /// Its number, or whatever else names it.
    #[schema(example = "17")]
    noun_id: String,
    detail: String,
}

#[derive(ToSchema)]
#[expect(dead_code, reason = "documents a page of changes")]
struct ChangesBody {
    items: Vec<ChangeBody>,
    /// The cursor of the next page.
    next: Option<String>,
}

/// One change with who made it.
#[derive(Serialize, ToSchema)]
struct SignedBody {
    id: i64,
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// The member who made it; nobody where the program did it by itself, as it ends claims.
    member: Option<i64>,
    #[schema(example = "Odile Marram")]
    member_name: Option<String>,
    /// What was done, such as `created`, `changed`, `removed`, `claimed`.
    #[schema(example = "created")]
    verb: String,
    /// The kind of thing.
    #[schema(example = "offcut")]
    noun: String,
    /// Its number, or whatever else names it.
    #[schema(example = "17")]
    noun_id: String,
    detail: String,
}

impl SignedBody {
    fn new(signed: Signed) -> SignedBody {
        let change = signed.change;
        SignedBody {
            id: change.id.0,
            at: change.at,
            member: change.member.map(|member| member.0),
            member_name: signed.member_name,
            verb: change.verb,
            noun: change.noun,
            noun_id: change.noun_id,
            detail: change.detail,
        }
    }
}

#[derive(ToSchema)]
#[expect(dead_code, reason = "documents a page of the audit trail")]
struct AuditTrailBody {
    items: Vec<SignedBody>,
    /// The cursor of the next page.
    next: Option<String>,
}

/// Who changed what, the newest first.
#[utoipa::path(get, path = "/api/v1/audit-trail", tag = "ledger", security(("token" = [])), params(Asked, PagingParams),
    responses((status = 200, body = AuditTrailBody), (status = 422)))]
async fn list_audit_trail(
    State(app): State<App>,
    Query(asked): Query<Asked>,
    paging: Paging,
) -> Result<Paged<SignedBody>, Error> {
    let search = Search {
        before: paging.after::<ChangeId>()?,
        limit: paging.limit + 1,
        ..filter(&asked)?
    };
    let found = change::list_newest(app.store.read(), &search).await?;
    let page = paging.page(found, |signed| signed.change.id.to_string());
    Ok(page.map(SignedBody::new))
}

/// What changed, the oldest first.
///
/// With `Accept: text/event-stream` it is a stream that goes on: each event is a `change` with its number, from the one after
/// `Last-Event-ID` (or `after`) on, or from now on without one. A stream ends after a quarter of an hour; the header
/// `Last-Event-ID`, which every reader of such streams sends by itself, goes on where it ended.
#[utoipa::path(get, path = "/api/v1/changes", tag = "ledger", security(("token" = [])),
    params(PagingParams, ("Last-Event-ID" = Option<String>, Header, description = "The number of the last change that was read from a stream")),
    responses((status = 200, content((ChangesBody = "application/json"), (String = "text/event-stream")))))]
async fn list_changes(
    State(app): State<App>,
    headers: HeaderMap,
    paging: Paging,
) -> Result<Response, Error> {
    let after = paging.after::<ChangeId>()?;
    if !wants_progress(&headers) {
        let rows = u32::try_from(paging.rows()).unwrap_or(u32::MAX);
        let found = told_after(&app, after.unwrap_or(ChangeId(0)), rows).await?;
        let page = paging.page(found, |change| change.id.to_string());
        return Ok(page.map(|change| print_change(&change)).into_response());
    }
    let seen = match headers.get("last-event-id") {
        None => after,
        Some(value) => Some(
            value
                .to_str()
                .ok()
                .and_then(|text| text.parse().ok())
                .ok_or_else(|| {
                    Error::Malformed("Last-Event-ID must be the number of a change.".into())
                })?,
        ),
    };
    let seen = match seen {
        Some(seen) => seen,
        None => change::newest(app.store.read()).await?,
    };
    let permit = STREAMS.try_acquire().map_err(|_| Error::Busy)?;
    Ok(stream(app, seen, permit))
}

/// The first `rows` changes after one that other programs may hear of.
async fn told_after(app: &App, after: ChangeId, rows: u32) -> Result<Vec<Change>, Error> {
    let mut told = Vec::new();
    let mut seen = after;
    loop {
        let some = change::list_after(app.store.read(), seen, rows.max(AT_A_TIME)).await?;
        let Some(last) = some.last() else { break };
        seen = last.id;
        told.extend(some.into_iter().filter(is_told));
        if told.len() >= rows as usize {
            told.truncate(rows as usize);
            break;
        }
    }
    Ok(told)
}

fn stream(app: App, seen: ChangeId, permit: SemaphorePermit<'static>) -> Response {
    let (sender, receiver) = mpsc::channel::<Event>(16);
    tokio::spawn(async move {
        let _permit = permit;
        let ends_at = Instant::now() + LONGEST;
        tokio::select! {
            () = follow(&app, seen, &sender) => {}
            () = app.shutdown.cancelled() => {}
            () = sender.closed() => {}
            () = tokio::time::sleep_until(ends_at) => {}
        }
    });
    let events = ReceiverStream::new(receiver).map(Ok::<_, Infallible>);
    let keep_alive = KeepAlive::new().interval(Duration::from_secs(10));
    let mut response = Sse::new(events).keep_alive(keep_alive).into_response();
    // A proxy must not collect the events.
    response
        .headers_mut()
        .insert("x-accel-buffering", HeaderValue::from_static("no"));
    response
}

/// Tells changes until nobody listens any more.
async fn follow(app: &App, mut seen: ChangeId, sender: &mpsc::Sender<Event>) {
    let mut ticks = tokio::time::interval(BETWEEN);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        ticks.tick().await;
        let changes = match change::list_after(app.store.read(), seen, AT_A_TIME).await {
            Ok(changes) => changes,
            Err(error) => {
                tracing::warn!(%error, "changes could not be read for a stream");
                return;
            }
        };
        for change in changes {
            seen = change.id;
            if !is_told(&change) {
                continue;
            }
            let event = Event::default()
                .id(change.id.to_string())
                .event("change")
                .data(print_change(&change).to_string());
            if sender.send(event).await.is_err() {
                return;
            }
        }
    }
}
