//! The pages, a file for each place of the workshop.

mod error;
mod join;
mod sign_in;
mod today;

pub(super) use error::error_page;
pub(super) use sign_in::to_sign_in;

use super::Routes;

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = today::routes(routes);
    let routes = sign_in::routes(routes);
    join::routes(routes)
}
