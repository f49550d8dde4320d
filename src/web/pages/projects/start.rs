use askama::Template;
use axum::extract::State;
use axum::response::Response;
use jiff::civil::Date;

use super::drawn::Drawer;
use super::opened::{by, error};
use crate::app::App;
use crate::app::basis::Basis;
use crate::app::project::{self as projects, Draft, ProjectError};
use crate::calc::work::{Kind, default_design};
use crate::export::svg::Drawing;
use crate::store::practice::PracticeChanges;
use crate::web::{Error, Flash, Member, Section, Shell, Typed, line, page, page_again, see_other};

#[derive(Template)]
#[template(path = "projects/new.html")]
struct NewPage {
    shell: Shell,
    typed: Typed,
    kinds: Vec<KindChoice>,
}

struct KindChoice {
    slug: &'static str,
    title: &'static str,
    about: &'static str,
    drawing: Drawing,
    is_chosen: bool,
}

impl NewPage {
    async fn new(app: &App, shell: Shell, typed: Typed) -> Result<NewPage, Error> {
        let mut db = app.store.read().acquire().await?;
        let basis = Basis::load(&mut db, &PracticeChanges::default()).await?;
        let drawer = Drawer {
            basis: &basis,
            lengths: shell.lengths(),
        };
        let kinds = Kind::ALL
            .into_iter()
            .map(|kind| KindChoice {
                slug: kind.slug(),
                title: kind.title(),
                about: kind.about(),
                drawing: drawer.small(kind.slug(), kind.title(), &default_design(kind)),
                is_chosen: typed.has("kind", kind.slug()),
            })
            .collect();
        Ok(NewPage {
            shell: shell.at(Section::Projects),
            typed,
            kinds,
        })
    }
}

pub(super) async fn choose(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    let typed = Typed::filled([("kind", Kind::ALL[0].slug().to_owned())]);
    page(&NewPage::new(&app, shell, typed).await?)
}

/// A day as a date field sends it, or as people of the workshop write it.
pub(super) fn day(text: &str) -> Result<Date, String> {
    let shown: String = text.chars().take(30).collect();
    text.parse()
        .map_err(|_| format!("is \"{shown}\"; must be a day such as 2027-03-05"))
}

pub(super) async fn create(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    mut typed: Typed,
) -> Result<Response, Error> {
    let name = typed.take("name", |text| line(text, 120));
    let due_day = typed.take_if_any("due_day", day);
    let kind = typed.take("kind", |text| {
        Kind::from_slug(text).ok_or("is none of the kinds; choose one")
    });
    let (Some(name), Some(due_day), Some(kind)) = (name, due_day, kind) else {
        return page_again(&NewPage::new(&app, shell, typed).await?);
    };
    let draft = Draft {
        name,
        design: default_design(kind),
        practice: PracticeChanges::default(),
        due_day,
        note: String::new(),
    };
    let mut db = app.store.begin().await?;
    match projects::create(&mut db, by(&app, &member), member.id(), &draft).await {
        Ok(id) => {
            db.commit().await?;
            let said = "The project is there. Make the design your own, then match it.";
            Ok(see_other(format!("/projects/{id}/design"))
                .saying(Flash::done(said))
                .response(&app))
        }
        Err(ProjectError::Wrong(flaws)) => {
            for flaw in flaws {
                let field = flaw.pointer.trim_start_matches('/').to_owned();
                // The default design has no fields here.
                let field = if field.starts_with("design") {
                    "kind".to_owned()
                } else {
                    field
                };
                typed.refuse(field, flaw.detail);
            }
            page_again(&NewPage::new(&app, shell, typed).await?)
        }
        Err(other) => Err(error(other)),
    }
}
