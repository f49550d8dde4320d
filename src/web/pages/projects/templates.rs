//! What is cut or drilled by hand, at full size: as a page of choices, as SVG, and as PDF over sheets of A4 or Letter.

use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse as _, Response};

use super::drawn::Drawer;
use super::opened::Opened;
use super::path::{Head, Here};
use crate::app::App;
use crate::calc::shaping::Circle;
use crate::calc::work::Design;
use crate::export::pdf::{self, Paper};
use crate::export::svg::{self, Drawing, DrillHole};
use crate::store::ProjectId;
use crate::units::Length;
use crate::web::{Error, Member, Path, Section, Shell, page};

/// Drilled for the screw of a foot: common practice for screws of 4 mm in hardwood.
const PILOT: Length = Length::from_inches(1, 8);

#[derive(Template)]
#[template(path = "projects/templates.html")]
struct TemplatesPage {
    shell: Shell,
    head: Head,
    sheets: Vec<Sheet>,
}

/// A template that a design has.
pub(in crate::web) struct Sheet {
    pub slug: &'static str,
    pub title: &'static str,
    pub about: &'static str,
}

/// Whether a design has anything that is marked out by a template.
pub(super) fn has_any(design: &Design) -> bool {
    !sheets(design).is_empty()
}

pub(in crate::web) fn sheets(design: &Design) -> Vec<Sheet> {
    match design {
        Design::StripedBoard(_) | Design::EndGrainBoard(_) => {
            let has_feet = design.extras().is_some_and(|extras| extras.feet > 0);
            let feet = Sheet {
                slug: "feet",
                title: "Drilling marks for the feet",
                about: "The bottom face with a cross for the screw of each foot.",
            };
            has_feet.then_some(feet).into_iter().collect()
        }
        Design::HandleBoard(_) => vec![Sheet {
            slug: "outline",
            title: "Outline",
            about: "The shape with its hole, to lay on the blank with the grain along the handle.",
        }],
        Design::RoundTray(_) => vec![
            Sheet {
                slug: "circle",
                title: "Circle with pivot",
                about: "Disc, ring and pivot, to lay on the glue line and prick the middle through.",
            },
            Sheet {
                slug: "jig",
                title: "Pivot arm",
                about: "The arm for the router with its pivot holes for disc and ring.",
            },
        ],
    }
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
        sheets: sheets(&opened.design),
        shell: shell.at(Section::Projects),
    })
}

/// The drawing of a template at its true size.
fn drawing(opened: &Opened, shell: &Shell, slug: &str) -> Result<Drawing, Error> {
    let none = || Error::NotFound("This project has no such template.".into());
    let drawer = Drawer {
        basis: &opened.basis,
        lengths: shell.lengths(),
    };
    let practice = &opened.basis.practice;
    match (&opened.design, slug) {
        (Design::HandleBoard(board), "outline") => {
            let shape = board.shape().map_err(|_| none())?;
            Ok(drawer.with("outline", 100.0, |style| {
                svg::handle_template(style, board, &shape)
            }))
        }
        (Design::RoundTray(tray), "circle" | "jig") => {
            let layout = tray.layout(practice).map_err(|_| none())?;
            let circle = Circle {
                diameter: tray.diameter,
                rim: Some(tray.rim),
                bit: tray.bit,
                thickness: tray.ring_thickness,
                depth_per_pass: practice.shaping.depth_per_pass,
            };
            Ok(drawer.with("template", 100.0, |style| {
                if slug == "circle" {
                    svg::circle_template(style, &circle)
                } else {
                    svg::jig_template(style, &circle, &layout.ring)
                }
            }))
        }
        (design, "feet") => {
            let extras = design.extras().filter(|extras| extras.feet > 0);
            let extras = extras.ok_or_else(none)?;
            let size = design.finished(practice);
            let places = extras.foot_places(size);
            let holes: Vec<DrillHole<'_>> = places
                .into_iter()
                .map(|(along, across)| DrillHole {
                    along,
                    across,
                    diameter: PILOT,
                    what: "foot",
                })
                .collect();
            Ok(drawer.with("feet", 100.0, |style| {
                svg::drilling_template(style, size.length, size.width, &holes)
            }))
        }
        _ => Err(none()),
    }
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
