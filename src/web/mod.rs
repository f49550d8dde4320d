//! HTTP: the router, the two faces of errors, extractors, pages and the JSON interface.
//!
//! # How to add a page
//! 1. A file `pages/NOUN.rs` with a struct for each page, its handlers, and `pub(super) fn routes(routes: Routes) -> Routes`:
//!
//!    ```ignore
//!    #[derive(Template)]
//!    #[template(path = "bins.html")]
//!    struct BinsPage { shell: Shell, bins: Vec<BinLine> }
//!
//!    pub(super) fn routes(routes: Routes) -> Routes {
//!        routes.get("/bins", Who::Visitor, list).post("/bins", Who::Steward, create)
//!    }
//!
//!    async fn list(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
//!        let bins = store::bin::list(app.store.read()).await?;
//!        page(&BinsPage { shell: shell.at(Section::Bins), bins: bins.iter().map(BinLine::new).collect() })
//!    }
//!
//!    async fn create(State(app): State<App>, shell: Shell, Steward(caller): Steward, mut typed: Typed) -> Result<Response, Error> {
//!        let name = typed.take("name", |text| line(text, 60));
//!        let Some(name) = name else { return page_again(&NewBinPage { shell, typed }) };
//!        ...
//!        Ok(see_other("/bins").saying(Flash::done(format!("{name} is there."))).response(&app))
//!    }
//!    ```
//!
//!    `Shell` is the frame around a page: who is signed in, the flash message, the place in the navigation. `typed.take` parses
//!    one field and keeps the error beside it; parse **all** fields before looking whether one failed. Errors are predicates that follow the
//!    label: `is "7 furlongs"; must be ...`. `page_again` answers 422 with what was typed.
//! 2. A template that begins with `{% extends "layout.html" %}`, fills `title` and `content`, and takes its inputs from
//!    `{% import "fields.html" as fields %}`. The vocabulary of classes is at the top of `static/style.css`. Nothing inline.
//! 3. One line in `pages::routes`, and a row for each route in `tests/it/roles.rs`: a route without a row fails.
//!
//! # How to add an API group
//! 1. A file `api/NOUN.rs` with handlers under `#[utoipa::path(get, path = "/api/v1/bins", tag = "bins", responses(..))]` and
//!    `pub(super) fn routes(routes: Routes) -> Routes { routes.api(Who::Visitor, routes!(list_bins)).api(Who::Steward, routes!(create_bin)) }`.
//!    Paths are written in full. Each method has its own line, so that each says who may call it.
//! 2. Bodies come through [`Json`] (or [`JsonBody`], for [`crate::wire::read`], which lists every flaw), parameters through [`Path`] and [`Query`] of this module (never axum's: a lint refuses
//!    them), so that every rejection is a problem document. Handlers return `Result<_, Error>`.
//! 3. What can be edited answers with [`Version::etag`] and takes `if_match: IfMatch`; lists page with [`Paging`] and [`Paged`]. `POST` routes
//!    honour `Idempotency-Key` by themselves. The description gets the errors of gate, extractors and versions by itself; a handler names
//!    only its answers and the errors that are its own: `responses((status = 200, body = BinBody), (status = 409))`.
//! 4. One line in `api::routes`, and a row for each route in `tests/it/roles.rs`.
//!
//! # Who may
//! [`Who`] at the registration is enforced before the handler runs. `Who::Owner` lets members in; the handler itself must call
//! [`Member::require_owner`]. An API token also needs the scope that the route asks for: `read` for GET, `write` for the others,
//! `steward` for `Who::Steward`.
//!
//! # Errors
//! [`Error`] is the only thing that knows status codes. A handler returns it with `?`; `faces` turns it into
//! `application/problem+json` under `/api/` and into a page with a way onward elsewhere, and `log` writes its cause once.

mod access;
mod api;
mod assets;
mod calendar;
mod connections;
mod cookies;
mod error;
mod extract;
mod faces;
mod flash;
mod headers;
mod idempotency;
mod local_time;
mod log;
mod pages;
mod paging;
mod progress;
mod router;
mod routes;
mod shell;
mod typed;
mod version;
mod watch;
mod words;

pub use access::{ClientAddress, MaybeMember, Member, Steward};
pub use connections::answer_connections;
pub use error::Error;
pub use extract::{Json, JsonBody, Path, Query};
pub use flash::{Flash, Redirect, see_other};
pub use log::RequestId;
pub use paging::{Paged, Paging, PagingParams};
pub use progress::{stream, stream_work, wants_progress};
pub use router::{route_table, router};
pub use routes::{Route, Routes, Who};
pub use shell::{Section, Shell, page, page_again};
pub use typed::{Typed, line, lines};
pub use version::{IfMatch, Version};
