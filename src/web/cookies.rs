//! The two cookies: the session, and the message that a redirect carries.

use axum::http::HeaderMap;
use axum_extra::extract::cookie::{Cookie, CookieJar, SameSite};

use crate::app::{App, Secret};

/// With the prefix a browser takes the cookie only through TLS, for this host alone (draft RFC 6265bis).
fn name(app: &App, plain: &'static str, prefixed: &'static str) -> &'static str {
    if app.config.is_secure {
        prefixed
    } else {
        plain
    }
}

fn session_name(app: &App) -> &'static str {
    name(app, "scrapwright-session", "__Host-scrapwright-session")
}

fn flash_name(app: &App) -> &'static str {
    name(app, "scrapwright-said", "__Host-scrapwright-said")
}

/// The session token that a browser shows.
pub(super) fn session(app: &App, headers: &HeaderMap) -> Option<String> {
    CookieJar::from_headers(headers)
        .get(session_name(app))
        .map(|cookie| cookie.value().to_owned())
}

/// What the last redirect said, as it was encoded.
pub(super) fn flash(app: &App, headers: &HeaderMap) -> Option<String> {
    CookieJar::from_headers(headers)
        .get(flash_name(app))
        .map(|cookie| cookie.value().to_owned())
}

/// The cookie of a session that has begun. The server ends sessions; the cookie only has to outlive them.
pub(super) fn begin_session(app: &App, secret: &Secret) -> Cookie<'static> {
    let mut cookie = ours(app, session_name(app), secret.reveal().to_owned());
    cookie.make_permanent();
    cookie
}

/// Makes the browser forget its session.
pub(super) fn end_session(app: &App) -> Cookie<'static> {
    let mut cookie = ours(app, session_name(app), String::new());
    cookie.make_removal();
    cookie
}

/// Carries a message over a redirect.
pub(super) fn say(app: &App, encoded: String) -> Cookie<'static> {
    ours(app, flash_name(app), encoded)
}

/// Makes the browser forget the message.
pub(super) fn said(app: &App) -> Cookie<'static> {
    let mut cookie = ours(app, flash_name(app), String::new());
    cookie.make_removal();
    cookie
}

fn ours(app: &App, name: &'static str, value: String) -> Cookie<'static> {
    Cookie::build((name, value))
        .path("/")
        .http_only(true)
        .same_site(SameSite::Lax)
        .secure(app.config.is_secure)
        .build()
}
