use std::sync::Arc;

use axum::Router;
use axum::http::header;
use axum::response::IntoResponse as _;
use axum::routing::get;
use utoipa::OpenApi;
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};

use crate::app::App;

/// The frame of the API's description; paths and schemas come from the handlers.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "Scrapwright",
        description = "From shared offcuts to finished kitchen gifts by a date.\n\n\
            Lengths in requests are a number of millimetres or a string with its unit (`\"17 1/2 in\"`); in answers a number of millimetres. \
            An unknown field is an error.\n\n\
            ## Known quirks\n\
            - Errors are problem documents (RFC 9457); `errors` holds a JSON Pointer for each wrong field.\n\
            - A change needs `If-Match` with the ETag that was read, and is refused with 412 when somebody was quicker.\n\
            - `POST` calls honour `Idempotency-Key` for two days; a kept answer carries `Idempotency-Replayed: true`.\n\
            - Lists page by `after` and `limit`; the next page is in `next` and in the `Link` header.",
    ),
    servers((url = "/"))
)]
struct Frame;

pub(in crate::web) fn empty_document() -> utoipa::openapi::OpenApi {
    let mut document = Frame::openapi();
    let components = document.components.get_or_insert_default();
    components.add_security_scheme(
        "token",
        SecurityScheme::Http(Http::new(HttpAuthScheme::Bearer)),
    );
    document
}

/// Serves the description that the routes gave. It is public, as it holds nothing of the workshop.
pub(in crate::web) fn document(document: utoipa::openapi::OpenApi) -> Router<App> {
    let text: Arc<str> = document.to_json().unwrap_or_default().into();
    Router::new().route(
        "/api/v1/openapi.json",
        get(move || async move {
            (
                [(header::CONTENT_TYPE, "application/json")],
                text.to_string(),
            )
                .into_response()
        }),
    )
}
