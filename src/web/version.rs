use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderValue, header};

use super::Error;
use crate::app::App;

/// The version of a stored thing, as its ETag says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Version(pub i64);

impl Version {
    /// The header to answer with: `return Ok((version.etag(), Json(..)))`.
    #[must_use]
    pub fn etag(self) -> [(header::HeaderName, HeaderValue); 1] {
        let value = HeaderValue::from_str(&format!("\"v{}\"", self.0))
            .expect("a number makes a header value");
        [(header::ETAG, value)]
    }
}

/// The version that a change was made to, from `If-Match`; 428 without one, 412 where it is none of ours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct IfMatch(pub Version);

impl FromRequestParts<App> for IfMatch {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, _: &App) -> Result<Self, Error> {
        let value = parts
            .headers
            .get(header::IF_MATCH)
            .ok_or(Error::VersionMissing)?;
        value
            .to_str()
            .ok()
            .and_then(|text| {
                text.trim()
                    .strip_prefix("\"v")?
                    .strip_suffix('"')?
                    .parse()
                    .ok()
            })
            .map(|version| IfMatch(Version(version)))
            .ok_or(Error::Stale)
    }
}
