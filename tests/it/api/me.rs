//! What a member changes of their own, and links that stewards make.

use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::json;

use crate::app::{PASSWORD, TestApp};

#[tokio::test]
async fn a_password_is_changed_only_by_who_knows_it_and_browsers_are_signed_out() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let browser = app.browser_of(ada).await;
    let script = app.script(ada, Scope::Write).await;
    let change = |present: &str, new: &str| Some(json!({"present": present, "new": new}));
    let send = async |body| {
        script
            .send(Method::PUT, "/api/v1/me/password", &[], body)
            .await
    };
    let wrong = send(change("something else", "a sharp plane curls")).await;
    assert_eq!(
        wrong.json()["errors"][0]["pointer"],
        "/present",
        "{}",
        wrong.text()
    );
    let short = send(change(PASSWORD, "short")).await;
    assert_eq!(short.json()["errors"][0]["pointer"], "/new");
    assert_eq!(browser.get("/me").await.status, StatusCode::OK);
    let changed = send(change(PASSWORD, "a sharp plane curls")).await;
    assert_eq!(changed.status, StatusCode::NO_CONTENT, "{}", changed.text());
    assert_eq!(browser.get("/me").await.status, StatusCode::SEE_OTHER);
    let signed_in = app
        .guest()
        .post(
            "/sign-in",
            &[("name", "Ada"), ("password", "a sharp plane curls")],
        )
        .await;
    assert_eq!(signed_in.status, StatusCode::SEE_OTHER);
    assert_eq!(
        script.get("/api/v1/me").await.status,
        StatusCode::OK,
        "tokens stay"
    );
}

#[tokio::test]
async fn every_browser_is_signed_out_at_once() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let browser = app.browser_of(ada).await;
    let script = app.script(ada, Scope::Write).await;
    let done = script
        .send(Method::DELETE, "/api/v1/me/sessions", &[], None)
        .await;
    assert_eq!(done.status, StatusCode::NO_CONTENT);
    assert_eq!(browser.get("/me").await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_calendar_link_is_made_changed_and_ended() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let path = "/api/v1/me/calendar";
    assert_eq!(script.get(path).await.json()["is_there"], false);
    let link = async || {
        let made = script.post(path, json!({})).await;
        assert_eq!(made.status, StatusCode::CREATED);
        let own = made.json()["own"].as_str().unwrap().to_owned();
        own[own.find("/calendar/").unwrap()..].to_owned()
    };
    let first = link().await;
    assert_eq!(app.guest().get(&first).await.status, StatusCode::OK);
    let second = link().await;
    assert_eq!(app.guest().get(&first).await.status, StatusCode::NOT_FOUND);
    assert_eq!(app.guest().get(&second).await.status, StatusCode::OK);
    script.send(Method::DELETE, path, &[], None).await;
    assert_eq!(app.guest().get(&second).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_link_that_was_withdrawn_opens_nothing() {
    let app = TestApp::new().await;
    let sten = app.add("Sten", Role::Steward).await;
    let script = app.script(sten, Scope::Steward).await;
    let body = json!({"name": "Tove", "role": "member"});
    let url = script.post("/api/v1/invitations", body).await.json()["url"].clone();
    let url = url.as_str().unwrap();
    let path = &url[url.find("/join/").unwrap()..];
    assert_eq!(app.guest().get(path).await.status, StatusCode::OK);
    let open = script.get("/api/v1/invitations").await.json();
    assert_eq!(open["items"][0]["name"], "Tove");
    let one = format!("/api/v1/invitations/{}", open["items"][0]["id"]);
    let gone = script.send(Method::DELETE, &one, &[], None).await;
    assert_eq!(gone.status, StatusCode::NO_CONTENT);
    let again = script.send(Method::DELETE, &one, &[], None).await;
    assert_eq!(again.status, StatusCode::NOT_FOUND);
    assert_ne!(app.guest().get(path).await.status, StatusCode::OK);
}
