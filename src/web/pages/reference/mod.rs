//! Figures and their sources: woods, calculators, glues, finishes and the rest of what the workshop's numbers rest on.

mod calculators;
mod calls;
mod cautions;
mod defaults;
mod glossary;
mod index;
mod materials;
mod sizes;
mod units;
mod wood;
mod wood_form;
mod woods;

pub(in crate::web) use wood_form::species_error;

use crate::web::{Routes, Who};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/reference", Who::Visitor, index::show)
        .get("/reference/abrasives", Who::Visitor, sizes::abrasives)
        .get("/reference/calls", Who::Visitor, calls::list)
        .get("/reference/calls/{group}", Who::Visitor, calls::show)
        .get("/reference/cautions", Who::Visitor, cautions::list)
        .get("/reference/defaults", Who::Visitor, defaults::show)
        .get(
            "/reference/finishes",
            Who::Visitor,
            materials::list_finishes,
        )
        .get("/reference/glues", Who::Visitor, materials::list_glues)
        .get("/reference/lumber", Who::Visitor, sizes::lumber)
        .get("/reference/machining", Who::Visitor, sizes::machining)
        .get("/reference/words", Who::Visitor, glossary::list)
        .get("/reference/calculators", Who::Visitor, calculators::list)
        .get(
            "/reference/calculators/{name}",
            Who::Visitor,
            calculators::show,
        )
        .get("/reference/woods", Who::Visitor, woods::list)
        .get("/reference/woods/new", Who::Steward, wood_form::new)
        .post("/reference/woods", Who::Steward, wood_form::create)
        .get("/reference/woods/{name}", Who::Visitor, wood::show)
        .post("/reference/woods/{name}", Who::Steward, wood_form::update)
        .get(
            "/reference/woods/{name}/edit",
            Who::Steward,
            wood_form::edit,
        )
        .post(
            "/reference/woods/{name}/forget",
            Who::Steward,
            wood_form::remove,
        )
}
