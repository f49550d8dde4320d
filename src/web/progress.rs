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
use crate::app::{App, Asker, Stop};
use crate::wire::Problem;

/// Whether the caller wants to see progress: `Accept: text/event-stream`.
pub fn wants_progress(headers: &HeaderMap) -> bool {
    headers
        .get_all(header::ACCEPT)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .any(|value| value.contains("text/event-stream"))
}

/// What a solve says while it goes on.
#[derive(Clone)]
pub struct Teller(mpsc::UnboundedSender<(&'static str, Value)>);

impl Teller {
    pub fn tell(&self, progress: Value) {
        // A receiver that is gone stops the solve by itself.
        _ = self.0.send(("progress", progress));
    }
}

/// Runs a solve in a slot and streams what it tells as server-sent events: `progress` as often as it tells, then one `answer` or
/// one `problem`. A caller who closes the connection stops the solve.
pub fn stream(
    app: &App,
    asker: Asker,
    solve: impl FnOnce(&Stop, &(dyn Fn(Value) + Sync)) -> Result<Value, Problem> + Send + 'static,
) -> Response {
    let app = app.clone();
    stream_work(async move |teller: Teller| {
        let solved = app
            .slots
            .run_for(asker, move |stop| {
                solve(stop, &|progress| teller.tell(progress))
            })
            .await?;
        solved.map_err(Error::Calculation)
    })
}

/// The same for work that finds its slots itself.
pub fn stream_work<F: Future<Output = Result<Value, Error>> + Send + 'static>(
    work: impl FnOnce(Teller) -> F,
) -> Response {
    let (sender, receiver) = mpsc::unbounded_channel::<(&'static str, Value)>();
    let working = work(Teller(sender.clone()));
    let task = tokio::spawn(async move {
        let last = match working.await {
            Ok(answer) => ("answer", answer),
            Err(error) => (
                "problem",
                serde_json::to_value(error.problem()).unwrap_or_default(),
            ),
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
