//! The description of the JSON interface (OpenAPI 3.1): its frame, and what holds for every call alike.

use std::time::Duration;

use axum::extract::State;
use axum::http::{Method, header};
use axum::response::IntoResponse;
use serde_json::json;
use utoipa::OpenApi;
use utoipa::openapi::content::ContentBuilder;
use utoipa::openapi::header::HeaderBuilder;
use utoipa::openapi::path::{Operation, Parameter, ParameterBuilder, ParameterIn, PathItem};
use utoipa::openapi::response::ResponseBuilder;
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};
use utoipa::openapi::{Object, ObjectBuilder, Ref, RefOr, Required, Response, Schema, Type};
use utoipa_axum::routes;

use crate::app::App;
use crate::web::router::description;
use crate::web::{Error, Route, Routes, Who};
use crate::wire::{FieldError, Problem};

/// The frame of the API's description; paths and schemas come from the handlers.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "Scrapwright",
        description = "From shared offcuts to finished kitchen gifts by a date.\n\n\
            Lengths in requests are a number of millimetres or a string with its unit (`\"17 1/2 in\"`); in answers a number of millimetres. \
            An unknown field is an error.\n\n\
            ## Known quirks\n\
            - Errors are problem documents (RFC 9457); `errors` holds a JSON Pointer for each wrong field.\n\
            - A change needs `If-Match` with the ETag that was read, and is refused with 412 when somebody was quicker.\n\
            - `POST` calls honour `Idempotency-Key` for two days; a kept answer carries `Idempotency-Replayed: true`.\n\
            - Lists page by `after` and `limit`; the next page is in `next` and in the `Link` header.\n\
            - Figures from outside carry their `source`: a publication, `common practice`, or `from memory` where that is the truth.",
    ),
    servers((url = "/")),
    tags(
        (name = "bins", description = "Bins, the offcuts in them, their labels and photos"),
        (name = "projects", description = "What members make: design, match, claims, cuts, bench sheet"),
        (name = "calculations", description = "The same calculations without stored data"),
        (name = "workshop", description = "What the workshop lends, sells, sets, and when it is open"),
        (name = "ledger", description = "What came, went and was made of it; changes as they happen"),
        (name = "plans", description = "Plans, bookings, and questions about dates"),
        (name = "members", description = "Members, tokens, links"),
        (name = "species", description = "Woods with their figures"),
        (name = "reference", description = "Glues, finishes, abrasives, sizes, cautions, words"),
    ),
    components(schemas(Problem, FieldError))
)]
struct Frame;

pub(in crate::web) fn empty_document() -> utoipa::openapi::OpenApi {
    let mut document = Frame::openapi();
    let components = document.components.get_or_insert_default();
    components.add_security_scheme(
        "token",
        SecurityScheme::Http(Http::new(HttpAuthScheme::Bearer)),
    );
    document
}

pub(super) fn routes(routes: Routes) -> Routes {
    routes.api(Who::Anyone, routes!(openapi))
}

/// This description. It is public, as it holds nothing of the workshop.
#[utoipa::path(get, path = "/api/v1/openapi.json", tag = "reference",
    responses((status = 200, body = Object, description = "An OpenAPI 3.1 document")))]
async fn openapi(State(app): State<App>) -> Result<impl IntoResponse, Error> {
    let text = description(&app)
        .to_json()
        .map_err(|error| Error::Internal(error.into()))?;
    Ok(([(header::CONTENT_TYPE, "application/json")], text))
}

/// An error that many calls answer: its name among the components, and one such.
fn shared() -> [(&'static str, Error); 15] {
    let example = || FieldError {
        pointer: "/name".to_owned(),
        detail: "is empty; must be filled in".to_owned(),
    };
    [
        (
            "Malformed",
            Error::Malformed("limit is 0; must be from 1 to 500.".into()),
        ),
        ("SignInNeeded", Error::SignInNeeded),
        (
            "Forbidden",
            Error::Forbidden("Only stewards may do this.".into()),
        ),
        (
            "NotFound",
            Error::NotFound("There is nothing at this address.".into()),
        ),
        ("WrongMethod", Error::WrongMethod),
        ("Conflict", Error::Conflict("The project has ended.".into())),
        ("Stale", Error::Stale),
        ("TooLarge", Error::TooLarge),
        ("WrongMediaType", Error::WrongMediaType("application/json")),
        ("Wrong", Error::Wrong(vec![example()])),
        ("VersionMissing", Error::VersionMissing),
        ("TooMany", Error::TooMany(Duration::from_secs(20))),
        ("Fault", Error::Internal(anyhow::anyhow!("an example"))),
        ("Busy", Error::Busy),
        ("DiskFull", Error::DiskFull(anyhow::anyhow!("an example"))),
    ]
}

fn problem_response(error: &Error) -> Response {
    let problem = error.problem();
    let example = serde_json::to_value(&problem).ok();
    let mut response = ResponseBuilder::new()
        .description(problem.title.clone())
        .content(
            "application/problem+json",
            ContentBuilder::new()
                .schema(Some(Ref::from_schema_name("Problem")))
                .example(example)
                .build(),
        );
    if matches!(error, Error::Busy | Error::TooMany(_)) {
        let seconds = HeaderBuilder::new()
            .schema(Some(Object::with_type(Type::Integer)))
            .description(Some("Seconds to wait before the next try"));
        response = response.header("Retry-After", seconds.build());
    }
    response.build()
}

/// Adds what the gate, the extractors and the idempotency of every call answer, so that no handler repeats it.
pub(in crate::web) fn complete(document: &mut utoipa::openapi::OpenApi, table: &[Route]) {
    let shared = shared();
    let components = document.components.get_or_insert_default();
    // What a calculation cannot know, and every answer over HTTP adds.
    if let Some(RefOr::T(Schema::Object(problem))) = components.schemas.get_mut("Problem") {
        let number = ObjectBuilder::new()
            .schema_type(Type::String)
            .description(Some(
                "By which those who keep the machine find the request in the log.",
            ))
            .examples([json!("9f2c41d07ab35e86")]);
        problem
            .properties
            .insert("request_id".to_owned(), number.into());
    }
    for (name, error) in &shared {
        components
            .responses
            .insert((*name).to_owned(), problem_response(error).into());
    }
    for route in table {
        let Some(item) = document.paths.paths.get_mut(&route.path) else {
            continue;
        };
        let has_version = item.put.is_some() || item.patch.is_some();
        if let Some(operation) = operation_of(item, &route.method) {
            complete_one(operation, route, has_version, &shared);
        }
    }
}

fn operation_of<'a>(item: &'a mut PathItem, method: &Method) -> Option<&'a mut Operation> {
    match *method {
        Method::GET => item.get.as_mut(),
        Method::POST => item.post.as_mut(),
        Method::PUT => item.put.as_mut(),
        Method::PATCH => item.patch.as_mut(),
        Method::DELETE => item.delete.as_mut(),
        _ => None,
    }
}

