use axum::extract::{Request, State};
use axum::http::{HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::Response;

use super::cookies;
use crate::app::App;

/// Nothing may be loaded but what this program serves itself, nothing runs inline, and nobody may frame a page.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; font-src 'self'; \
                      connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

const ALWAYS: [(HeaderName, &str); 6] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::REFERRER_POLICY, "same-origin"),
    (
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    ),
    (
        HeaderName::from_static("permissions-policy"),
        "camera=(), geolocation=(), microphone=()",
    ),
];

/// The headers that every response carries. One that is set already stays as it is.
pub(super) async fn add(State(app): State<App>, request: Request, next: Next) -> Response {
    let has_flash = cookies::flash(&app, request.headers()).is_some();
    let is_api = request.uri().path().starts_with("/api/");
    let mut response = next.run(request).await;
    let shows_page = response
        .headers()
        .get(header::CONTENT_TYPE)
        .is_some_and(|value| value.as_bytes().starts_with(b"text/html"));
    let headers = response.headers_mut();
    for (name, value) in ALWAYS {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    }
    if app.config.is_secure {
        headers.insert(
            header::STRICT_TRANSPORT_SECURITY,
            HeaderValue::from_static("max-age=31536000"),
        );
    }
    if is_api || shows_page {
        headers
            .entry(header::CACHE_CONTROL)
            .or_insert(HeaderValue::from_static("private, no-cache"));
    }
    // The page that was just rendered has shown the message.
    if has_flash
        && shows_page
        && let Ok(value) = HeaderValue::from_str(&cookies::said(&app).to_string())
    {
        headers.append(header::SET_COOKIE, value);
    }
    response
}
