//! Projects in JSON: what the pages do, for scripts.

mod body;
mod choices;
mod drawn;
mod project;
mod together;
mod wood;
mod work;

use super::Routes;

pub(super) use body::day;

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = project::routes(routes);
    let routes = choices::routes(routes);
    let routes = drawn::routes(routes);
    let routes = together::routes(routes);
    let routes = wood::routes(routes);
    work::routes(routes)
}
