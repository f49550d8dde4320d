//! The ledger and the changes.

use axum::http::StatusCode;
use http_body_util::BodyExt as _;
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::json;

use crate::app::TestApp;
use crate::pages::project_wood::stocked;

#[tokio::test]
async fn the_ledger_pages_filters_and_sums() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[
            ("hard maple", 40, 9, 1),
            ("black walnut", 12, 12, 2),
            ("hard maple", 12, 12, 1),
        ],
    )
    .await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let first = script.get("/api/v1/ledger?limit=2").await;
    assert_eq!(first.json()["items"].as_array().unwrap().len(), 2);
    assert_eq!(first.json()["items"][0]["what"], "added");
    let next = first.json()["next"].as_str().unwrap().to_owned();
    assert!(first.header("link").contains(&format!("after={next}")));
    let second = script
        .get(&format!("/api/v1/ledger?limit=2&after={next}"))
        .await;
    assert_eq!(second.json()["items"].as_array().unwrap().len(), 1);
    let maple = script.get("/api/v1/ledger?species=hard+maple").await;
    assert_eq!(maple.json()["items"].as_array().unwrap().len(), 2);
    let of = async |query: &str| {
        let sums = script.get(&format!("/api/v1/ledger/sums{query}")).await;
        sums.json()["added_mm3"].as_i64().unwrap()
    };
    let (maple, walnut) = (
        of("?species=hard+maple").await,
        of("?species=black+walnut").await,
    );
    assert!(maple > 0 && walnut > 0);
    assert_eq!(of("").await, maple + walnut);
    let by = script.get("/api/v1/ledger/sums-by?by=species").await.json();
    assert_eq!(by["items"][0]["of"], "black walnut");
    assert_eq!(by["items"][0]["added_mm3"], walnut);
    let by = script.get("/api/v1/ledger/sums-by?by=month").await.json();
    assert_eq!(by["items"][0]["of"], "2027-03");
    let wrong = script.get("/api/v1/ledger/sums-by?by=moon&from=soon").await;
    assert_eq!(wrong.json()["errors"][0]["pointer"], "/from");
    let wrong = script.get("/api/v1/ledger?what=eaten&from=soon").await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let file = script.get("/api/v1/tables/ledger?species=hard+maple").await;
    assert_eq!(file.text().lines().count(), 3);
}

#[tokio::test]
async fn changes_are_listed_and_streamed_from_where_a_reader_left_off() {
    let app = TestApp::new().await;
    let bin = stocked(&app, &[("hard maple", 40, 9, 1)]).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let body = json!({"species": "hard maple", "length": "20 in", "width": "3 in", "thickness": "1 in", "bin": bin.0});
    script.post("/api/v1/offcuts", body).await;
    let list = script.get("/api/v1/changes").await.json();
    let items = list["items"].as_array().unwrap();
    let last = items.last().unwrap();
    assert_eq!(
        (&last["verb"], &last["noun"]),
        (&json!("created"), &json!("offcut"))
    );
    let before = items[items.len() - 2]["id"].as_i64().unwrap();

    let request = axum::http::Request::builder()
        .uri("/api/v1/changes")
        .header("host", "workshop.test")
        .header("authorization", format!("Bearer {}", script.token))
        .header("accept", "text/event-stream")
        .header("last-event-id", before.to_string())
        .body(axum::body::Body::empty())
        .unwrap();
    let mut stream = app.open(request).await;
    assert_eq!(stream.headers()["content-type"], "text/event-stream");
    let frame = stream.body_mut().frame().await.unwrap().unwrap();
    let text = String::from_utf8(frame.into_data().unwrap().to_vec()).unwrap();
    assert!(text.contains(&format!("id: {}\n", last["id"])), "{text}");
    assert!(text.contains("event: change\n"), "{text}");
    let data = text
        .lines()
        .find_map(|line| line.strip_prefix("data: "))
        .unwrap();
    assert_eq!(
        &serde_json::from_str::<serde_json::Value>(data).unwrap(),
        last
    );

    let wrong = script
        .send(
            axum::http::Method::GET,
            "/api/v1/changes",
            &[("accept", "text/event-stream"), ("last-event-id", "soon")],
            None,
        )
        .await;
    assert_eq!(wrong.status, StatusCode::BAD_REQUEST);
}
