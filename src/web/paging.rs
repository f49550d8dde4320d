use axum::extract::{FromRequestParts, OriginalUri};
use axum::http::request::Parts;
use axum::http::{HeaderValue, Uri, header};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::IntoParams;

use super::{Error, Json, Query};
use crate::app::App;

/// Where a list goes on, from its query: `?after=CURSOR&limit=50`.
///
/// A cursor is the sort key of the last thing of the page before; what comes after it is stable while others add and remove.
#[derive(Clone, Debug)]
pub struct Paging {
    /// Absent on the first page.
    pub after: Option<String>,
    pub limit: u32,
    uri: Uri,
}

/// The two query fields of a list, for the API's description: `params(PagingParams)`.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct PagingParams {
    /// The cursor from the `next` of the page before.
    pub after: Option<String>,
    /// How many things at most, 1 to 500; 100 if left out.
    pub limit: Option<u32>,
}

impl Paging {
    /// The cursor as a key of the list.
    ///
    /// # Errors
    /// 400 if it is none that this list gave out.
    pub fn after<T: std::str::FromStr>(&self) -> Result<Option<T>, Error> {
        self.after
            .as_deref()
            .map(|cursor| {
                cursor.parse().map_err(|_| {
                    Error::Malformed(format!(
                        "after is {cursor:?}; must be the cursor from the page before."
                    ))
                })
            })
            .transpose()
    }

    /// How many rows to ask the database for: one more than is shown tells whether there is a next page.
    #[must_use]
    pub fn rows(&self) -> i64 {
        i64::from(self.limit) + 1
    }

    /// Makes the page from the rows asked for; `cursor` is the sort key of one.
    #[must_use]
    pub fn page<T>(self, mut items: Vec<T>, cursor: impl Fn(&T) -> String) -> Paged<T> {
        let limit = self.limit as usize;
        let has_more = items.len() > limit;
        items.truncate(limit);
        let next = if has_more {
            items.last().map(cursor)
        } else {
            None
        };
        Paged {
            items,
            next,
            paging: self,
        }
    }
}

impl FromRequestParts<App> for Paging {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, Error> {
        let Query(params) = Query::<PagingParams>::from_request_parts(parts, app).await?;
        let limit = params.limit.unwrap_or(100);
        if !(1..=500).contains(&limit) {
            return Err(Error::Malformed(format!(
                "limit is {limit}; must be from 1 to 500."
            )));
        }
        let uri = parts
            .extensions
            .get::<OriginalUri>()
            .map_or_else(|| parts.uri.clone(), |OriginalUri(uri)| uri.clone());
        Ok(Paging {
            after: params.after,
            limit,
            uri,
        })
    }
}

/// One page of a list: `{"items": [..], "next": ".."}`, with a `Link` header (RFC 8288) to the next.
#[derive(Debug)]
pub struct Paged<T> {
    items: Vec<T>,
    next: Option<String>,
    paging: Paging,
}

impl<T> Paged<T> {
    /// The same page of other things.
    #[must_use]
    pub fn map<U>(self, print: impl FnMut(T) -> U) -> Paged<U> {
        Paged {
            items: self.items.into_iter().map(print).collect(),
            next: self.next,
            paging: self.paging,
        }
    }
}

#[derive(Serialize)]
struct Body<T> {
    items: Vec<T>,
    #[serde(skip_serializing_if = "Option::is_none")]
    next: Option<String>,
}

impl<T: Serialize> IntoResponse for Paged<T> {
    fn into_response(self) -> Response {
        let link = self
            .next
            .as_deref()
            .map(|next| link_to(&self.paging.uri, next));
        let mut response = Json(Body {
            items: self.items,
            next: self.next,
        })
        .into_response();
        if let Some(link) = link.and_then(|link| HeaderValue::from_str(&link).ok()) {
            response.headers_mut().insert(header::LINK, link);
        }
        response
    }
}

/// The same list after another cursor; the other query fields stay.
fn link_to(uri: &Uri, next: &str) -> String {
    let mut query = String::new();
    for pair in uri.query().unwrap_or_default().split('&') {
        if !pair.is_empty() && !pair.starts_with("after=") {
            query.push_str(pair);
            query.push('&');
        }
    }
    format!(
        "<{}?{query}after={}>; rel=\"next\"",
        uri.path(),
        percent_encoded(next)
    )
}

/// A text as it may stand in a query (RFC 3986, unreserved characters stay).
pub(super) fn percent_encoded(text: &str) -> String {
    let mut encoded = String::with_capacity(text.len());
    for byte in text.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                encoded.push(char::from(byte));
            }
            _ => encoded.push_str(&format!("%{byte:02X}")),
        }
    }
    encoded
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_page_keeps_the_other_fields() {
        let uri: Uri = "/api/v1/offcuts?species=hard%20maple&after=12&limit=2"
            .parse()
            .unwrap();
        assert_eq!(
            link_to(&uri, "B3 14"),
            "</api/v1/offcuts?species=hard%20maple&limit=2&after=B3%2014>; rel=\"next\""
        );
    }

    #[test]
    fn one_row_more_than_shown_means_another_page() {
        let paging = |limit| Paging {
            after: None,
            limit,
            uri: Uri::from_static("/"),
        };
        assert_eq!(
            paging(2)
                .page(vec![1, 2, 3], i32::to_string)
                .next
                .as_deref(),
            Some("2")
        );
        assert_eq!(paging(3).page(vec![1, 2, 3], i32::to_string).next, None);
        assert_eq!(paging(3).page(Vec::<i32>::new(), i32::to_string).next, None);
    }
}
