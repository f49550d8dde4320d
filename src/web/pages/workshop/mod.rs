//! The workshop itself: when it is open, what it lends, what it sells, and what its stewards set.

mod air;
pub(in crate::web) mod changes;
pub(super) mod form;
mod import;
mod lumber;
mod openings;
mod overview;
mod practice;
mod resources;
mod settings;
mod start;

use super::Routes;

pub(in crate::web) use openings::parse_day;

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = overview::routes(routes);
    let routes = openings::routes(routes);
    let routes = resources::routes(routes);
    let routes = lumber::routes(routes);
    let routes = settings::routes(routes);
    let routes = start::routes(routes);
    let routes = changes::routes(routes);
    import::routes(routes)
}
