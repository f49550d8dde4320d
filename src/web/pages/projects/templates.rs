//! What is cut or drilled by hand, at full size: as a page of choices, as SVG, and as PDF over sheets of A4 or Letter.

use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse as _, Response};

use super::drawn::Drawer;
use super::opened::Opened;
use super::path::{Head, Here};
use crate::app::App;
use crate::calc::work::Design;
use crate::export::pdf::{self, Paper};
use crate::export::svg::{self, Drawing};
use crate::store::ProjectId;
use crate::web::{Error, Member, Path, Section, Shell, page};

#[derive(Template)]
#[template(path = "projects/templates.html")]
struct TemplatesPage {
    shell: Shell,
    head: Head,
    sheets: Vec<svg::Template>,
}

/// Whether a design has anything that is marked out by a template.
pub(super) fn has_any(design: &Design) -> bool {
    !svg::templates(design).is_empty()
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    let opened = Opened::find(&app, id).await?;
    page(&TemplatesPage {
        head: opened.head(&member, Here::Templates),
        sheets: svg::templates(&opened.design),
        shell: shell.at(Section::Projects),
    })
}

/// The drawing of a template at its true size.
fn drawing(opened: &Opened, shell: &Shell, slug: &str) -> Result<Drawing, Error> {
    let drawer = Drawer {
        basis: &opened.basis,
        lengths: shell.lengths(),
    };
    let practice = &opened.basis.practice;
    drawer
        .with("template", 100.0, |style| {
            svg::template(style, &opened.design, slug, practice)
        })
        .ok_or_else(|| Error::NotFound("This project has no such template.".into()))
}

/// `outline.svg`, or `outline-a4.pdf` and `outline-letter.pdf`.
pub(in crate::web) async fn file(
    State(app): State<App>,
    shell: Shell,
    Path((id, name)): Path<(ProjectId, String)>,
) -> Result<Response, Error> {
    let opened = Opened::find(&app, id).await?;
    let title = format!("{}, project {id}", opened.project.about.name);
    if let Some(slug) = name.strip_suffix(".svg") {
        let drawing = drawing(&opened, &shell, slug)?;
        return Ok(([(header::CONTENT_TYPE, "image/svg+xml")], drawing.svg).into_response());
    }
    let papers = [("-a4.pdf", Paper::A4), ("-letter.pdf", Paper::Letter)];
    for (suffix, paper) in papers {
        if let Some(slug) = name.strip_suffix(suffix) {
            let drawing = drawing(&opened, &shell, slug)?;
            let bytes = pdf::template(&title, &drawing, paper)
                .map_err(|error| Error::Internal(error.into()))?;
            return Ok(([(header::CONTENT_TYPE, "application/pdf")], bytes).into_response());
        }
    }
    Err(Error::NotFound("This project has no such template.".into()))
}
