use askama::Template;
use axum::http::Method;
use axum::response::{IntoResponse as _, Response};

use crate::web::access::is_safe;
use crate::web::shell::page_with;
use crate::web::{Error, RequestId, Shell};

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage {
    shell: Shell,
    title: &'static str,
    detail: String,
    request: String,
    /// The form that was sent is still in the browser's page before.
    was_sent: bool,
    needs_sign_in: bool,
}

/// The page face of an error, with a way onward.
pub(in crate::web) fn error_page(
    shell: Shell,
    error: &Error,
    id: Option<&RequestId>,
    method: &Method,
) -> Response {
    let page = ErrorPage {
        shell,
        title: error.kind().1,
        detail: error.detail(),
        request: id.map(|RequestId(id)| id.clone()).unwrap_or_default(),
        was_sent: !is_safe(method),
        needs_sign_in: matches!(error, Error::SignInNeeded),
    };
    page_with(error.status(), &page).unwrap_or_else(|_| error.status().into_response())
}
