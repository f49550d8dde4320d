//! Figures and their sources: woods, calculators, glues, finishes and the rest of what the workshop's numbers rest on.

mod calculators;
mod index;
mod units;
mod wood;
mod woods;

use crate::web::{Routes, Who};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/reference", Who::Visitor, index::show)
        .get("/reference/calculators", Who::Visitor, calculators::list)
        .get(
            "/reference/calculators/{name}",
            Who::Visitor,
            calculators::show,
        )
        .get("/reference/woods", Who::Visitor, woods::list)
        .get("/reference/woods/{name}", Who::Visitor, wood::show)
}
