//! Projects: from a choice of four kinds to a bench sheet, a file for each page.

mod advised;
mod design;
mod drawn;
mod form;
mod list;
mod live;
mod opened;
mod overview;
mod path;
mod start;

use crate::web::{Routes, Who};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/projects", Who::Member, list::list)
        .get("/projects/new", Who::Member, start::choose)
        .post("/projects/new", Who::Member, start::create)
        .get("/projects/{id}", Who::Member, overview::show)
        .post("/projects/{id}/stage", Who::Owner, overview::reach)
        .post("/projects/{id}/give-up", Who::Owner, overview::give_up)
        .get("/projects/{id}/design", Who::Member, design::edit)
        .post("/projects/{id}/design", Who::Owner, design::update)
        .post("/projects/{id}/design/live", Who::Owner, design::live)
}
