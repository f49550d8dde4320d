//! The workshop itself: when it is open, what it lends, what it sells, and what its stewards set.

mod form;
mod openings;
mod overview;
mod resources;

use super::Routes;

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = overview::routes(routes);
    let routes = openings::routes(routes);
    resources::routes(routes)
}
