//! The JSON interface under `/api/v1`, a file for each group.

mod bins;
mod calculations;
mod document;
mod members;
mod notices;
mod plans;
mod projects;
mod species;

pub(super) use document::{document, empty_document};

use super::Routes;

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = bins::routes(routes);
    let routes = calculations::routes(routes);
    let routes = members::routes(routes);
    let routes = notices::routes(routes);
    let routes = plans::routes(routes);
    let routes = species::routes(routes);
    projects::routes(routes)
}
