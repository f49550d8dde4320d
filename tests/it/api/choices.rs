//! Choosing between designs, and what is drawn of them.

use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::{Script, TestApp};
use crate::pages::project_wood::stocked;

fn board(width: &str, strips: usize) -> Value {
    json!({"kind": "striped-board", "length": "17 in", "width": width, "thickness": "1 1/2 in", "surface": "edge grain",
        "strips": (0..strips).map(|place| json!({
            "species": if place % 2 == 0 { "hard maple" } else { "black walnut" }, "width": "3/4 in",
        })).collect::<Vec<_>>()})
}

async fn project(script: &Script<'_>, name: &str, design: Value) -> i64 {
    let made = script
        .post("/api/v1/projects", json!({"name": name, "design": design}))
        .await;
    assert_eq!(made.status, StatusCode::CREATED, "{}", made.text());
    made.json()["id"].as_i64().unwrap()
}

#[tokio::test]
async fn an_arrangement_that_the_bins_give_is_taken() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[("hard maple", 40, 9, 1), ("black walnut", 40, 9, 1)],
    )
    .await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let id = project(&script, "Board", board("3 3/4 in", 5)).await;
    let path = format!("/api/v1/projects/{id}/arrangements");
    let offers = script.get(&format!("{path}?seed=3")).await;
    assert_eq!(offers.status, StatusCode::OK, "{}", offers.text());
    let offer = &offers.json()["items"][0];
    assert!(offer["covered"].as_u64().unwrap() > 0);
    let body = Some(json!({"arrangement": offer["arrangement"]}));
    let stale = script
        .send(Method::POST, &path, &[("if-match", "\"v9\"")], body.clone())
        .await;
    assert_eq!(stale.status, StatusCode::PRECONDITION_FAILED);
    let taken = script
        .send(Method::POST, &path, &[("if-match", "\"v1\"")], body)
        .await;
    assert_eq!(taken.status, StatusCode::OK, "{}", taken.text());
    assert_eq!(taken.json()["design"]["strips"], offer["arrangement"]);
}

#[tokio::test]
async fn two_designs_are_compared_and_a_third_is_tried_without_being_stored() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let small = project(&script, "Small", board("3 3/4 in", 5)).await;
    let large = project(&script, "Large", board("9 3/4 in", 13)).await;
    let both = script
        .get(&format!(
            "/api/v1/projects/compare?left={small}&right={large}"
        ))
        .await
        .json();
    assert_eq!(both["left"]["finished"]["width"], 95.25);
    assert_eq!(both["right"]["finished"]["width"], 247.65);
    let weight = |side: &str| both[side]["figures"]["weight_g"].as_f64().unwrap();
    assert!(weight("right") > 2.0 * weight("left"));
    assert_eq!(both["left"]["figures"]["covered"], Value::Null);
    let unknown = script
        .get(&format!("/api/v1/projects/compare?left={small}&right=999"))
        .await;
    assert_eq!(unknown.status, StatusCode::NOT_FOUND);

    let path = format!("/api/v1/projects/{small}/needs");
    let tried = script
        .post(&path, json!({"design": board("6 3/4 in", 9)}))
        .await
        .json();
    assert_eq!(tried["finished"]["width"], 171.45);
    assert_eq!(script.get(&path).await.json()["finished"]["width"], 95.25);
    let mut cheese = board("3 3/4 in", 5);
    cheese["strips"][1]["species"] = json!("cheese");
    let wrong = script.post(&path, json!({"design": cheese})).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let pointer = wrong.json()["errors"][0]["pointer"]
        .as_str()
        .unwrap()
        .to_owned();
    assert!(pointer.starts_with("/design/"), "{pointer}");
}

#[tokio::test]
async fn drawings_and_templates_are_files() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let tray = json!({"kind": "round-tray", "diameter": "11 in", "rim": "1 in", "base_thickness": "3/8 in",
        "ring_thickness": "3/4 in", "bit": "1/4 in", "base": {"species": "hard maple"}, "ring": {"species": "black walnut"}});
    let id = project(&script, "Tray", tray).await;
    let path = format!("/api/v1/projects/{id}");
    let drawing = script.get(&format!("{path}/drawing")).await;
    assert_eq!(drawing.header("content-type"), "image/svg+xml");
    assert!(drawing.text().starts_with("<svg"));
    let templates = script.get(&format!("{path}/templates")).await.json();
    assert_eq!(templates["items"][0]["name"], "circle");
    for file in templates["items"][0]["files"].as_array().unwrap() {
        let file = script.get(file.as_str().unwrap()).await;
        assert_eq!(file.status, StatusCode::OK);
        assert!(file.bytes.starts_with(b"<svg") || file.bytes.starts_with(b"%PDF-"));
    }
    let none = script.get(&format!("{path}/templates/outline.svg")).await;
    assert_eq!(none.status, StatusCode::NOT_FOUND);
    let stopped = script.post(&format!("{path}/match/stop"), json!({})).await;
    assert_eq!(stopped.status, StatusCode::NO_CONTENT, "none runs");
}
