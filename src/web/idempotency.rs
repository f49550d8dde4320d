use axum::body::{Body, to_bytes};
use axum::extract::Request;
use axum::http::{HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use sha2::{Digest, Sha256};

use super::Error;
use crate::app::{App, Caller};
use crate::store::idempotency::{self, KeptAnswer};
use crate::wire::FieldError;

/// The largest request and the largest answer that are handled under a key.
const LIMIT: usize = 1024 * 1024;

const KEPT_HEADERS: [HeaderName; 4] = [
    header::CONTENT_TYPE,
    header::LOCATION,
    header::ETAG,
    header::LINK,
];

/// Answers a `POST` to the JSON interface at most once for each `Idempotency-Key` of a member.
///
/// The same key with the same request gets the kept answer; with another request 422; while the first is at work, or after it was
/// interrupted, 409. An answer of 500 and above keeps nothing, so the call can be repeated.
pub(super) async fn once(
    app: &App,
    caller: Option<&Caller>,
    request: Request,
    next: Next,
) -> Response {
    let is_call = request.method() == Method::POST && request.uri().path().starts_with("/api/");
    let key = request.headers().get("idempotency-key").cloned();
    match (key, caller) {
        (Some(key), Some(caller)) if is_call => keyed(app, caller, &key, request, next)
            .await
            .unwrap_or_else(IntoResponse::into_response),
        _ => next.run(request).await,
    }
}

async fn keyed(
    app: &App,
    caller: &Caller,
    key: &HeaderValue,
    request: Request,
    next: Next,
) -> Result<Response, Error> {
    let key = key
        .to_str()
        .ok()
        .filter(|key| (1..=200).contains(&key.len()))
        .ok_or_else(|| {
            Error::Malformed("Idempotency-Key must be 1 to 200 ASCII characters.".into())
        })?;
    let member_id = caller.member.id;
    let (head, body) = request.into_parts();
    let body = to_bytes(body, LIMIT).await.map_err(|_| Error::TooLarge)?;
    let mut digest = Sha256::new();
    for part in [
        head.method.as_str().as_bytes(),
        head.uri.to_string().as_bytes(),
        &body,
    ] {
        digest.update(part.len().to_be_bytes());
        digest.update(part);
    }
    let request_hash = digest.finalize();

    let mut db = app.store.begin().await?;
    let is_first =
        idempotency::begin(&mut db, member_id, key, &request_hash, app.clock.now()).await?;
    let kept = idempotency::find(&mut *db, member_id, key).await?;
    db.commit().await?;
    if !is_first {
        let kept = kept.ok_or(Error::Busy)?;
        if kept.request_hash != request_hash[..] {
            return Err(Error::Wrong(vec![FieldError {
                pointer: String::new(),
                detail: "This Idempotency-Key was used for another request; use a new one.".into(),
            }]));
        }
        return match kept.answer {
            Some(answer) => Ok(replayed(answer)),
            None => Err(Error::Conflict(
                "The first call with this Idempotency-Key is still at work, or was interrupted. Look whether it was done \
                 before you repeat it with a new key."
                    .into(),
            )),
        };
    }

    let response = next.run(Request::from_parts(head, Body::from(body))).await;
    let (head, body) = response.into_parts();
    let is_refused_face = head.extensions.get::<super::error::Report>().is_some();
    if head.status.is_server_error() || head.status.is_client_error() || is_refused_face {
        // Nothing was made, so the corrected or repeated call may use the key again.
        let mut db = app.store.begin().await?;
        idempotency::forget(&mut db, member_id, key).await?;
        db.commit().await?;
        return Ok(Response::from_parts(head, body));
    }
    let body = to_bytes(body, LIMIT)
        .await
        .map_err(|error| Error::Internal(error.into()))?;
    let headers = KEPT_HEADERS
        .iter()
        .filter_map(|name| {
            Some(format!(
                "{name}: {}\n",
                head.headers.get(name)?.to_str().ok()?
            ))
        })
        .collect();
    let answer = KeptAnswer {
        status: head.status.as_u16(),
        headers,
        body: body.to_vec(),
    };
    let mut db = app.store.begin().await?;
    idempotency::finish(&mut db, member_id, key, &answer).await?;
    db.commit().await?;
    Ok(Response::from_parts(head, Body::from(body)))
}

fn replayed(answer: KeptAnswer) -> Response {
    let status = StatusCode::from_u16(answer.status).unwrap_or(StatusCode::OK);
    let mut response = (status, answer.body).into_response();
    let headers = response.headers_mut();
    headers.remove(header::CONTENT_TYPE);
    for line in answer.headers.lines() {
        if let Some((name, value)) = line.split_once(": ")
            && let (Ok(name), Ok(value)) =
                (HeaderName::try_from(name), HeaderValue::from_str(value))
        {
            headers.insert(name, value);
        }
    }
    headers.insert("idempotency-replayed", HeaderValue::from_static("true"));
    response
}
