//! Addresses that are told of changes, as members keep them.

use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::json;

use crate::app::TestApp;

#[tokio::test]
async fn a_member_adds_an_address_sees_its_key_once_and_turns_it_off() {
    let app = TestApp::new().await;
    let ada = app.member("Ada").await;
    let url = "https://shop.example/hear";
    assert!(
        ada.get("/me/notices")
            .await
            .one(".empty")
            .contains("no address yet")
    );
    let made = ada.post("/me/notices", &[("url", url)]).await;
    assert_eq!(made.status, StatusCode::OK);
    let key = made.one("pre");
    assert_eq!(key.len(), 64, "{key}");
    let listed = ada.get("/me/notices").await;
    assert_eq!(listed.one("tbody th"), url);
    assert!(!listed.text().contains(&key), "shown once");
    let off = listed
        .attribute("td form", "action")
        .expect("a form to turn it off");
    let after = ada.post_and_follow(&off, &[]).await;
    assert!(after.one("tbody").contains("turned off"));
    let (on, forget) = (off.replace("/off", "/on"), off.replace("/off", "/remove"));
    let after = ada.post_and_follow(&on, &[]).await;
    assert!(after.one("tbody").contains("told of changes"));
    // Others cannot touch it.
    let bo = app.member("Bo").await;
    assert_eq!(bo.post(&forget, &[]).await.status, StatusCode::NOT_FOUND);
    let after = ada.post_and_follow(&forget, &[]).await;
    assert!(after.one(".empty").contains("no address yet"));
}

#[tokio::test]
async fn what_is_no_address_comes_back_and_ten_are_enough() {
    let app = TestApp::new().await;
    let ada = app.member("Ada").await;
    let again = ada
        .post("/me/notices", &[("url", "ftp://shop.example")])
        .await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(again.one("#e-url").contains("must be like https://"));
    assert_eq!(
        again.attribute("#f-url", "value").as_deref(),
        Some("ftp://shop.example")
    );
    for number in 0..10 {
        let url = format!("https://shop.example/{number}");
        assert_eq!(
            ada.post("/me/notices", &[("url", &url)]).await.status,
            StatusCode::OK
        );
    }
    let again = ada
        .post("/me/notices", &[("url", "https://shop.example/10")])
        .await;
    assert!(again.one("#e-url").contains("must be at most 10 addresses"));
    assert_eq!(ada.get("/me/notices").await.all("tbody th").len(), 10);
}

#[tokio::test]
async fn a_script_keeps_addresses_as_the_page_does() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let script = app.script(id, Scope::Write).await;
    let wrong = script
        .post("/api/v1/me/notices", json!({"url": "shop"}))
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(wrong.json()["errors"][0]["pointer"], "/url");
    let made = script
        .post(
            "/api/v1/me/notices",
            json!({"url": "https://shop.example/hear"}),
        )
        .await;
    assert_eq!(made.status, StatusCode::CREATED);
    assert_eq!(made.json()["key"].as_str().unwrap().len(), 64);
    let one = format!("/api/v1/me/notices/{}", made.json()["id"]);
    let off = script
        .send(Method::PATCH, &one, &[], Some(json!({"is_active": false})))
        .await;
    assert_eq!(off.json()["is_active"], false);
    assert!(off.json().get("key").is_none());
    let gone = script.send(Method::DELETE, &one, &[], None).await;
    assert_eq!(gone.status, StatusCode::NO_CONTENT);
    let listed = script.get("/api/v1/me/notices").await;
    assert_eq!(listed.json()["items"], json!([]));
}
