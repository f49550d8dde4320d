//! Drawings and templates of a project.

use axum::extract::State;
use axum::response::Response;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::app::App;
use crate::export::svg::Style;
use crate::store::layout;
use crate::store::{LayoutId, ProjectId};
use crate::web::api::pieces::svg;
use crate::web::pages::projects::Opened;
use crate::web::pages::projects::cut_layout::{CutLayout, Labels};
use crate::web::pages::projects::drawn::Drawer;
use crate::web::pages::projects::templates::file;
use crate::web::{Error, Json, Path, Routes, Shell, Who};
use crate::wire::kept_match::KeptLayout;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(draw_project))
        .api(Who::Member, routes!(draw_cut))
        .api(Who::Member, routes!(list_templates))
        .api(Who::Member, routes!(find_template))
}

/// The piece as it will look, oiled, with its sizes in the caller's unit.
#[utoipa::path(get, path = "/api/v1/projects/{id}/drawing", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path, example = 1)),
    responses((status = 200, content_type = "image/svg+xml", body = String)))]
async fn draw_project(
    State(app): State<App>,
    shell: Shell,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    let opened = Opened::find(&app, id).await?;
    let drawer = Drawer {
        basis: &opened.basis,
        lengths: shell.lengths(),
    };
    let name = &opened.project.about.name;
    let drawing = drawer.finished("piece", Style::PHONE, name, &opened.design);
    Ok(svg(drawing.svg))
}

/// How one piece is cut: sections, rips, strips, kerfs, what is kept and what is waste.
#[utoipa::path(get, path = "/api/v1/projects/{id}/cuts/{layout}/drawing", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path, example = 1), ("layout" = i64, Path, example = 1)),
    responses((status = 200, content_type = "image/svg+xml", body = String)))]
async fn draw_cut(
    State(app): State<App>,
    shell: Shell,
    Path((id, layout_id)): Path<(ProjectId, LayoutId)>,
) -> Result<Response, Error> {
    let opened = Opened::find(&app, id).await?;
    let drawer = Drawer {
        basis: &opened.basis,
        lengths: shell.lengths(),
    };
    let needs = opened.needs().ok();
    let mut numbers = Labels::new(id, needs.as_ref());
    for stored in layout::list_of_project(app.store.read(), id).await? {
        let kept = KeptLayout::parse(&stored.cut).map_err(|error| Error::Internal(error.into()))?;
        // The layouts before it take their numbers first.
        let labels = numbers.labels(&kept.layout, &kept.stock(), &kept.shop);
        if stored.id == layout_id {
            let shown = CutLayout::new(
                &drawer,
                "cut",
                &kept.layout,
                kept.stock(),
                &kept.shop,
                &labels,
                &opened.design,
            );
            return Ok(svg(shown.drawing.svg));
        }
    }
    Err(Error::NotFound(
        "There is no such layout in this project.".into(),
    ))
}

/// What is cut or drilled by hand, at full size.
#[derive(Serialize, ToSchema)]
struct TemplateBody {
    #[schema(example = "outline")]
    name: &'static str,
    title: &'static str,
    about: &'static str,
    /// Where it is, as SVG and as PDF over sheets of A4 or Letter.
    #[schema(example = json!(["/api/v1/projects/7/templates/outline.svg"]))]
    files: Vec<String>,
}

#[derive(Serialize, ToSchema)]
struct TemplatesBody {
    items: Vec<TemplateBody>,
}

/// The templates of a project; boards without a shape have none.
#[utoipa::path(get, path = "/api/v1/projects/{id}/templates", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path, example = 1)), responses((status = 200, body = TemplatesBody)))]
async fn list_templates(
    State(app): State<App>,
    Path(id): Path<ProjectId>,
) -> Result<Json<TemplatesBody>, Error> {
    let opened = Opened::find(&app, id).await?;
    let items = crate::export::svg::templates(&opened.design)
        .into_iter()
        .map(|sheet| TemplateBody {
            name: sheet.slug,
            title: sheet.title,
            about: sheet.about,
            files: [".svg", "-a4.pdf", "-letter.pdf"]
                .iter()
                .map(|end| format!("/api/v1/projects/{id}/templates/{}{end}", sheet.slug))
                .collect(),
        });
    Ok(Json(TemplatesBody {
        items: items.collect(),
    }))
}

/// A template at full size: `outline.svg`, `outline-a4.pdf`, `outline-letter.pdf`.
#[utoipa::path(get, path = "/api/v1/projects/{id}/templates/{name}", tag = "projects", security(("token" = [])),
    params(("id" = i64, Path, example = 1), ("name" = String, Path, example = "outline.svg")),
    responses((status = 200, content((String = "image/svg+xml"), (Vec<u8> = "application/pdf")))))]
async fn find_template(
    app: State<App>,
    shell: Shell,
    path: Path<(ProjectId, String)>,
) -> Result<Response, Error> {
    file(app, shell, path).await
}
