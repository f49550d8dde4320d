use askama::Template;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};

use super::access::Known;
use super::{Error, Flash, assets, cookies};
use crate::app::{App, Caller};
use crate::store;
use crate::units::{InchFraction, LengthFormat};

/// The places of the navigation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Section {
    Today,
    Bins,
    Projects,
    GlueUps,
    Workshop,
    Reference,
    Ledger,
    Members,
    /// A page that lies in none of them.
    Elsewhere,
}

impl Section {
    const IN_NAVIGATION: [Section; 8] = [
        Section::Today,
        Section::Bins,
        Section::Projects,
        Section::GlueUps,
        Section::Workshop,
        Section::Reference,
        Section::Ledger,
        Section::Members,
    ];

    /// What the navigation calls it.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Section::Today => "Today",
            Section::Bins => "Bins",
            Section::Projects => "Projects",
            Section::GlueUps => "Glue-ups",
            Section::Workshop => "Workshop",
            Section::Reference => "Reference",
            Section::Ledger => "Ledger",
            Section::Members => "Members",
            Section::Elsewhere => "",
        }
    }

    /// Where its first page is.
    #[must_use]
    pub fn path(self) -> &'static str {
        match self {
            Section::Today | Section::Elsewhere => "/",
            Section::Bins => "/bins",
            Section::Projects => "/projects",
            Section::GlueUps => "/glue-ups",
            Section::Workshop => "/workshop",
            Section::Reference => "/reference",
            Section::Ledger => "/ledger",
            Section::Members => "/members",
        }
    }
}

/// What stands around every page. A page's struct holds it as `shell`.
#[derive(Clone, Debug)]
pub struct Shell {
    pub workshop: String,
    /// Who is signed in.
    pub caller: Option<Caller>,
    pub section: Section,
    pub flash: Option<Flash>,
    /// Whether somebody who is not signed in may look.
    pub guests_may_look: bool,
}

impl Shell {
    pub(super) async fn new(app: &App, caller: Option<Caller>, headers: &HeaderMap) -> Shell {
        // A page about an error must not fail because the database does.
        let workshop = store::workshop::get(app.store.read()).await.ok();
        Shell {
            guests_may_look: workshop
                .as_ref()
                .is_some_and(|workshop| workshop.settings.guests_may_look),
            workshop: workshop.map_or_else(|| "Our workshop".to_owned(), |workshop| workshop.name),
            caller,
            section: Section::Elsewhere,
            flash: cookies::flash(app, headers).and_then(|encoded| Flash::decode(&encoded)),
        }
    }

    /// The shell of a page in this section.
    #[must_use]
    pub fn at(mut self, section: Section) -> Shell {
        self.section = section;
        self
    }

    /// Whether the page may offer what only stewards do.
    #[must_use]
    pub fn is_steward(&self) -> bool {
        self.caller.as_ref().is_some_and(Caller::is_steward)
    }

    /// How lengths are shown on this page.
    #[must_use]
    pub fn lengths(&self) -> LengthFormat {
        self.caller
            .as_ref()
            .map_or(LengthFormat::Inches(InchFraction::default()), |caller| {
                caller.member.lengths
            })
    }

    /// The navigation: label, path, and whether the page lies there.
    pub(super) fn navigation(&self) -> impl Iterator<Item = (&'static str, &'static str, bool)> {
        Section::IN_NAVIGATION
            .into_iter()
            .map(|section| (section.label(), section.path(), section == self.section))
    }

    pub(super) fn style(&self) -> &'static str {
        assets::address("style.css")
    }

    pub(super) fn script(&self) -> &'static str {
        assets::address("script.js")
    }

    pub(super) fn icon(&self) -> &'static str {
        assets::address("icon.svg")
    }
}

impl FromRequestParts<App> for Shell {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, Self::Rejection> {
        let caller = parts
            .extensions
            .get::<Known>()
            .and_then(|known| known.0.clone());
        Ok(Shell::new(app, caller, &parts.headers).await)
    }
}

/// A page, with status 200.
///
/// # Errors
/// The template failed, which is a fault of ours.
pub fn page(template: &impl Template) -> Result<Response, Error> {
    page_with(StatusCode::OK, template)
}

/// A page whose form failed: 422, with what was typed and the messages beside the fields.
///
/// # Errors
/// The template failed, which is a fault of ours.
pub fn page_again(template: &impl Template) -> Result<Response, Error> {
    page_with(StatusCode::UNPROCESSABLE_ENTITY, template)
}

pub(super) fn page_with(status: StatusCode, template: &impl Template) -> Result<Response, Error> {
    let html = template.render()?;
    let mut response = (status, html).into_response();
    let headers = response.headers_mut();
    headers.insert(
        header::CONTENT_TYPE,
        HeaderValue::from_static("text/html; charset=utf-8"),
    );
    // Pages are for the member who asked, at this moment.
    headers.insert(
        header::CACHE_CONTROL,
        HeaderValue::from_static("private, no-cache"),
    );
    Ok(response)
}
