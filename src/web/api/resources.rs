//! Clamp sets and stations, for scripts.

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_axum::routes;

use super::{read, title};
use crate::app::App;
use crate::store::resource::{self, NewResource, Resource, ResourceKind};
use crate::store::{Refusal, ResourceId};
use crate::web::{Error, IfMatch, Json, JsonBody, Path, Routes, Steward, Version, Who};
use crate::wire::length::to_json;
use crate::wire::{FieldError, Node};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Visitor, routes!(list_resources))
        .api(Who::Steward, routes!(create_resource))
        .api(Who::Visitor, routes!(find_resource))
        .api(Who::Steward, routes!(update_resource))
        .api(Who::Steward, routes!(remove_resource))
}

/// What the workshop lends by the hour. Lengths are millimetres.
#[derive(Serialize, ToSchema)]
struct ResourceBody {
    id: i64,
    /// `clamp set`, or the kind of station, such as `glue bench`.
    #[schema(example = "clamp set")]
    kind: &'static str,
    #[schema(example = "Long bar clamps")]
    name: String,
    /// How many there are, or how many members at once.
    #[schema(example = 6)]
    capacity: u32,
    /// The widest thing between the jaws of a clamp.
    #[schema(value_type = Option<f64>, example = 609.6)]
    reach: Option<Value>,
    /// What one clamp is rated for, by its maker.
    #[schema(example = 4500)]
    rated_force_n: Option<i64>,
    /// The widest panel that passes a planer or a drum sander.
    #[schema(value_type = Option<f64>)]
    pass_width: Option<Value>,
    version: i64,
}

impl ResourceBody {
    fn new(resource: &Resource) -> ResourceBody {
        let about = &resource.about;
        ResourceBody {
            id: resource.id.0,
            kind: about.kind.word(),
            name: about.name.clone(),
            capacity: about.capacity,
            reach: about.reach.map(to_json),
            rated_force_n: about.rated_force_n,
            pass_width: about.pass_width.map(to_json),
            version: resource.version,
        }
    }
}

#[derive(Serialize, ToSchema)]
struct ResourcesBody {
    items: Vec<ResourceBody>,
}

/// What a steward says of a clamp set or a station.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what `draft` reads by hand, so that every flaw is told at once"
)]
struct ResourceDraft {
    #[schema(example = "clamp set")]
    kind: String,
    #[schema(example = "Long bar clamps")]
    name: String,
    #[schema(example = 6)]
    capacity: u32,
    /// A clamp set has it, nothing else.
    #[schema(value_type = Option<String>, example = "24 in")]
    reach: Option<Value>,
    #[schema(example = 4500)]
    rated_force_n: Option<i64>,
    /// For a planer or a drum sander only.
    #[schema(value_type = Option<String>)]
    pass_width: Option<Value>,
}

fn draft(node: &Node<'_>) -> Option<NewResource> {
    let body = node.object(&[
        "kind",
        "name",
        "capacity",
        "reach",
        "rated_force_n",
        "pass_width",
    ])?;
    let kinds: Vec<(&str, ResourceKind)> = ResourceKind::ALL
        .iter()
        .map(|kind| (kind.word(), *kind))
        .collect();
    let kind = body.required("kind", |field| field.one_of(&kinds));
    let name = body.required("name", |field| title(&field, 60));
    let capacity = body.required("capacity", |field| field.whole(0..=1000));
    let given = |name: &str| body.field(name).filter(|field| !field.is_null());
    let reach = given("reach").map(|field| field.positive_length());
    let force = given("rated_force_n").map(|field| field.whole(1..=100_000));
    let pass_width = given("pass_width").map(|field| field.positive_length());
    let kind = kind?;
    let is_clamp = kind == ResourceKind::ClampSet;
    let has_pass_width = matches!(kind, ResourceKind::Planer | ResourceKind::DrumSander);
    if is_clamp && reach.is_none() {
        body.required("reach", |field| {
            field.refuse::<()>("is null; must be the reach of the clamps")
        });
        return None;
    }
    for (name, is_fit) in [
        ("reach", is_clamp),
        ("rated_force_n", is_clamp),
        ("pass_width", has_pass_width),
    ] {
        if let Some(field) = given(name).filter(|_| !is_fit) {
            field.refuse::<()>(format!("is given for a {}; must be left out", kind.word()));
        }
    }
    Some(NewResource {
        kind,
        name: name?,
        capacity: u32::try_from(capacity?).ok()?,
        reach: all(reach)?,
        rated_force_n: all(force)?,
        pass_width: all(pass_width)?,
    })
}

