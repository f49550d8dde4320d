//! Addresses that are told of changes, for scripts.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::app::App;
use crate::app::notices::{self, NoticeError};
use crate::store::NoticeAddressId;
use crate::store::notice_address::{self, NoticeAddress};
use crate::web::pages::notices::own_address;
use crate::web::pages::projects::by;
use crate::web::{Error, Json, Member, Path, Routes, Who};
use crate::wire::FieldError;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(list_notice_addresses))
        .api(Who::Member, routes!(create_notice_address))
        .api(Who::Member, routes!(update_notice_address))
        .api(Who::Member, routes!(remove_notice_address))
}

/// An address that is told of changes, without its key.
#[derive(Serialize, ToSchema)]
struct NoticeAddressBody {
    id: i64,
    #[schema(example = "https://shop.example/notices")]
    url: String,
    is_active: bool,
    /// Posts that failed one after another; after sixteen the address is turned off.
    failures: u32,
    #[schema(value_type = Option<String>, format = DateTime)]
    tried_at: Option<Timestamp>,
    #[schema(value_type = String, format = DateTime)]
    created_at: Timestamp,
}

impl NoticeAddressBody {
    fn new(address: &NoticeAddress) -> NoticeAddressBody {
        NoticeAddressBody {
            id: address.id.0,
            url: address.url.clone(),
            is_active: address.is_active,
            failures: address.failures,
            tried_at: address.tried_at,
            created_at: address.created_at,
        }
    }
}

#[derive(Serialize, ToSchema)]
struct NoticeAddressesBody {
    items: Vec<NoticeAddressBody>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NewNoticeAddress {
    #[schema(example = "https://shop.example/notices")]
    url: String,
}

#[derive(Serialize, ToSchema)]
struct NewNoticeAddressBody {
    id: i64,
    /// Signs each post; shown this once.
    key: String,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct NoticeAddressChange {
    #[schema(example = false)]
    is_active: bool,
}

/// Your addresses that are told of changes.
#[utoipa::path(get, path = "/api/v1/me/notices", tag = "members", security(("token" = [])),
    responses((status = 200, body = NoticeAddressesBody)))]
async fn list_notice_addresses(
    State(app): State<App>,
    member: Member,
) -> Result<Json<NoticeAddressesBody>, Error> {
    let found = notice_address::list_of_member(app.store.read(), member.id()).await?;
    Ok(Json(NoticeAddressesBody {
        items: found.iter().map(NoticeAddressBody::new).collect(),
    }))
}

/// Have changes posted to an address from now on.
///
/// Each post is `{"workshop", "changes": [{"id", "at", "verb", "noun", "noun_id", "detail"}]}`. The header `scrapwright-signature` holds
/// `sha256=` and the HMAC (RFC 2104, SHA-256) of the header `scrapwright-time`, a full stop and the body, with the key of this answer.
#[utoipa::path(post, path = "/api/v1/me/notices", tag = "members", security(("token" = [])), request_body = NewNoticeAddress,
    responses((status = 201, body = NewNoticeAddressBody),
        (status = 422)))]
async fn create_notice_address(
    State(app): State<App>,
    member: Member,
    Json(new): Json<NewNoticeAddress>,
) -> Result<Response, Error> {
    let wrong = |error: &NoticeError| {
        Error::Wrong(vec![FieldError {
            pointer: "/url".to_owned(),
            detail: error.to_string(),
        }])
    };
    let url = notices::read_url(&new.url).map_err(|error| wrong(&error))?;
    let mut db = app.store.begin().await?;
    let (id, key) = match notices::add(&app, &mut db, by(&app, &member), member.id(), &url).await {
        Ok(made) => made,
        Err(NoticeError::Refused(error)) => return Err(error.into()),
        Err(error) => return Err(wrong(&error)),
    };
    db.commit().await?;
    let body = NewNoticeAddressBody {
        id: id.0,
        key: key.reveal().to_owned(),
    };
    let headers = [(header::CACHE_CONTROL, "no-store")];
    Ok((StatusCode::CREATED, headers, Json(body)).into_response())
}

/// Turn an address off, or on again; it is then told of changes from then on.
#[utoipa::path(patch, path = "/api/v1/me/notices/{id}", tag = "members", security(("token" = [])), request_body = NoticeAddressChange,
    params(("id" = i64, Path)),
    responses((status = 200, body = NoticeAddressBody),
        (status = 404), (status = 422)))]
async fn update_notice_address(
    State(app): State<App>,
    member: Member,
    Path(id): Path<NoticeAddressId>,
    Json(change): Json<NoticeAddressChange>,
) -> Result<Json<NoticeAddressBody>, Error> {
    own_address(&app, member.id(), id).await?;
    let mut db = app.store.begin().await?;
    notice_address::set_active(&mut db, by(&app, &member), id, change.is_active).await?;
    db.commit().await?;
    let after = own_address(&app, member.id(), id).await?;
    Ok(Json(NoticeAddressBody::new(&after)))
}

/// Forget an address.
#[utoipa::path(delete, path = "/api/v1/me/notices/{id}", tag = "members", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 204), (status = 404)))]
async fn remove_notice_address(
    State(app): State<App>,
    member: Member,
    Path(id): Path<NoticeAddressId>,
) -> Result<StatusCode, Error> {
    own_address(&app, member.id(), id).await?;
    let mut db = app.store.begin().await?;
    notice_address::remove(&mut db, by(&app, &member), id).await?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}
