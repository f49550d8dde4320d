//! Bins for scripts.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use super::{note, read, title};
use crate::app::App;
use crate::store::bin::{self, Bin, NewBin};
use crate::store::{BinId, Refusal};
use crate::web::{Error, IfMatch, Json, JsonBody, Path, Routes, Steward, Version, Who};
use crate::wire::Node;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Visitor, routes!(list_bins))
        .api(Who::Steward, routes!(create_bin))
        .api(Who::Visitor, routes!(find_bin))
        .api(Who::Steward, routes!(update_bin))
        .api(Who::Steward, routes!(remove_bin))
}

#[derive(Serialize, ToSchema)]
struct BinBody {
    id: i64,
    #[schema(example = "Pale long")]
    name: String,
    place: String,
    pieces: i64,
    volume_mm3: i64,
    version: i64,
}

impl BinBody {
    fn new(bin: &Bin) -> BinBody {
        BinBody {
            id: bin.id.0,
            name: bin.name.clone(),
            place: bin.place.clone(),
            pieces: bin.pieces,
            volume_mm3: bin.volume_mm3,
            version: bin.version,
        }
    }
}

#[derive(Serialize, ToSchema)]
struct BinsBody {
    items: Vec<BinBody>,
}

/// What a steward says of a bin.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what `draft` reads by hand, so that every flaw is told at once"
)]
struct BinDraft {
    #[schema(example = "Pale long")]
    name: String,
    #[schema(example = "left of the door")]
    place: Option<String>,
}

fn draft(node: &Node<'_>) -> Option<NewBin> {
    let body = node.object(&["name", "place"])?;
    let name = body.required("name", |field| title(&field, 60));
    let place = body.optional("place", |field| note(&field, 120));
    Some(NewBin {
        name: name?,
        place: place.unwrap_or_default(),
    })
}

async fn answer(app: &App, id: BinId) -> Result<Response, Error> {
    let found = bin::find(app.store.read(), id)
        .await?
        .ok_or_else(|| Error::NotFound(format!("There is no bin with the number {id}.")))?;
    Ok((Version(found.version).etag(), Json(BinBody::new(&found))).into_response())
}

/// Every bin and what it holds.
#[utoipa::path(get, path = "/api/v1/bins", tag = "bins", security((), ("token" = [])),
    responses((status = 200, body = BinsBody)))]
async fn list_bins(State(app): State<App>) -> Result<Json<BinsBody>, Error> {
    let bins = bin::list(app.store.read()).await?;
    Ok(Json(BinsBody {
        items: bins.iter().map(BinBody::new).collect(),
    }))
}

/// Make a bin.
#[utoipa::path(post, path = "/api/v1/bins", tag = "bins", security(("token" = [])), request_body = BinDraft,
    responses((status = 201, body = BinBody)))]
async fn create_bin(
    State(app): State<App>,
    Steward(caller): Steward,
    body: JsonBody,
) -> Result<Response, Error> {
    let new = read(&body, |node| draft(&node))?;
    let mut db = app.store.begin().await?;
    let id = bin::create(&mut db, app.by(&caller), &new).await?;
    db.commit().await?;
    Ok((
        StatusCode::CREATED,
        [(header::LOCATION, format!("/api/v1/bins/{id}"))],
        answer(&app, id).await?,
    )
        .into_response())
}

/// One bin.
#[utoipa::path(get, path = "/api/v1/bins/{id}", tag = "bins", security((), ("token" = [])),
    params(("id" = i64, Path, example = 1)), responses((status = 200, body = BinBody)))]
async fn find_bin(State(app): State<App>, Path(id): Path<BinId>) -> Result<Response, Error> {
    answer(&app, id).await
}

/// Give a bin another name or place; the whole of it is written.
#[utoipa::path(put, path = "/api/v1/bins/{id}", tag = "bins", security(("token" = [])), request_body = BinDraft,
    params(("id" = i64, Path, example = 1), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = BinBody), (status = 409)))]
async fn update_bin(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<BinId>,
    IfMatch(Version(version)): IfMatch,
    body: JsonBody,
) -> Result<Response, Error> {
    let new = read(&body, |node| draft(&node))?;
    answer(&app, id).await?;
    let mut db = app.store.begin().await?;
    bin::update(&mut db, app.by(&caller), id, version, &new).await?;
    db.commit().await?;
    answer(&app, id).await
}

/// Remove a bin in which nothing ever lay.
#[utoipa::path(delete, path = "/api/v1/bins/{id}", tag = "bins", security(("token" = [])),
    params(("id" = i64, Path, example = 1), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 204, description = "It is gone"), (status = 409)))]
async fn remove_bin(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<BinId>,
    IfMatch(Version(version)): IfMatch,
) -> Result<StatusCode, Error> {
    answer(&app, id).await?;
    let mut db = app.store.begin().await?;
    match bin::remove(&mut db, app.by(&caller), id, version).await {
        Ok(()) => {}
        Err(Refusal::Reference) => {
            return Err(Error::Conflict(
                "Pieces lie or lay in this bin, and their history names it. Give it another name instead.".into(),
            ));
        }
        Err(other) => return Err(other.into()),
    }
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}
