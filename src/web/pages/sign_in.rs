use askama::Template;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, Uri, header};
use axum::response::{IntoResponse as _, Response};
use serde::Deserialize;

use crate::app::{App, Secret, SignInError, SignedInBy};
use crate::store::TokenHash;
use crate::web::paging::percent_encoded;
use crate::web::{
    ClientAddress, Error, Flash, Member, Query, Routes, Shell, Typed, Who, cookies, page,
    page_again, see_other,
};

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage {
    shell: Shell,
    typed: Typed,
}

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/sign-in", Who::Anyone, show)
        .post("/sign-in", Who::Anyone, sign_in)
        .post("/sign-out", Who::Anyone, sign_out)
        .post("/sign-out-everywhere", Who::Member, sign_out_everywhere)
}

/// Sends a guest to the sign-in page, and back afterwards.
pub(in crate::web) fn to_sign_in(uri: &Uri) -> Response {
    let back = uri.path_and_query().map_or("/", |path| path.as_str());
    let to = if back == "/" {
        "/sign-in".to_owned()
    } else {
        format!("/sign-in?next={}", percent_encoded(back))
    };
    let location = HeaderValue::from_str(&to).unwrap_or(HeaderValue::from_static("/sign-in"));
    (
        axum::http::StatusCode::SEE_OTHER,
        [(header::LOCATION, location)],
    )
        .into_response()
}

#[derive(Deserialize)]
struct Back {
    #[serde(default)]
    next: String,
}

async fn show(shell: Shell, Query(Back { next }): Query<Back>) -> Result<Response, Error> {
    page(&SignInPage {
        shell,
        typed: Typed::filled([("next", next)]),
    })
}

async fn sign_in(
    State(app): State<App>,
    shell: Shell,
    ClientAddress(address): ClientAddress,
    headers: HeaderMap,
    mut typed: Typed,
) -> Result<Response, Error> {
    let before = cookies::session(&app, &headers).map(|token| TokenHash::of(&token));
    let done = app
        .sign_in(address, typed.text("name"), typed.exact("password"), before)
        .await;
    match done {
        Ok(secret) => Ok(signed_in(&app, &secret, local_path(typed.text("next")))),
        Err(SignInError::Wrong) => {
            typed.refuse("name", "and password do not belong together; try again");
            page_again(&SignInPage { shell, typed })
        }
        Err(SignInError::TooMany(wait)) => Err(Error::TooMany(wait)),
        Err(SignInError::Busy) => Err(Error::Busy),
        Err(SignInError::Failed(error)) => Err(error.into()),
    }
}

/// Sends a member who has just signed in to a page, with the session's cookie.
pub(super) fn signed_in(app: &App, secret: &Secret, to: &str) -> Response {
    let mut response = see_other(to).response(app);
    let cookie = cookies::begin_session(app, secret).to_string();
    if let Ok(value) = HeaderValue::from_str(&cookie) {
        response.headers_mut().append(header::SET_COOKIE, value);
    }
    response
}

async fn sign_out(State(app): State<App>, headers: HeaderMap) -> Result<Response, Error> {
    if let Some(token) = cookies::session(&app, &headers) {
        app.sign_out(TokenHash::of(&token)).await?;
    }
    Ok(signed_out(&app, "You are signed out."))
}

async fn sign_out_everywhere(
    State(app): State<App>,
    Member(caller): Member,
) -> Result<Response, Error> {
    debug_assert!(
        matches!(caller.by, SignedInBy::Session(_)),
        "tokens do not reach pages"
    );
    app.sign_out_everywhere(caller.member.id).await?;
    Ok(signed_out(&app, "You are signed out everywhere."))
}

fn signed_out(app: &App, text: &str) -> Response {
    let mut response = see_other("/sign-in")
        .saying(Flash::done(text))
        .response(app);
    if let Ok(value) = HeaderValue::from_str(&cookies::end_session(app).to_string()) {
        response.headers_mut().append(header::SET_COOKIE, value);
    }
    response
}

/// A path of ours, or Today: a link to the sign-in page must not lead to somebody else's site.
fn local_path(next: &str) -> &str {
    let is_ours = next.starts_with('/')
        && !next.starts_with("//")
        && next
            .bytes()
            .all(|byte| byte.is_ascii_graphic() && byte != b'\\');
    if is_ours { next } else { "/" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_paths_of_ours_are_returned_to() {
        assert_eq!(local_path("/bins/3?sort=age"), "/bins/3?sort=age");
        for elsewhere in [
            "",
            "//elsewhere.example",
            "/\\elsewhere.example",
            "https://elsewhere.example",
            "/a\tb",
            "bins",
        ] {
            assert_eq!(local_path(elsewhere), "/", "{elsewhere:?}");
        }
    }
}
