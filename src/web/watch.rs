//! What tells whoever keeps the machine how the program fares.

use std::sync::LazyLock;

use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;
use metrics_exporter_prometheus::{Matcher, PrometheusBuilder, PrometheusHandle};

use super::{ClientAddress, Error, MaybeMember, Routes, Who};
use crate::app::App;

/// Metrics belong to the process: the recorder is installed once.
static METRICS: LazyLock<Option<PrometheusHandle>> = LazyLock::new(|| {
    PrometheusBuilder::new()
        .set_buckets_for_metric(
            Matcher::Suffix("_seconds".into()),
            &[
                0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 60.0,
            ],
        )
        .ok()?
        .install_recorder()
        .ok()
});

pub(super) fn routes(routes: Routes) -> Routes {
    LazyLock::force(&METRICS);
    routes
        .get("/healthz", Who::Anyone, alive)
        .get("/readyz", Who::Anyone, ready)
        .get("/metrics", Who::Anyone, metrics)
}

/// The process answers.
async fn alive() -> &'static str {
    "alive\n"
}

/// The database answers, and the program is not about to end.
async fn ready(State(app): State<App>) -> Result<&'static str, Error> {
    if app.shutdown.is_cancelled() {
        return Err(Error::Busy);
    }
    app.store.ping().await?;
    Ok("ready\n")
}

/// Prometheus text format. For stewards, and for programs on this machine.
async fn metrics(
    ClientAddress(address): ClientAddress,
    MaybeMember(caller): MaybeMember,
) -> Result<impl IntoResponse, Error> {
    if !address.is_loopback() && !caller.is_some_and(|caller| caller.is_steward()) {
        return Err(Error::Forbidden(
            "Only stewards, and programs on this machine, may read this.".into(),
        ));
    }
    let text = METRICS
        .as_ref()
        .map(PrometheusHandle::render)
        .unwrap_or_default();
    Ok(([(header::CONTENT_TYPE, "text/plain; version=0.0.4")], text))
}
