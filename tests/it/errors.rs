//! The two faces of errors, and that nothing bare or inner reaches anybody.

use axum::body::Body;
use axum::http::{Method, Request, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::json;

use crate::app::TestApp;

#[tokio::test]
async fn an_unknown_address_has_a_page_and_a_problem() {
    let app = TestApp::new().await;
    let page = app.guest().get("/nowhere").await;
    assert_eq!(page.status, StatusCode::NOT_FOUND);
    assert_eq!(page.one("h1"), "Not here");
    assert_eq!(page.one("p .tag"), page.header("x-request-id"));
    assert_eq!(page.attribute("main a.button", "href").unwrap(), "/");

    let problem = app.guest().get("/api/v1/nowhere").await;
    assert_eq!(problem.status, StatusCode::NOT_FOUND);
    assert_eq!(problem.header("content-type"), "application/problem+json");
    assert_eq!(
        problem.json(),
        json!({
            "type": "/problems/not-found",
            "status": 404,
            "title": "Not here",
            "detail": "There is nothing at this address.",
            "request_id": problem.header("x-request-id"),
        })
    );
}

#[tokio::test]
async fn a_wrong_method_says_which_are_right() {
    let app = TestApp::new().await;
    let page = app
        .guest()
        .send(Method::DELETE, "/sign-in", &[], Body::empty())
        .await;
    assert_eq!(page.status, StatusCode::METHOD_NOT_ALLOWED);
    assert_eq!(page.one("h1"), "That cannot be done here");
    assert_eq!(page.header("allow"), "GET,HEAD,POST");
    let problem = app.guest().call(Method::PUT, "/api/v1/me", json!({})).await;
    assert_eq!(problem.status, StatusCode::METHOD_NOT_ALLOWED);
    assert_eq!(problem.json()["type"], "/problems/wrong-method");
}

#[tokio::test]
async fn a_number_that_is_none_is_simply_not_there() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let answer = steward
        .post("/members/seven/leave", &[("version", "1")])
        .await;
    assert_eq!(answer.status, StatusCode::NOT_FOUND);
    assert_eq!(answer.one("h1"), "Not here");
}

#[tokio::test]
async fn json_that_cannot_be_read_says_why_and_where() {
    let app = TestApp::new().await;
    let id = app.add("Sten", Role::Steward).await;
    let script = app.script(id, Scope::Steward).await;
    let broken = Request::post("/api/v1/invitations")
        .header("authorization", format!("Bearer {}", script.token))
        .header("content-type", "application/json")
        .body(Body::from("{\"role\": "))
        .unwrap();
    let answer = app.send(broken).await;
    assert_eq!(answer.status, StatusCode::BAD_REQUEST);
    assert_eq!(answer.json()["type"], "/problems/malformed");

    let cases = [
        (
            json!({"role": 3}),
            "/role",
            "invalid type: integer `3`, expected a string",
        ),
        (
            json!({"role": "king"}),
            "/role",
            "is \"king\"; must be \"member\" or \"steward\"",
        ),
        (
            json!({"role": "member", "rôle~/": 1}),
            "/rôle~0~1",
            "unknown field `rôle~/`, expected `name` or `role`",
        ),
        (json!({}), "", "missing field `role`"),
    ];
    for (body, pointer, detail) in cases {
        let answer = script.post("/api/v1/invitations", body).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!(
            answer.json()["errors"],
            json!([{"pointer": pointer, "detail": detail}])
        );
    }

    let form = [("content-type", "application/x-www-form-urlencoded")];
    let answer = script
        .send(Method::POST, "/api/v1/invitations", &form, None)
        .await;
    assert_eq!(answer.status, StatusCode::UNSUPPORTED_MEDIA_TYPE);
}

