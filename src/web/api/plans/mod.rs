//! Plans, bookings and the day in JSON: what the pages do, for scripts.

mod body;
mod booking;
mod dates;
mod of_project;
mod several;
mod today;
mod week;

use super::Routes;

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = booking::routes(routes);
    let routes = dates::routes(routes);
    let routes = of_project::routes(routes);
    let routes = several::routes(routes);
    let routes = today::routes(routes);
    week::routes(routes)
}
