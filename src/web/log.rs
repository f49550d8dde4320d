use std::time::Instant;

use axum::extract::{MatchedPath, Request, State};
use axum::http::HeaderValue;
use axum::middleware::Next;
use axum::response::Response;
use tracing::Instrument as _;

use super::error::Report;
use crate::app::App;

/// The number by which members and stewards find a request again in the log.
#[derive(Clone, Debug)]
pub struct RequestId(pub String);

/// Numbers the request and writes one line about it. The line holds the route and not the address, which may carry a secret, and
/// nothing that a person typed.
pub(super) async fn log(State(app): State<App>, mut request: Request, next: Next) -> Response {
    let begun = Instant::now();
    let mut id = app.tokens.secret().reveal().to_owned();
    id.truncate(16);
    request.extensions_mut().insert(RequestId(id.clone()));
    let method = request.method().clone();
    let route = request
        .extensions()
        .get::<MatchedPath>()
        .map_or_else(|| "none".to_owned(), |path| path.as_str().to_owned());

    let span = tracing::info_span!("request", id);
    let mut response = next.run(request).instrument(span.clone()).await;

    let status = response.status();
    let elapsed = begun.elapsed();
    let labels = [
        ("method", method.as_str().to_owned()),
        ("route", route.clone()),
        ("status", status.as_u16().to_string()),
    ];
    metrics::counter!("scrapwright_requests_total", &labels).increment(1);
    metrics::histogram!("scrapwright_request_seconds", &labels[..2]).record(elapsed.as_secs_f64());
    let elapsed_ms = u64::try_from(elapsed.as_millis()).unwrap_or(u64::MAX);
    let entered = span.entered();
    match response.extensions().get::<Report>() {
        Some(Report(error)) if status.is_server_error() => {
            tracing::error!(%method, route, status = status.as_u16(), elapsed_ms, error = ?error, "answered");
        }
        Some(Report(error)) => {
            let kind = error.kind().0;
            tracing::info!(%method, route, status = status.as_u16(), elapsed_ms, kind, "answered");
        }
        None => tracing::info!(%method, route, status = status.as_u16(), elapsed_ms, "answered"),
    }
    drop(entered);
    if let Ok(id) = HeaderValue::from_str(&id) {
        response.headers_mut().insert("x-request-id", id);
    }
    response
}