fn complete_one(
    operation: &mut Operation,
    route: &Route,
    has_version: bool,
    shared: &[(&str, Error)],
) {
    let parameters = operation.parameters.get_or_insert_default();
    let is_keyed = route.method == Method::POST && route.who != Who::Anyone;
    if is_keyed {
        parameters.push(RefOr::T(idempotency_key()));
    }
    let has = |place: ParameterIn| {
        parameters.iter().any(
            |parameter| matches!(parameter, RefOr::T(parameter) if parameter.parameter_in == place),
        )
    };
    let is_versioned = parameters
        .iter()
        .any(|parameter| matches!(parameter, RefOr::T(parameter) if parameter.name == "If-Match"));
    let is_safe = route.method == Method::GET;
    let has_body = operation.request_body.is_some();
    let mut statuses = vec![401, 500, 503];
    if has(ParameterIn::Query) || has_body || is_keyed {
        statuses.push(400);
    }
    if !is_safe || matches!(route.who, Who::Steward) {
        statuses.push(403);
    }
    if !is_safe {
        statuses.push(507);
    }
    if has(ParameterIn::Path) {
        statuses.push(404);
    }
    if has_body || is_keyed {
        statuses.extend([413, 422]);
    }
    if has_body {
        statuses.push(415);
    }
    if is_keyed {
        statuses.push(409);
    }
    if is_versioned {
        statuses.extend([412, 428]);
    }
    let responses = &mut operation.responses.responses;
    // An error that a handler names without words of its own is the shared one.
    for (status, response) in responses.iter() {
        if status.starts_with(['4', '5'])
            && matches!(response, RefOr::T(response) if response.description.is_empty())
            && let Ok(status) = status.parse()
        {
            statuses.push(status);
        }
    }
    for status in statuses {
        let found = shared
            .iter()
            .find(|(_, error)| error.status().as_u16() == status);
        if let Some((name, _)) = found {
            responses.insert(
                status.to_string(),
                RefOr::Ref(Ref::from_response_name(*name)),
            );
        }
    }
    for (status, response) in responses.iter_mut() {
        if let RefOr::T(response) = response
            && status.starts_with(['4', '5'])
            && let Some(content) = response.content.shift_remove("application/json")
        {
            let media_type = "application/problem+json".to_owned();
            response.content.insert(media_type, content);
        }
        if let RefOr::T(response) = response
            && response.description.is_empty()
        {
            response.description = match status.as_str() {
                "201" => "It is made",
                "204" => "It is done",
                _ => "What was asked for",
            }
            .to_owned();
        }
    }
    if has_version && (is_safe || is_versioned) {
        for status in ["200", "201"] {
            if let Some(RefOr::T(response)) = responses.get_mut(status) {
                let version = HeaderBuilder::new()
                    .schema(Some(Object::with_type(Type::String)))
                    .description(Some("The version, for `If-Match`"));
                response
                    .headers
                    .insert("ETag".to_owned(), RefOr::T(version.build()));
            }
        }
    }
    if operation.parameters.as_ref().is_some_and(Vec::is_empty) {
        operation.parameters = None;
    }
}

fn idempotency_key() -> Parameter {
    ParameterBuilder::new()
        .name("Idempotency-Key")
        .parameter_in(ParameterIn::Header)
        .required(Required::False)
        .description(Some(
            "1 to 200 letters of your own: the call is done once, however often it is sent",
        ))
        .schema(Some(Object::with_type(Type::String)))
        .build()
}
