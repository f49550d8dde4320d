//! Projects: from a choice of four kinds to a bench sheet, a file for each page.

mod advised;
pub(in crate::web) mod arrangements;
pub(in crate::web) mod bench_sheet;
mod bench_step;
mod claims;
mod compare;
pub(in crate::web) mod cut_layout;
mod cuts;
mod design;
pub(in crate::web) mod drawn;
mod form;
mod list;
mod live;
mod matching;
mod opened;
mod overview;
mod path;
mod start;
pub(in crate::web) mod templates;
mod together;

pub(in crate::web) use claims::claim_error;
pub(in crate::web) use cuts::cut_error;
pub(in crate::web) use matching::stop_match;
pub(in crate::web) use opened::{
    Opened, by, error as project_error, own, own_one, unknown as unknown_project,
};
pub(in crate::web) use path::{Head, Here};

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
        .get(
            "/projects/{id}/arrangements",
            Who::Member,
            arrangements::list,
        )
        .post(
            "/projects/{id}/arrangements",
            Who::Owner,
            arrangements::take,
        )
        .post("/projects/{id}/design", Who::Owner, design::update)
        .post("/projects/{id}/design/live", Who::Owner, design::live)
        .get("/projects/{id}/match", Who::Member, matching::show)
        .post("/projects/{id}/match", Who::Owner, matching::start)
        .post("/projects/{id}/match/stop", Who::Owner, matching::stop)
        .get(
            "/projects/{id}/match/progress",
            Who::Member,
            matching::progress,
        )
        .post("/projects/{id}/claims", Who::Owner, claims::claim_all)
        .post("/projects/{id}/claims/extend", Who::Owner, claims::extend)
        .post(
            "/projects/{id}/claims/{claim}/let-go",
            Who::Owner,
            claims::let_go,
        )
        .post(
            "/projects/{id}/boards/{layout}/drop",
            Who::Owner,
            claims::drop_board,
        )
        .get("/projects/{id}/cuts", Who::Member, cuts::show)
        .post("/projects/{id}/cuts/{layout}", Who::Owner, cuts::cut)
        .post(
            "/projects/{id}/claims/{claim}/put-back",
            Who::Owner,
            cuts::put_back,
        )
        .get("/projects/{id}/bench-sheet", Who::Member, bench_sheet::show)
        .get("/projects/{id}/templates", Who::Member, templates::show)
        .get(
            "/projects/{id}/templates/{name}",
            Who::Member,
            templates::file,
        )
        .get("/projects/compare", Who::Member, compare::show)
        .get("/projects/together", Who::Member, together::choose)
        .post_solve("/projects/together", Who::Owner, together::propose)
        .get("/projects/together/{id}", Who::Member, together::show)
        .post(
            "/projects/together/{id}/claims",
            Who::Owner,
            together::claim,
        )
}
