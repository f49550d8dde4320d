use std::convert::Infallible;
use std::time::Duration;

use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use serde_json::Value;
use tokio::sync::mpsc;
use tokio_stream::StreamExt as _;
use tokio_stream::wrappers::UnboundedReceiverStream;
use tokio_util::task::AbortOnDropHandle;

use super::Error;
use crate::app::{App, Stop};
use crate::wire::Problem;

/// Whether the caller wants to see progress: `Accept: text/event-stream`.
pub fn wants_progress(headers: &HeaderMap) -> bool {
    headers
        .get_all(header::ACCEPT)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .any(|value| value.contains("text/event-stream"))
}

/// Runs a solve in a slot and streams what it tells as server-sent events: `progress` as often as it tells, then one `answer` or
/// one `problem`. A caller who closes the connection stops the solve.
pub fn stream(
    app: &App,
    solve: impl FnOnce(&Stop, &(dyn Fn(Value) + Sync)) -> Result<Value, Problem> + Send + 'static,
) -> Response {
    let (sender, receiver) = mpsc::unbounded_channel::<(&'static str, Value)>();
    let app = app.clone();
    let task = tokio::spawn(async move {
        let teller = sender.clone();
        let solved = app
            .slots
            .run(move |stop| {
                // A receiver that is gone has stopped the solve already.
                solve(stop, &|progress| _ = teller.send(("progress", progress)))
            })
            .await;
        let last = match solved {
            Ok(Ok(answer)) => ("answer", answer),
            Ok(Err(problem)) => ("problem", serde_json::to_value(problem).unwrap_or_default()),
            Err(busy) => {
                let error = Error::from(busy);
                let (kind, title) = error.kind();
                let problem = Problem {
                    kind,
                    status: error.status().as_u16(),
                    title: title.to_owned(),
                    detail: error.detail(),
                    errors: Vec::new(),
                };
                ("problem", serde_json::to_value(problem).unwrap_or_default())
            }
        };
        _ = sender.send(last);
    });
    let running = AbortOnDropHandle::new(task);
    let events = UnboundedReceiverStream::new(receiver).map(move |(name, data)| {
        // The solve lives as long as somebody reads its events.
        let _ = &running;
        Ok::<_, Infallible>(Event::default().event(name).data(data.to_string()))
    });
    let keep_alive = KeepAlive::new().interval(Duration::from_secs(10));
    let mut response = Sse::new(events).keep_alive(keep_alive).into_response();
    // A proxy must not collect the events.
    response
        .headers_mut()
        .insert("x-accel-buffering", HeaderValue::from_static("no"));
    response
}
