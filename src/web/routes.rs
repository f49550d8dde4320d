use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::handler::Handler;
use axum::http::Method;
use axum::middleware::from_fn_with_state;
use axum::routing::{MethodFilter, MethodRouter, on};
use utoipa_axum::router::{OpenApiRouter, UtoipaMethodRouter};

use super::access::{Gate, pass};
use crate::app::App;
use crate::store::api_token::Scope;

/// Who may use a route.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Who {
    /// Everybody, signed in or not.
    Anyone,
    /// Members, and guests where the workshop allows looking.
    Visitor,
    /// Members.
    Member,
    /// The member whose thing it is, and stewards; the handler checks whose it is.
    Owner,
    /// Stewards.
    Steward,
}

/// One route as it was registered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Route {
    pub method: Method,
    pub path: String,
    pub who: Who,
    /// What an API token needs.
    pub scope: Scope,
}

/// The largest form of a page.
const FORM_LIMIT: usize = 512 * 1024;
/// The largest JSON body.
const JSON_LIMIT: usize = 1024 * 1024;
/// The largest problem for a solver.
const SOLVE_LIMIT: usize = 16 * 1024 * 1024;

/// Collects every route with who may use it; there is no other way to register one.
pub struct Routes {
    app: App,
    router: OpenApiRouter<App>,
    table: Vec<Route>,
}

impl Routes {
    pub(super) fn new(app: App, document: utoipa::openapi::OpenApi) -> Routes {
        Routes {
            app,
            router: OpenApiRouter::with_openapi(document),
            table: Vec::new(),
        }
    }

    /// A page that is read.
    #[must_use]
    pub fn get<H, T>(self, path: &str, who: Who, handler: H) -> Routes
    where
        H: Handler<T, App>,
        T: 'static,
    {
        let router = on(MethodFilter::GET, handler);
        self.route(Method::GET, path, who, FORM_LIMIT, false, router)
    }

    /// A page whose answer needs a solver, and so may take as long as a solve.
    #[must_use]
    pub fn get_solve<H, T>(self, path: &str, who: Who, handler: H) -> Routes
    where
        H: Handler<T, App>,
        T: 'static,
    {
        let router = on(MethodFilter::GET, handler);
        self.route(Method::GET, path, who, FORM_LIMIT, true, router)
    }

    /// A form that is sent.
    #[must_use]
    pub fn post<H, T>(self, path: &str, who: Who, handler: H) -> Routes
    where
        H: Handler<T, App>,
        T: 'static,
    {
        let router = on(MethodFilter::POST, handler);
        self.route(Method::POST, path, who, FORM_LIMIT, false, router)
    }

    /// A form with a file of at most `limit` bytes.
    #[must_use]
    pub fn post_upload<H, T>(self, path: &str, who: Who, limit: usize, handler: H) -> Routes
    where
        H: Handler<T, App>,
        T: 'static,
    {
        let router = on(MethodFilter::POST, handler);
        self.route(Method::POST, path, who, limit, false, router)
    }

    /// A form whose answer needs a solver, and so may take as long as a solve.
    #[must_use]
    pub fn post_solve<H, T>(self, path: &str, who: Who, handler: H) -> Routes
    where
        H: Handler<T, App>,
        T: 'static,
    {
        let router = on(MethodFilter::POST, handler);
        self.route(Method::POST, path, who, FORM_LIMIT, true, router)
    }

    /// A call of the JSON interface, from `routes!(handler)` with one handler.
    #[must_use]
    pub fn api(self, who: Who, route: UtoipaMethodRouter<App>) -> Routes {
        self.call(who, JSON_LIMIT, false, route)
    }

    /// A call with a body of at most `limit` bytes.
    #[must_use]
    pub fn api_upload(self, who: Who, limit: usize, route: UtoipaMethodRouter<App>) -> Routes {
        self.call(who, limit, false, route)
    }

    /// A call whose answer needs a solver.
    #[must_use]
    pub fn api_solve(self, who: Who, route: UtoipaMethodRouter<App>) -> Routes {
        self.call(who, SOLVE_LIMIT, true, route)
    }

    fn route(
        mut self,
        method: Method,
        path: &str,
        who: Who,
        limit: usize,
        solves: bool,
        router: MethodRouter<App>,
    ) -> Routes {
        let gate = Gate {
            app: self.app.clone(),
            who,
            scope: scope(&method, who),
            solves,
        };
        self.table.push(Route {
            method,
            path: path.to_owned(),
            who,
            scope: gate.scope,
        });
        self.router = self.router.route(path, guarded(router, gate, limit));
        self
    }

    fn call(
        mut self,
        who: Who,
        limit: usize,
        solves: bool,
        (schemas, paths, router): UtoipaMethodRouter<App>,
    ) -> Routes {
        let (path, item) = paths
            .paths
            .first_key_value()
            .expect("routes!() names a handler");
        let method = [
            (Method::GET, item.get.is_some()),
            (Method::POST, item.post.is_some()),
            (Method::PUT, item.put.is_some()),
            (Method::PATCH, item.patch.is_some()),
            (Method::DELETE, item.delete.is_some()),
        ];
        let mut methods = method.into_iter().filter(|(_, is_there)| *is_there);
        let (method, _) = methods.next().expect("a handler has a method");
        assert!(
            methods.next().is_none() && paths.paths.len() == 1,
            "{path}: give each method its own line, so that it says who may call it"
        );
        let gate = Gate {
            app: self.app.clone(),
            who,
            scope: scope(&method, who),
            solves,
        };
        self.table.push(Route {
            method,
            path: path.clone(),
            who,
            scope: gate.scope,
        });
        self.router = self
            .router
            .routes((schemas, paths, guarded(router, gate, limit)));
        self
    }

    pub(super) fn into_parts(self) -> (Router<App>, utoipa::openapi::OpenApi, Vec<Route>) {
        let (router, document) = self.router.split_for_parts();
        (router, document, self.table)
    }
}

fn guarded(router: MethodRouter<App>, gate: Gate, limit: usize) -> MethodRouter<App> {
    router
        .layer(DefaultBodyLimit::max(limit))
        .layer(from_fn_with_state(gate, pass))
}

fn scope(method: &Method, who: Who) -> Scope {
    match who {
        Who::Steward => Scope::Steward,
        Who::Anyone => Scope::Read,
        _ if method == Method::GET => Scope::Read,
        _ => Scope::Write,
    }
}
