//! Plans and bookings: of one project, of the week, of several projects, and of a single step.

pub(in crate::web) mod booking;
mod dates;
pub(in crate::web) mod of_project;
mod several;
pub(in crate::web) mod shown;
pub(in crate::web) mod trouble;
pub(in crate::web) mod week;
mod what_if;

use crate::web::{Routes, Who};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/projects/{id}/plan", Who::Member, of_project::show)
        .post_solve("/projects/{id}/plan", Who::Owner, of_project::propose)
        .post("/projects/{id}/plan/accept", Who::Owner, of_project::accept)
        .post("/projects/{id}/plan/cancel", Who::Owner, of_project::cancel)
        .get_solve("/projects/{id}/plan/dates", Who::Member, dates::show)
        .get("/glue-ups", Who::Member, week::show)
        .get("/glue-ups/plan", Who::Steward, several::choose)
        .post_solve("/glue-ups/plan", Who::Steward, several::propose)
        .get_solve("/glue-ups/plan/what-if", Who::Steward, several::suppose)
        .get("/glue-ups/plan/{id}", Who::Steward, several::show)
        .post("/glue-ups/plan/{id}/accept", Who::Steward, several::accept)
        .get("/bookings/{id}", Who::Member, booking::show)
        .post("/bookings/{id}/begin", Who::Owner, booking::begin)
        .post("/bookings/{id}/done", Who::Owner, booking::finish)
        .post("/bookings/{id}/move", Who::Owner, booking::move_to)
        .post("/bookings/{id}/pin", Who::Steward, booking::pin)
}