#[tokio::test]
async fn too_large_a_body_is_refused_in_the_right_face() {
    let app = TestApp::new().await;
    let member = app.member("Ada").await;
    let huge = "x".repeat(1024 * 1024);
    let page = member.post("/me", &[("name", &huge)]).await;
    assert_eq!(page.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(page.one("h1"), "Too much at once");
    let problem = member
        .call(Method::POST, "/api/v1/me/tokens", json!({"name": huge}))
        .await;
    assert_eq!(problem.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(problem.json()["type"], "/problems/too-large");
}

#[tokio::test]
async fn a_failure_inside_shows_a_number_and_nothing_else() {
    let app = TestApp::new().await;
    let member = app.member("Ada").await;
    let mut db = app.app.store.begin().await.unwrap();
    scrapwright::store::session::delete_all(&mut db, scrapwright::store::MemberId(999), None)
        .await
        .unwrap();
    drop(db);
    app.app.store.close().await;
    let page = member.get("/me").await;
    assert_eq!(page.status, StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(page.header("retry-after"), "2");
    assert_eq!(page.one("h1"), "Busy just now");
    assert!(!page.text().to_lowercase().contains("sql"));
}

#[tokio::test]
async fn a_stale_change_is_refused() {
    let app = TestApp::new().await;
    let id = app.add("Ada", scrapwright::store::Role::Member).await;
    let script = app.script(id, Scope::Write).await;
    let read = script.get("/api/v1/me").await;
    assert_eq!(read.header("etag"), "\"v1\"");
    let change = |if_match: &'static str, unit: &'static str| {
        let body = json!({"length_unit": unit});
        let headers: Vec<(&str, &str)> = if if_match.is_empty() {
            vec![]
        } else {
            vec![("if-match", if_match)]
        };
        let script = &script;
        async move {
            script
                .send(Method::PATCH, "/api/v1/me", &headers, Some(body))
                .await
        }
    };
    assert_eq!(
        change("", "mm").await.status,
        StatusCode::PRECONDITION_REQUIRED
    );
    let changed = change("\"v1\"", "mm").await;
    assert_eq!(changed.header("etag"), "\"v2\"");
    assert_eq!(
        change("\"v1\"", "in").await.status,
        StatusCode::PRECONDITION_FAILED
    );
    assert_eq!(
        change("W/\"v2\"", "in").await.status,
        StatusCode::PRECONDITION_FAILED
    );
    assert_eq!(script.get("/api/v1/me").await.json()["length_unit"], "mm");
}

#[tokio::test]
async fn a_repeated_call_with_the_same_key_makes_nothing_new() {
    let app = TestApp::new().await;
    let id = app.add("Ada", scrapwright::store::Role::Member).await;
    let script = app.script(id, Scope::Write).await;
    let call = |name: &'static str| {
        let script = &script;
        async move {
            let key = [("idempotency-key", "shelf printer 1")];
            let body = json!({"name": name, "scope": "read"});
            script
                .send(Method::POST, "/api/v1/me/tokens", &key, Some(body))
                .await
        }
    };
    let first = call("printer").await;
    assert_eq!(first.status, StatusCode::CREATED);
    let second = call("printer").await;
    assert_eq!(second.status, StatusCode::CREATED);
    assert_eq!(second.header("idempotency-replayed"), "true");
    assert_eq!(second.json(), first.json());
    assert_eq!(second.header("content-type"), "application/json");
    let tokens = script.get("/api/v1/me/tokens").await.json();
    assert_eq!(
        tokens["items"].as_array().unwrap().len(),
        2,
        "the script's own and one more"
    );
    assert_eq!(
        call("another").await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
}

#[tokio::test]
async fn a_refused_call_leaves_its_key_free() {
    let app = TestApp::new().await;
    let id = app.add("Ada", scrapwright::store::Role::Member).await;
    let script = app.script(id, Scope::Write).await;
    let key = [("idempotency-key", "k")];
    let wrong = json!({"name": "", "scope": "read"});
    let refused = script
        .send(Method::POST, "/api/v1/me/tokens", &key, Some(wrong))
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let right = json!({"name": "printer", "scope": "read"});
    let done = script
        .send(Method::POST, "/api/v1/me/tokens", &key, Some(right))
        .await;
    assert_eq!(done.status, StatusCode::CREATED);
}

#[tokio::test]
async fn while_the_program_ends_callers_are_told_to_come_back() {
    let app = TestApp::new().await;
    let member = app.member("Ada").await;
    app.app.shutdown.cancel();
    assert_eq!(
        member.get("/me").await.status,
        StatusCode::SERVICE_UNAVAILABLE
    );
    assert_eq!(
        member.get("/readyz").await.status,
        StatusCode::SERVICE_UNAVAILABLE
    );
    assert_eq!(member.get("/healthz").await.status, StatusCode::OK);
}

#[tokio::test]
async fn a_message_is_shown_once_and_never_as_markup() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let id = app.add("<b>Bo</b>", scrapwright::store::Role::Member).await;
    let page = steward
        .post_and_follow(
            &format!("/members/{id}/role"),
            &[("version", "1"), ("role", "steward")],
        )
        .await;
    assert_eq!(page.one(".flash"), "Done: <b>Bo</b> is a steward now.");
    assert!(steward.get("/members").await.all(".flash").is_empty());
}

#[tokio::test]
async fn the_last_steward_stays() {
    let app = TestApp::new().await;
    let id = app.add("Sten", Role::Steward).await;
    let steward = app.browser_of(id).await;
    let answer = steward
        .post(&format!("/members/{id}/leave"), &[("version", "1")])
        .await;
    assert_eq!(answer.status, StatusCode::CONFLICT);
    let members = steward.get("/members").await;
    assert_eq!(members.all("td[data-label=Role]"), ["steward"]);
}
