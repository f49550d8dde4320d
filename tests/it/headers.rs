//! Headers, health, assets, the API's description, and calculations over HTTP.

use std::collections::BTreeSet;

use axum::body::Body;
use axum::http::{Method, Request, StatusCode};
use scrapwright::web::route_table;
use serde_json::json;

use crate::app::TestApp;

#[tokio::test]
async fn every_answer_says_what_a_browser_may_do_with_it() {
    let app = TestApp::new().await;
    for path in [
        "/sign-in",
        "/",
        "/nowhere",
        "/api/v1/me",
        "/healthz",
        "/static/missing.css",
    ] {
        let answer = app.guest().get(path).await;
        let policy = answer.header("content-security-policy");
        assert!(policy.starts_with("default-src 'none';"), "{path}");
        assert!(policy.contains("frame-ancestors 'none'"), "{path}");
        assert!(!policy.contains("unsafe"), "{path}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(answer.header("referrer-policy"), "same-origin", "{path}");
        assert_eq!(answer.header("x-request-id").len(), 16, "{path}");
    }
    let page = app.member("Ada").await.get("/me").await;
    assert_eq!(page.header("cache-control"), "private, no-cache");
}

#[tokio::test]
async fn style_and_script_are_served_for_ever_under_an_address_of_their_content() {
    let app = TestApp::new().await;
    let page = app.guest().get("/sign-in").await;
    let style = page.attribute("link[rel=stylesheet]", "href").unwrap();
    assert!(style.starts_with("/static/style.css?v="), "{style}");
    let answer = app.guest().get(&style).await;
    assert_eq!(answer.header("content-type"), "text/css; charset=utf-8");
    assert_eq!(
        answer.header("cache-control"),
        "public, max-age=31536000, immutable"
    );
    let script = page.attribute("script", "src").unwrap();
    assert_eq!(
        app.guest().get(&script).await.header("content-type"),
        "text/javascript; charset=utf-8"
    );
}

#[tokio::test]
async fn answers_are_compressed_where_the_caller_can_read_that() {
    let app = TestApp::new().await;
    let request = Request::get("/static/style.css")
        .header("host", "workshop.test")
        .header("accept-encoding", "gzip")
        .body(Body::empty())
        .unwrap();
    let answer = app.send(request).await;
    assert_eq!(answer.header("content-encoding"), "gzip");
}

#[tokio::test]
async fn whoever_keeps_the_machine_can_watch_it() {
    let app = TestApp::new().await;
    assert_eq!(app.guest().get("/healthz").await.text(), "alive\n");
    assert_eq!(app.guest().get("/readyz").await.text(), "ready\n");
    let metrics = app.guest().get("/metrics").await;
    assert!(
        metrics.text().contains("scrapwright_requests_total"),
        "{}",
        metrics.text()
    );
    assert!(
        metrics.text().contains("route=\"/readyz\""),
        "{}",
        metrics.text()
    );
}

#[tokio::test]
async fn the_description_names_every_call() {
    let app = TestApp::new().await;
    let document = app.guest().get("/api/v1/openapi.json").await.json();
    assert_eq!(document["openapi"], "3.1.0");
    let problem: Vec<&String> = document["components"]["schemas"]["Problem"]["properties"]
        .as_object()
        .unwrap()
        .keys()
        .collect();
    assert_eq!(
        problem,
        ["detail", "errors", "request_id", "status", "title", "type"]
    );
    let mut described = BTreeSet::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            assert!(operation["operationId"].is_string(), "{method} {path}");
            assert!(
                operation["summary"].is_string(),
                "{method} {path} has no summary"
            );
            described.insert((method.to_uppercase(), path.clone()));
        }
    }
    let routed: BTreeSet<_> = route_table(&app.app)
        .into_iter()
        .filter(|route| route.path.starts_with("/api/"))
        .map(|route| (route.method.to_string(), route.path))
        .collect();
    assert_eq!(described, routed);
}

#[tokio::test]
async fn a_match_is_answered_without_signing_in_and_without_stored_data() {
    let app = TestApp::new().await;
    let request = json!({
        "stock": [{"id": "A", "species": "hard maple", "length": "20 in", "width": "2 in", "thickness": "7/8 in",
            "square_ends": true, "straight_edges": true}],
        "strips": [{"id": "s", "species": ["hard maple"], "length": "20 in",
            "sections": [{"rip": "2 in", "thickness": "3/4 in"}]}],
    });
    // A script that says nothing of the media type.
    let call = Request::post("/api/v1/calculations/match")
        .body(Body::from(request.to_string()))
        .unwrap();
    let answer = app.send(call).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
    assert_eq!(answer.json()["covered"], 1);
    assert_eq!(answer.json()["touched"], 1);
}

#[tokio::test]
async fn a_wrong_calculation_names_the_field() {
    let app = TestApp::new().await;
    let body = json!({"from": "2027-03-01T00:00", "to": "2027-03-02T00:00", "resources": [], "tasks": [{"id": "a"}]});
    let answer = app
        .guest()
        .call(Method::POST, "/api/v1/calculations/schedule", body)
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.header("content-type"), "application/problem+json");
    let pointer = answer.json()["errors"][0]["pointer"]
        .as_str()
        .unwrap()
        .to_owned();
    assert!(pointer.starts_with("/tasks/0"), "{pointer}");
}

#[tokio::test]
async fn an_impossible_schedule_is_a_problem_of_its_own_kind() {
    let app = TestApp::new().await;
    let body = json!({"from": "2027-03-01T00:00", "to": "2027-03-01T01:00", "resources": [],
        "tasks": [{"id": "sand", "minutes": 61}]});
    let answer = app
        .guest()
        .call(Method::POST, "/api/v1/calculations/schedule", body)
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.json()["type"], "/problems/no-schedule");
    assert!(answer.json()["detail"].as_str().unwrap().contains("sand"));
}

#[tokio::test]
async fn progress_is_streamed_to_whom_asks_for_it() {
    let app = TestApp::new().await;
    let body = json!({"from": "2027-03-01T00:00", "to": "2027-03-02T00:00", "resources": [],
        "tasks": [{"id": "sand", "minutes": 60}]});
    let headers = [
        ("content-type", "application/json"),
        ("accept", "text/event-stream"),
    ];
    let answer = app
        .guest()
        .send(
            Method::POST,
            "/api/v1/calculations/schedule",
            &headers,
            body.to_string().into(),
        )
        .await;
    assert_eq!(answer.header("content-type"), "text/event-stream");
    let text = answer.text();
    let last = text.rsplit("event: answer\ndata: ").next().unwrap();
    let value: serde_json::Value = serde_json::from_str(last.trim()).unwrap();
    assert_eq!(value["starts"], json!({"sand": "2027-03-01T00:00"}));
}
