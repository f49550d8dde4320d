//! Everything that a page does, a script does: the call that stands for each form, and the description of every call.

use std::collections::{BTreeMap, BTreeSet};

use scrapwright::web::route_table;
use serde_json::Value;

use crate::app::TestApp;

/// What a script does in the place of a form.
enum Twin {
    /// A call: method and path.
    Call(&'static str, &'static str),
    /// Nothing, for this reason.
    None(&'static str),
}

use Twin::{Call, None as NoTwin};

const SESSION: &str = "a browser signs in and out with a cookie; a script has a token";
const JOINING: &str = "a link is opened by somebody who has no token yet";

/// One row for each form of a page: its path, and its twin.
const TWINS: &[(&str, Twin)] = &[
    ("/bins", Call("POST", "/api/v1/bins")),
    ("/bins/{id}", Call("PUT", "/api/v1/bins/{id}")),
    ("/bins/{id}/remove", Call("DELETE", "/api/v1/bins/{id}")),
    (
        "/bookings/{id}/begin",
        Call("POST", "/api/v1/bookings/{id}/begin"),
    ),
    (
        "/bookings/{id}/done",
        Call("POST", "/api/v1/bookings/{id}/done"),
    ),
    (
        "/bookings/{id}/move",
        Call("POST", "/api/v1/bookings/{id}/move"),
    ),
    (
        "/bookings/{id}/pin",
        Call("PUT", "/api/v1/bookings/{id}/pin"),
    ),
    ("/glue-ups/plan", Call("POST", "/api/v1/plans")),
    (
        "/glue-ups/plan/{id}/accept",
        Call("POST", "/api/v1/plans/{id}/accept"),
    ),
    ("/join/{token}", NoTwin(JOINING)),
    ("/me", Call("PATCH", "/api/v1/me")),
    ("/me/calendar", Call("POST", "/api/v1/me/calendar")),
    ("/me/calendar/end", Call("DELETE", "/api/v1/me/calendar")),
    ("/me/notices", Call("POST", "/api/v1/me/notices")),
    (
        "/me/notices/{id}/off",
        Call("PATCH", "/api/v1/me/notices/{id}"),
    ),
    (
        "/me/notices/{id}/on",
        Call("PATCH", "/api/v1/me/notices/{id}"),
    ),
    (
        "/me/notices/{id}/remove",
        Call("DELETE", "/api/v1/me/notices/{id}"),
    ),
    ("/me/password", Call("PUT", "/api/v1/me/password")),
    ("/me/tokens", Call("POST", "/api/v1/me/tokens")),
    (
        "/me/tokens/{id}/end",
        Call("DELETE", "/api/v1/me/tokens/{id}"),
    ),
    ("/members/invitations", Call("POST", "/api/v1/invitations")),
    (
        "/members/invitations/{id}/withdraw",
        Call("DELETE", "/api/v1/invitations/{id}"),
    ),
    ("/members/{id}/leave", Call("PATCH", "/api/v1/members/{id}")),
    (
        "/members/{id}/reset-link",
        Call("POST", "/api/v1/members/{id}/reset-link"),
    ),
    (
        "/members/{id}/return",
        Call("PATCH", "/api/v1/members/{id}"),
    ),
    ("/members/{id}/role", Call("PATCH", "/api/v1/members/{id}")),
    ("/offcuts", Call("POST", "/api/v1/offcuts")),
    ("/offcuts/lines", Call("POST", "/api/v1/offcuts/lines")),
    ("/offcuts/{id}", Call("PUT", "/api/v1/offcuts/{id}")),
    (
        "/offcuts/{id}/claim",
        Call("POST", "/api/v1/offcuts/{id}/claims"),
    ),
    (
        "/offcuts/{id}/move",
        Call("POST", "/api/v1/offcuts/{id}/move"),
    ),
    (
        "/offcuts/{id}/photo",
        Call("PUT", "/api/v1/offcuts/{id}/photo"),
    ),
    (
        "/offcuts/{id}/photo/remove",
        Call("DELETE", "/api/v1/offcuts/{id}/photo"),
    ),
    (
        "/offcuts/{id}/used-up",
        Call("POST", "/api/v1/offcuts/{id}/used-up"),
    ),
    ("/projects/new", Call("POST", "/api/v1/projects")),
    (
        "/projects/together",
        Call("POST", "/api/v1/projects/together"),
    ),
    (
        "/projects/together/{id}/claims",
        Call("POST", "/api/v1/projects/together/{id}/claims"),
    ),
    (
        "/projects/{id}/arrangements",
        Call("POST", "/api/v1/projects/{id}/arrangements"),
    ),
    (
        "/projects/{id}/boards/{layout}/drop",
        Call("DELETE", "/api/v1/projects/{id}/boards/{layout}"),
    ),
    (
        "/projects/{id}/claims",
        Call("POST", "/api/v1/projects/{id}/claims"),
    ),
    (
        "/projects/{id}/claims/extend",
        Call("PATCH", "/api/v1/projects/{id}/claims"),
    ),
    (
        "/projects/{id}/claims/{claim}/let-go",
        Call("DELETE", "/api/v1/projects/{id}/claims/{claim}"),
    ),
    (
        "/projects/{id}/claims/{claim}/put-back",
        Call("DELETE", "/api/v1/projects/{id}/claims/{claim}"),
    ),
    (
        "/projects/{id}/cuts/{layout}",
        Call("POST", "/api/v1/projects/{id}/cuts/{layout}"),
    ),
    (
        "/projects/{id}/design",
        Call("PATCH", "/api/v1/projects/{id}"),
    ),
    (
        "/projects/{id}/design/live",
        Call("POST", "/api/v1/projects/{id}/needs"),
    ),
    (
        "/projects/{id}/give-up",
        Call("DELETE", "/api/v1/projects/{id}"),
    ),
    (
        "/projects/{id}/match",
        Call("POST", "/api/v1/projects/{id}/match"),
    ),
    (
        "/projects/{id}/match/stop",
        Call("POST", "/api/v1/projects/{id}/match/stop"),
    ),
    (
        "/projects/{id}/plan",
        Call("POST", "/api/v1/projects/{id}/plan"),
    ),
    (
        "/projects/{id}/plan/accept",
        Call("POST", "/api/v1/plans/{id}/accept"),
    ),
    (
        "/projects/{id}/plan/cancel",
        Call("DELETE", "/api/v1/projects/{id}/plan"),
    ),
    (
        "/projects/{id}/stage",
        Call("PUT", "/api/v1/projects/{id}/stage"),
    ),
    ("/reference/woods", Call("POST", "/api/v1/species")),
    (
        "/reference/woods/{name}",
        Call("PUT", "/api/v1/species/{name}"),
    ),
    (
        "/reference/woods/{name}/forget",
        Call("DELETE", "/api/v1/species/{name}"),
    ),
    ("/sign-in", NoTwin(SESSION)),
    ("/sign-out", NoTwin(SESSION)),
    (
        "/sign-out-everywhere",
        Call("DELETE", "/api/v1/me/sessions"),
    ),
    ("/workshop/clamps", Call("POST", "/api/v1/resources")),
    (
        "/workshop/clamps/{id}",
        Call("PUT", "/api/v1/resources/{id}"),
    ),
    (
        "/workshop/clamps/{id}/remove",
        Call("DELETE", "/api/v1/resources/{id}"),
    ),
    ("/workshop/import", Call("POST", "/api/v1/tables/{table}")),
    ("/workshop/lumber", Call("POST", "/api/v1/lumber")),
    ("/workshop/lumber/{id}", Call("PUT", "/api/v1/lumber/{id}")),
    (
        "/workshop/lumber/{id}/remove",
        Call("DELETE", "/api/v1/lumber/{id}"),
    ),
    (
        "/workshop/openings/{kind}",
        Call("POST", "/api/v1/openings/{kind}"),
    ),
    (
        "/workshop/openings/{kind}/{id}",
        Call("PUT", "/api/v1/openings/{kind}/{id}"),
    ),
    (
        "/workshop/openings/{kind}/{id}/remove",
        Call("DELETE", "/api/v1/openings/{kind}/{id}"),
    ),
    ("/workshop/settings", Call("PATCH", "/api/v1/workshop")),
    (
        "/workshop/settings/{part}",
        Call("PATCH", "/api/v1/workshop"),
    ),
    (
        "/workshop/start/stations",
        Call("POST", "/api/v1/resources"),
    ),
];

#[tokio::test]
async fn every_form_of_a_page_has_a_call_that_does_the_same() {
    let app = TestApp::new().await;
    let table = route_table(&app.app);
    let routed: BTreeSet<(String, String)> = table
        .iter()
        .map(|route| (route.method.to_string(), route.path.clone()))
        .collect();
    let twins: BTreeMap<&str, &Twin> = TWINS.iter().map(|(path, twin)| (*path, twin)).collect();
    assert_eq!(twins.len(), TWINS.len(), "a path is written twice");
    for (path, twin) in &twins {
        assert!(
            routed.contains(&("POST".to_owned(), (*path).to_owned())),
            "{path} is in TWINS, but is no form"
        );
        match twin {
            Call(method, call) => assert!(
                routed.contains(&((*method).to_owned(), (*call).to_owned())),
                "{path} has the twin {method} {call}, which is not served"
            ),
            NoTwin(reason) => assert!(!reason.is_empty()),
        }
    }
    for route in &table {
        let is_form = route.method == "POST" && !route.path.starts_with("/api/");
        assert!(
            !is_form || twins.contains_key(route.path.as_str()),
            "{}: write the call that does the same into TWINS",
            route.path
        );
    }
}

async fn description() -> Value {
    let app = TestApp::new().await;
    app.guest().get("/api/v1/openapi.json").await.json()
}

/// Method and path of every call that is described.
fn described(document: &Value) -> BTreeSet<(String, String)> {
    let paths = document["paths"].as_object().unwrap();
    paths
        .iter()
        .flat_map(|(path, item)| {
            item.as_object()
                .unwrap()
                .keys()
                .map(|method| (method.to_uppercase(), path.clone()))
        })
        .collect()
}

#[tokio::test]
async fn every_call_is_described_and_every_described_call_is_there() {
    let app = TestApp::new().await;
    let served: BTreeSet<(String, String)> = route_table(&app.app)
        .iter()
        .filter(|route| route.path.starts_with("/api/v1/"))
        .map(|route| (route.method.to_string(), route.path.clone()))
        .collect();
    assert_eq!(described(&description().await), served);
}

/// Every call in turn: its name for messages, and its description.
fn operations(document: &Value) -> Vec<(String, &Value)> {
    let paths = document["paths"].as_object().unwrap();
    paths
        .iter()
        .flat_map(|(path, item)| {
            item.as_object()
                .unwrap()
                .iter()
                .map(move |(method, operation)| (format!("{method} {path}"), operation))
        })
        .collect()
}

#[tokio::test]
async fn every_description_says_what_it_does_what_it_takes_and_what_can_go_wrong() {
    let document = description().await;
    for (name, operation) in operations(&document) {
        assert!(
            operation["summary"]
                .as_str()
                .is_some_and(|text| text.ends_with('.')),
            "{name} has no summary"
        );
        assert_eq!(
            operation["tags"].as_array().map(Vec::len),
            Some(1),
            "{name}"
        );
        let responses = operation["responses"].as_object().unwrap();
        assert!(
            responses.keys().any(|status| status.starts_with('2')),
            "{name}"
        );
        for status in ["401", "500", "503"] {
            assert_eq!(
                responses[status]["$ref"].as_str().map(|text| &text[..23]),
                Some("#/components/responses/"),
                "{name} {status}"
            );
        }
        if let Some(content) = operation["requestBody"]["content"].as_object() {
            for (media_type, body) in content {
                let is_json = media_type == "application/json";
                let has_example =
                    !body["example"].is_null() || has_example(&document, &body["schema"]);
                assert!(!is_json || has_example, "{name} has no example of a body");
            }
            for status in ["400", "413", "422"] {
                assert!(responses.contains_key(status), "{name} {status}");
            }
        }
        let parameters = operation["parameters"].as_array();
        let takes = |wanted: &str| {
            parameters.is_some_and(|list| list.iter().any(|parameter| parameter["name"] == wanted))
        };
        for parameter in parameters.into_iter().flatten() {
            let in_path = name.contains(&format!("{{{}}}", parameter["name"].as_str().unwrap()));
            assert_eq!(parameter["in"] == "path", in_path, "{name} {parameter}");
        }
        if takes("If-Match") {
            assert!(
                responses.contains_key("412") && responses.contains_key("428"),
                "{name}"
            );
        }
        if name.contains('{') {
            assert!(responses.contains_key("404"), "{name}");
        }
    }
}

/// Whether a schema, or a field of it, has an example.
fn has_example(document: &Value, schema: &Value) -> bool {
    if let Some(name) = schema["$ref"].as_str() {
        let name = name.trim_start_matches("#/components/schemas/");
        return has_example(document, &document["components"]["schemas"][name]);
    }
    let has = |value: &Value| !value["example"].is_null() || !value["examples"].is_null();
    has(schema)
        || schema["properties"]
            .as_object()
            .is_some_and(|fields| fields.values().any(has))
}

#[tokio::test]
async fn every_reference_in_the_description_leads_somewhere() {
    fn walk<'a>(value: &'a Value, found: &mut BTreeSet<&'a str>) {
        match value {
            Value::Object(fields) => {
                for (name, field) in fields {
                    match field.as_str() {
                        Some(text) if name == "$ref" => _ = found.insert(text),
                        _ => walk(field, found),
                    }
                }
            }
            Value::Array(items) => items.iter().for_each(|item| walk(item, found)),
            _ => {}
        }
    }
    let document = description().await;
    let mut found = BTreeSet::new();
    walk(&document, &mut found);
    assert!(found.len() > 50, "{} references", found.len());
    for reference in found {
        let pointer = reference.trim_start_matches('#');
        assert!(document.pointer(pointer).is_some(), "{reference}");
    }
}
