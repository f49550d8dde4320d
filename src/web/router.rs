use std::sync::OnceLock;

use axum::Router;
use axum::extract::{Request, State};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse as _, Response};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::csrf::CsrfLayer;
use utoipa::openapi::OpenApi;

use super::{Error, Route, Routes, api, assets, calendar, faces, headers, log, pages, watch};
use crate::app::{App, claim};

/// The whole service, as `serve` and the tests call it.
pub fn router(app: App) -> Router {
    let (router, _, _) = all_routes(&app).into_parts();
    let csrf = match CsrfLayer::new().add_trusted_origin(&app.config.public_url) {
        Ok(layer) => layer,
        Err(error) => {
            // A URL that the configuration accepted but no browser would send trusts nothing more than the Host header does.
            tracing::warn!(%error, "the public URL is not an origin that a browser sends");
            CsrfLayer::new()
        }
    };
    // The layer that is added last sees a request first.
    router
        .fallback(nothing_here)
        .method_not_allowed_fallback(wrong_method)
        .layer(from_fn_with_state(app.clone(), lapse_first))
        .layer(csrf)
        .layer(CatchPanicLayer::custom(panicked))
        .layer(from_fn_with_state(app.clone(), refuse_when_ending))
        .layer(from_fn_with_state(app.clone(), faces::dress))
        .layer(from_fn_with_state(app.clone(), headers::add))
        .layer(CompressionLayer::new())
        .layer(from_fn_with_state(app.clone(), log::log))
        .with_state(app)
}

/// Every route with who may use it.
pub fn route_table(app: &App) -> Vec<Route> {
    all_routes(app).into_parts().2
}

/// The description of the JSON interface (OpenAPI 3.1), made from its routes.
pub(super) fn description(app: &App) -> &'static OpenApi {
    static DESCRIPTION: OnceLock<OpenApi> = OnceLock::new();
    DESCRIPTION.get_or_init(|| {
        let (_, mut document, table) = all_routes(app).into_parts();
        api::complete(&mut document, &table);
        document
    })
}

fn all_routes(app: &App) -> Routes {
    let routes = Routes::new(app.clone(), api::empty_document());
    let routes = watch::routes(routes);
    let routes = assets::routes(routes);
    let routes = pages::routes(routes);
    let routes = calendar::routes(routes);
    api::routes(routes)
}

async fn nothing_here() -> Error {
    Error::NotFound("There is nothing at this address.".into())
}

async fn wrong_method() -> Error {
    Error::WrongMethod
}

#[expect(
    clippy::needless_pass_by_value,
    reason = "the layer hands the payload over"
)]
fn panicked(payload: Box<dyn std::any::Any + Send + 'static>) -> Response {
    let said = payload
        .downcast_ref::<String>()
        .cloned()
        .or_else(|| {
            payload
                .downcast_ref::<&str>()
                .map(|text| (*text).to_owned())
        })
        .unwrap_or_default();
    Error::Internal(anyhow::anyhow!("panicked: {said}")).into_response()
}

/// Once the program was asked to end, what comes new over open connections is told to come back.
async fn refuse_when_ending(State(app): State<App>, request: Request, next: Next) -> Response {
    if app.shutdown.is_cancelled() && request.uri().path() != "/healthz" {
        return Error::Busy.into_response();
    }
    next.run(request).await
}

/// Nobody sees a claim whose last day is over, even where the task that ends them has not come by yet.
async fn lapse_first(State(app): State<App>, request: Request, next: Next) -> Response {
    let path = request.uri().path();
    if !path.starts_with("/static/")
        && !path.starts_with("/healthz")
        && let Err(error) = claim::lapse_due(&app).await
    {
        tracing::warn!(%error, "claims whose last day is over could not be ended");
    }
    next.run(request).await
}
