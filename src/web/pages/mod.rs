//! The pages, a file for each place of the workshop.

pub(super) mod bins;
mod error;
mod join;
pub(super) mod ledger;
mod me;
mod members;
pub(super) mod notices;
pub(super) mod plans;
pub(super) mod projects;
mod reference;
mod sign_in;
mod today;
pub(super) mod workshop;

pub(super) use bins::failed as stock_error;
pub(super) use error::error_page;
pub(super) use members::change_error;
pub(super) use reference::species_error;
pub(super) use sign_in::to_sign_in;

use super::Routes;

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = today::routes(routes);
    let routes = bins::routes(routes);
    let routes = sign_in::routes(routes);
    let routes = join::routes(routes);
    let routes = me::routes(routes);
    let routes = members::routes(routes);
    let routes = notices::routes(routes);
    let routes = workshop::routes(routes);
    let routes = ledger::routes(routes);
    let routes = plans::routes(routes);
    let routes = reference::routes(routes);
    projects::routes(routes)
}
