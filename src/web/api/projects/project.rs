use axum::extract::State;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse as _, Response};
use serde::Deserialize;
use serde_json::Value;
use utoipa::IntoParams;
use utoipa_axum::routes;

use super::body::{ProjectFields, print_project, read_project};
use crate::app::App;
use crate::app::project::{self as projects, Draft};
use crate::store::ProjectId;
use crate::store::practice::PracticeChanges;
use crate::store::project::{self, Project, Search, Stage};
use crate::web::api::shapes::{
    Design as DesignShape, Project as ProjectShape, ProjectChange, ProjectDraft,
    Projects as ProjectList, StageShape,
};
use crate::web::extract::RawBody;
use crate::web::pages::projects::{by, own, project_error, unknown_project};
use crate::web::{Error, IfMatch, Json, Member, Paging, Path, Query, Routes, Version, Who};
use crate::wire::FieldError;
use crate::wire::design::read_design;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(list_projects))
        .api(Who::Member, routes!(create_project))
        .api(Who::Member, routes!(find_project))
        .api(Who::Owner, routes!(update_project))
        .api(Who::Owner, routes!(give_up_project))
        .api(Who::Owner, routes!(set_project_stage))
        .api(Who::Member, routes!(find_design))
        .api(Who::Owner, routes!(replace_design))
}

#[derive(Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
struct Filter {
    /// `mine` (if left out) or `all`.
    #[serde(default)]
    whose: String,
    /// A stage such as `claimed`.
    #[serde(default)]
    stage: String,
    /// `true` lists ended projects too.
    #[serde(default)]
    ended: bool,
}

/// Projects, the newest first.
#[utoipa::path(get, path = "/api/v1/projects", tag = "projects", security(("token" = [])),
    params(Filter, crate::web::PagingParams),
    responses((status = 200, body = ProjectList)))]
async fn list_projects(
    State(app): State<App>,
    member: Member,
    Query(filter): Query<Filter>,
    paging: Paging,
) -> Result<Response, Error> {
    let stage = match filter.stage.as_str() {
        "" => None,
        word => Some(stage(word)?),
    };
    let search = Search {
        member: (filter.whose != "all").then(|| member.id()),
        stage,
        ended: filter.ended,
        before: paging.after::<ProjectId>()?,
        limit: paging.limit + 1,
    };
    let found = project::list(app.store.read(), &search).await?;
    let page = paging.page(found, |project| project.id.to_string());
    Ok(page.map(|project| print_project(&project)).into_response())
}

fn stage(word: &str) -> Result<Stage, Error> {
    Stage::ALL
        .iter()
        .copied()
        .find(|stage| stage.word() == word)
        .ok_or_else(|| {
            let words: Vec<&str> = Stage::ALL.iter().map(|stage| stage.word()).collect();
            Error::Wrong(vec![FieldError {
                pointer: "/stage".to_owned(),
                detail: format!("is {word:?}; must be one of {}", words.join(", ")),
            }])
        })
}

pub(super) fn answered(project: &Project) -> Response {
    (
        Version(project.version).etag(),
        Json(print_project(project)),
    )
        .into_response()
}

pub(super) async fn stored(app: &App, id: ProjectId) -> Result<Project, Error> {
    project::find(app.store.read(), id)
        .await?
        .ok_or_else(unknown_project)
}

/// Start a project of your own.
#[utoipa::path(post, path = "/api/v1/projects", tag = "projects", security(("token" = [])),
    request_body(content = ProjectDraft, example = json!({"name": "Board for Ines", "due_day": "2027-03-05",
        "design": {"kind": "striped-board", "length": "17 in", "width": "2 1/4 in", "thickness": "1 1/2 in", "surface": "edge grain",
            "strips": [{"species": "hard maple", "width": "3/4 in"}, {"species": "black walnut", "width": "3/4 in"},
                {"species": "hard maple", "width": "3/4 in"}]},
        "practice": {"glue": "crosslinked PVA", "step_minutes": {"glue-up": 60}}})),
    responses((status = 201, body = ProjectShape), (status = 422)))]
async fn create_project(
    State(app): State<App>,
    member: Member,
    RawBody(body): RawBody,
) -> Result<Response, Error> {
    let fields = read_project(&body, true).map_err(Error::Calculation)?;
    if let Some(design) = &fields.design {
        fields
            .judge_choices(design.kind(), &PracticeChanges::default())
            .map_err(Error::Calculation)?;
    }
    let (Some(name), Some(design)) = (fields.name, fields.design) else {
        return Err(Error::Malformed(
            "The project has no name or design.".into(),
        ));
    };
    let draft = Draft {
        name,
        design,
        practice: fields.practice.unwrap_or_default(),
        due_day: fields.due_day.flatten(),
        note: fields.note.unwrap_or_default(),
    };
    let mut db = app.store.begin().await?;
    let id = projects::create(&mut db, by(&app, &member), member.id(), &draft)
        .await
        .map_err(project_error)?;
    db.commit().await?;
    let mut response = answered(&stored(&app, id).await?);
    *response.status_mut() = StatusCode::CREATED;
    if let Ok(location) = HeaderValue::from_str(&format!("/api/v1/projects/{id}")) {
        response.headers_mut().insert(header::LOCATION, location);
    }
    Ok(response)
}

