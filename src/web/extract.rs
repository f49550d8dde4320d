//! Extractors whose every rejection has our faces.

use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, Request};
use axum::http::request::Parts;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::Error;
use crate::app::App;
use crate::wire::FieldError;

/// A JSON body, or an answer in JSON.
///
/// A body that is no JSON is 400, one of another media type 415, one that has a wrong, missing or unknown field 422 with the
/// field's JSON Pointer.
#[derive(Clone, Copy, Debug, Default)]
pub struct Json<T>(pub T);

impl<T: DeserializeOwned> FromRequest<App> for Json<T> {
    type Rejection = Error;

    async fn from_request(request: Request, app: &App) -> Result<Self, Error> {
        let JsonBody(bytes) = JsonBody::from_request(request, app).await?;
        let mut reader = serde_json::Deserializer::from_slice(&bytes);
        let value = serde_path_to_error::deserialize(&mut reader).map_err(|error| {
            let pointer = pointer(error.path());
            let inner = error.into_inner();
            if inner.is_data() {
                Error::Wrong(vec![FieldError {
                    pointer,
                    detail: said(&inner),
                }])
            } else {
                Error::Malformed(format!("The body is not JSON: {inner}."))
            }
        })?;
        reader
            .end()
            .map_err(|error| Error::Malformed(format!("The body is not JSON: {error}.")))?;
        Ok(Json(value))
    }
}

/// The bytes of a JSON body, for [`crate::wire::read`].
#[derive(Clone, Debug, Default)]
pub struct JsonBody(pub Bytes);

impl FromRequest<App> for JsonBody {
    type Rejection = Error;

    async fn from_request(request: Request, app: &App) -> Result<Self, Error> {
        if !is_json(&request) {
            return Err(Error::WrongMediaType("application/json"));
        }
        body(request, app).await.map(JsonBody)
    }
}

/// The bytes of a body, whatever its media type says: a calculation changes nothing, and scripts often send none.
#[derive(Clone, Debug, Default)]
pub(super) struct RawBody(pub Bytes);

impl FromRequest<App> for RawBody {
    type Rejection = Error;

    async fn from_request(request: Request, app: &App) -> Result<Self, Error> {
        body(request, app).await.map(RawBody)
    }
}

/// The bytes of a body, within the limit of its route.
async fn body(request: Request, app: &App) -> Result<Bytes, Error> {
    Bytes::from_request(request, app)
        .await
        .map_err(|rejection| match rejection.status() {
            StatusCode::PAYLOAD_TOO_LARGE => Error::TooLarge,
            _ => Error::Malformed("The body broke off.".into()),
        })
}

fn is_json(request: &Request) -> bool {
    let essence = request
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.split(';').next())
        .map(|value| value.trim().to_ascii_lowercase());
    essence.is_some_and(|essence| {
        essence == "application/json"
            || (essence.starts_with("application/") && essence.ends_with("+json"))
    })
}

fn pointer(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    let mut pointer = String::new();
    for segment in path {
        match segment {
            Segment::Seq { index } => pointer.push_str(&format!("/{index}")),
            Segment::Map { key } => {
                pointer.push('/');
                pointer.push_str(&key.replace('~', "~0").replace('/', "~1"));
            }
            Segment::Enum { .. } | Segment::Unknown => {}
        }
    }
    pointer
}

/// Serde's sentence without the line and column, which the pointer replaces.
fn said(error: &serde_json::Error) -> String {
    let text = error.to_string();
    match text.rfind(" at line ") {
        Some(end) => text[..end].to_owned(),
        None => text,
    }
}

impl<T: Serialize> IntoResponse for Json<T> {
    fn into_response(self) -> Response {
        match serde_json::to_vec(&self.0) {
            Ok(bytes) => ([(header::CONTENT_TYPE, "application/json")], bytes).into_response(),
            Err(error) => Error::Internal(error.into()).into_response(),
        }
    }
}

/// The query of an address.
#[derive(Clone, Copy, Debug, Default)]
pub struct Query<T>(pub T);

impl<T: DeserializeOwned> FromRequestParts<App> for Query<T> {
    type Rejection = Error;

    #[expect(
        clippy::disallowed_types,
        reason = "this is the wrapper that everybody else uses"
    )]
    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, Error> {
        axum_extra::extract::Query::from_request_parts(parts, app)
            .await
            .map(|axum_extra::extract::Query(value)| Query(value))
            .map_err(|rejection| Error::Malformed(sentence(&rejection.to_string())))
    }
}

/// The variable parts of a path. What cannot be one of ours is not found.
#[derive(Clone, Copy, Debug, Default)]
pub struct Path<T>(pub T);

impl<T: DeserializeOwned + Send> FromRequestParts<App> for Path<T> {
    type Rejection = Error;

    #[expect(
        clippy::disallowed_types,
        reason = "this is the wrapper that everybody else uses"
    )]
    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, Error> {
        axum::extract::Path::from_request_parts(parts, app)
            .await
            .map(|axum::extract::Path(value)| Path(value))
            .map_err(|_| Error::NotFound("There is nothing at this address.".into()))
    }
}

fn sentence(text: &str) -> String {
    let end = if text.ends_with('.') { "" } else { "." };
    format!("{text}{end}")
}
