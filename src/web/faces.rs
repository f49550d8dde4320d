use std::sync::Arc;

use axum::body::{Body, HttpBody as _};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};
use serde::Serialize;

use super::access::{Known, is_safe};
use super::error::Report;
use super::{Error, RequestId, Shell, pages};
use crate::app::App;
use crate::wire::Problem;

/// Gives every error one of two faces: a problem document (RFC 9457) under `/api/`, a page elsewhere.
///
/// It also dresses what the libraries refuse by themselves (unknown path, wrong method, too large, cross-site, panic), so no
/// bare status reaches anybody.
pub(super) async fn dress(State(app): State<App>, request: Request, next: Next) -> Response {
    let asked = Asked {
        method: request.method().clone(),
        uri: request.uri().clone(),
        id: request.extensions().get::<RequestId>().cloned(),
        cookies: request.headers().clone(),
    };
    let response = next.run(request).await;
    if !response.status().is_client_error() && !response.status().is_server_error() {
        return response;
    }
    let Some(error) = undressed(&response) else {
        return response;
    };
    let face = if asked.uri.path().starts_with("/api/") {
        problem(&error, &asked)
    } else {
        page(&app, &error, &asked, response.extensions().get::<Known>()).await
    };
    let (mut head, _) = response.into_parts();
    let (face_head, body) = face.into_parts();
    head.status = face_head.status;
    head.headers.remove(header::CONTENT_LENGTH);
    head.headers.extend(face_head.headers);
    head.extensions.insert(Report(error));
    Response::from_parts(head, body)
}

struct Asked {
    method: Method,
    uri: Uri,
    id: Option<RequestId>,
    cookies: HeaderMap,
}

/// The error of a response that has no face yet. A failed form is an error status with its own page, and is left alone.
fn undressed(response: &Response) -> Option<Arc<Error>> {
    if let Some(Report(error)) = response.extensions().get::<Report>() {
        return Some(Arc::clone(error));
    }
    let content_type = response
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok());
    let has_face = content_type.is_some_and(|content_type| {
        content_type.starts_with("text/html") || content_type.starts_with("application/")
    });
    if has_face && !response.body().is_end_stream() {
        return None;
    }
    Some(Arc::new(match response.status() {
        StatusCode::NOT_FOUND => Error::NotFound("There is nothing at this address.".into()),
        StatusCode::METHOD_NOT_ALLOWED => Error::WrongMethod,
        StatusCode::PAYLOAD_TOO_LARGE => Error::TooLarge,
        StatusCode::FORBIDDEN => {
            Error::Forbidden("It was sent from another site's page, and so was not done.".into())
        }
        status if status.is_client_error() => {
            Error::Malformed("The request cannot be read.".into())
        }
        status => Error::Internal(anyhow::anyhow!("a bare {status}")),
    }))
}

/// A problem document with the number of its request.
#[derive(Serialize)]
struct Numbered<'a> {
    #[serde(flatten)]
    problem: Problem,
    #[serde(skip_serializing_if = "Option::is_none")]
    request_id: Option<&'a str>,
}

/// A detail quotes what was sent, which may be long: its two ends say enough.
fn quote_ends(detail: &mut String) {
    const LONGEST: usize = 1_000;
    const END: usize = 300;
    if detail.len() <= LONGEST {
        return;
    }
    let first: String = detail.chars().take(END).collect();
    let mut last: Vec<char> = detail.chars().rev().take(END).collect();
    last.reverse();
    *detail = format!("{first} … {}", String::from_iter(last));
}

fn problem(error: &Error, asked: &Asked) -> Response {
    let mut problem = error.problem();
    quote_ends(&mut problem.detail);
    for flaw in &mut problem.errors {
        quote_ends(&mut flaw.detail);
    }
    let document = Numbered {
        problem,
        request_id: asked.id.as_ref().map(|RequestId(id)| id.as_str()),
    };
    let body = serde_json::to_vec(&document).unwrap_or_default();
    let mut response = (error.status(), Body::from(body)).into_response();
    let headers = response.headers_mut();
    headers.insert(
        header::CONTENT_TYPE,
        HeaderValue::from_static("application/problem+json"),
    );
    if matches!(error, Error::SignInNeeded) {
        headers.insert(header::WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
    }
    response
}

async fn page(app: &App, error: &Error, asked: &Asked, known: Option<&Known>) -> Response {
    if matches!(error, Error::SignInNeeded) && is_safe(&asked.method) {
        return pages::to_sign_in(&asked.uri);
    }
    let caller = known.and_then(|known| known.0.clone());
    let shell = Shell::new(app, caller, &asked.cookies).await;
    pages::error_page(shell, error, asked.id.as_ref(), &asked.method)
}