/// Nothing where nothing was given; no answer where what was given is wrong.
fn all<T>(given: Option<Option<T>>) -> Option<Option<T>> {
    match given {
        None => Some(None),
        Some(read) => read.map(Some),
    }
}

fn refused(refusal: Refusal) -> Error {
    match refusal {
        Refusal::ResourceInUse => Error::Wrong(vec![FieldError {
            pointer: "/capacity".to_owned(),
            detail: "is less than what is booked at some time; must be at least as many, or those bookings must move first".to_owned(),
        }]),
        Refusal::Reference => Error::Conflict(
            "Steps were booked with it, and their history names it. Set its capacity to 0 instead.".into(),
        ),
        other => other.into(),
    }
}

async fn answer(app: &App, id: ResourceId) -> Result<Response, Error> {
    let found = resource::find(app.store.read(), id)
        .await?
        .ok_or_else(|| Error::NotFound("There is no such clamp set or station.".into()))?;
    Ok((
        Version(found.version).etag(),
        Json(ResourceBody::new(&found)),
    )
        .into_response())
}

/// All clamp sets and stations.
#[utoipa::path(get, path = "/api/v1/resources", tag = "workshop", security((), ("token" = [])),
    responses((status = 200, body = ResourcesBody)))]
async fn list_resources(State(app): State<App>) -> Result<Json<ResourcesBody>, Error> {
    let found = resource::list(app.store.read()).await?;
    Ok(Json(ResourcesBody {
        items: found.iter().map(ResourceBody::new).collect(),
    }))
}

/// Add a clamp set or a station.
#[utoipa::path(post, path = "/api/v1/resources", tag = "workshop", security(("token" = [])), request_body = ResourceDraft,
    responses((status = 201, body = ResourceBody)))]
async fn create_resource(
    State(app): State<App>,
    Steward(caller): Steward,
    body: JsonBody,
) -> Result<Response, Error> {
    let new = read(&body, |node| draft(&node))?;
    let mut db = app.store.begin().await?;
    let id = resource::create(&mut db, app.by(&caller), &new)
        .await
        .map_err(refused)?;
    db.commit().await?;
    let location = format!("/api/v1/resources/{id}");
    Ok((
        StatusCode::CREATED,
        [(header::LOCATION, location)],
        answer(&app, id).await?,
    )
        .into_response())
}

/// One clamp set or station.
#[utoipa::path(get, path = "/api/v1/resources/{id}", tag = "workshop", security((), ("token" = [])),
    params(("id" = i64, Path, example = 1)), responses((status = 200, body = ResourceBody)))]
async fn find_resource(
    State(app): State<App>,
    Path(id): Path<ResourceId>,
) -> Result<Response, Error> {
    answer(&app, id).await
}

/// Change a clamp set or a station; the whole of it is written.
#[utoipa::path(put, path = "/api/v1/resources/{id}", tag = "workshop", security(("token" = [])), request_body = ResourceDraft,
    params(("id" = i64, Path, example = 1), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 200, body = ResourceBody), (status = 409)))]
async fn update_resource(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<ResourceId>,
    IfMatch(Version(version)): IfMatch,
    body: JsonBody,
) -> Result<Response, Error> {
    let new = read(&body, |node| draft(&node))?;
    let before = resource::find(app.store.read(), id)
        .await?
        .ok_or_else(|| Error::NotFound("There is no such clamp set or station.".into()))?;
    let is_clamp = |kind| kind == ResourceKind::ClampSet;
    if is_clamp(before.about.kind) != is_clamp(new.kind) {
        return Err(Error::Wrong(vec![FieldError {
            pointer: "/kind".to_owned(),
            detail: "would make a station of clamps, or clamps of a station; must stay".to_owned(),
        }]));
    }
    let mut db = app.store.begin().await?;
    resource::update(&mut db, app.by(&caller), id, version, &new)
        .await
        .map_err(refused)?;
    db.commit().await?;
    answer(&app, id).await
}

/// Remove a clamp set or a station that was never booked.
#[utoipa::path(delete, path = "/api/v1/resources/{id}", tag = "workshop", security(("token" = [])),
    params(("id" = i64, Path, example = 1), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 204, description = "It is gone"), (status = 409)))]
async fn remove_resource(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<ResourceId>,
    IfMatch(Version(version)): IfMatch,
) -> Result<StatusCode, Error> {
    answer(&app, id).await?;
    let mut db = app.store.begin().await?;
    resource::remove(&mut db, app.by(&caller), id, version)
        .await
        .map_err(refused)?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}