/// One project.
#[utoipa::path(get, path = "/api/v1/projects/{id}", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = ProjectShape), (status = 404)))]
async fn find_project(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    Ok(answered(&stored(&app, id).await?))
}

/// Stores what a body changes of a project.
async fn change(
    app: &App,
    member: &Member,
    id: ProjectId,
    version: i64,
    fields: ProjectFields,
) -> Result<Response, Error> {
    let before = own(app, member, id).await?;
    let design = match &fields.design {
        Some(design) => design.clone(),
        None => projects::design(&before).map_err(project_error)?,
    };
    fields
        .judge_choices(design.kind(), &before.about.practice)
        .map_err(Error::Calculation)?;
    let draft = Draft {
        name: fields.name.unwrap_or(before.about.name),
        design,
        practice: fields.practice.unwrap_or(before.about.practice),
        due_day: fields.due_day.unwrap_or(before.about.due_day),
        note: fields.note.unwrap_or(before.about.note),
    };
    let mut db = app.store.begin().await?;
    projects::edit(&mut db, by(app, member), id, version, &draft)
        .await
        .map_err(project_error)?;
    db.commit().await?;
    Ok(answered(&stored(app, id).await?))
}

/// Change a project; what is left out stays, `"due_day": null` takes the day away.
#[utoipa::path(patch, path = "/api/v1/projects/{id}", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path), ("If-Match" = String, Header, description = "The ETag that was read")),
    request_body(content = ProjectChange, example = json!({"name": "Board for Ines and Tove", "due_day": null})),
    responses((status = 200, body = ProjectShape),
        (status = 404), (status = 409),
        (status = 422)))]
async fn update_project(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    IfMatch(Version(version)): IfMatch,
    RawBody(body): RawBody,
) -> Result<Response, Error> {
    let fields = read_project(&body, false).map_err(Error::Calculation)?;
    change(&app, &member, id, version, fields).await
}

/// Give a project up: its pieces go back and its bookings are cancelled.
#[utoipa::path(delete, path = "/api/v1/projects/{id}", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path), ("If-Match" = String, Header, description = "The ETag that was read")),
    responses((status = 204), (status = 404),
        (status = 409)))]
async fn give_up_project(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    IfMatch(Version(version)): IfMatch,
) -> Result<StatusCode, Error> {
    own(&app, &member, id).await?;
    let mut db = app.store.begin().await?;
    projects::give_up(&mut db, by(&app, &member), id, version)
        .await
        .map_err(project_error)?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StageBody {
    stage: String,
}

/// Say by hand how far a project is: `milled` or later; earlier stages follow from the wood.
#[utoipa::path(put, path = "/api/v1/projects/{id}/stage", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path), ("If-Match" = String, Header, description = "The ETag that was read")),
    request_body(content = StageShape, example = json!({"stage": "glued"})),
    responses((status = 200, body = ProjectShape),
        (status = 404), (status = 409),
        (status = 422)))]
async fn set_project_stage(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    IfMatch(Version(version)): IfMatch,
    Json(body): Json<StageBody>,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let stage = stage(&body.stage)?;
    let mut db = app.store.begin().await?;
    projects::reach(&mut db, by(&app, &member), id, version, stage)
        .await
        .map_err(project_error)?;
    db.commit().await?;
    Ok(answered(&stored(&app, id).await?))
}

/// The design alone, as `design` of the project.
#[utoipa::path(get, path = "/api/v1/projects/{id}/design", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path)),
    responses((status = 200, body = DesignShape), (status = 404)))]
async fn find_design(State(app): State<App>, Path(id): Path<ProjectId>) -> Result<Response, Error> {
    let project = stored(&app, id).await?;
    let design: Value = serde_json::from_str(&project.about.design).unwrap_or_default();
    Ok((Version(project.version).etag(), Json(design)).into_response())
}

/// Put a design in the place of the one before. What is claimed or cut must still have its use.
#[utoipa::path(put, path = "/api/v1/projects/{id}/design", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path), ("If-Match" = String, Header, description = "The ETag that was read")),
    request_body(content = DesignShape, example = json!({"kind": "striped-board", "length": "17 in", "width": "1 1/2 in",
        "thickness": "1 1/2 in", "surface": "either", "strips": [{"species": "hard maple", "width": "3/4 in"},
            {"species": "black walnut", "width": "3/4 in"}]})),
    responses((status = 200, body = ProjectShape),
        (status = 404), (status = 409),
        (status = 422)))]
async fn replace_design(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    IfMatch(Version(version)): IfMatch,
    RawBody(body): RawBody,
) -> Result<Response, Error> {
    let design = read_design(&body).map_err(Error::Calculation)?;
    let fields = ProjectFields {
        design: Some(design),
        ..ProjectFields::default()
    };
    change(&app, &member, id, version, fields).await
}
