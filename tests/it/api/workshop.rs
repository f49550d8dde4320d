//! What stewards set, when it is open, what is lent and sold.

use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::{Answer, Script, TestApp};

async fn steward(app: &TestApp) -> Script<'_> {
    let id = app.add("Sten", Role::Steward).await;
    app.script(id, Scope::Steward).await
}

async fn put(
    script: &Script<'_>,
    method: Method,
    path: &str,
    version: &str,
    body: Value,
) -> Answer {
    let headers = [("if-match", version)];
    script.send(method, path, &headers, Some(body)).await
}

fn pointers(answer: &Answer) -> Vec<String> {
    answer.json()["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|error| error["pointer"].as_str().unwrap().to_owned())
        .collect()
}

#[tokio::test]
async fn a_steward_sets_every_part_with_one_call() {
    let app = TestApp::new().await;
    let script = steward(&app).await;
    let before = script.get("/api/v1/workshop").await;
    assert_eq!(before.json()["claim_days"], 14);
    let version = before.header("etag").to_owned();
    let change = json!({
        "name": "Sparrow Yard", "time_zone": "Europe/Paris", "claim_days": 21, "guests_may_look": true,
        "labels": {"paper": "A4", "columns": 3, "rows": 8},
        "air": [
            {"season": "winter", "temperature_c": 20.5, "relative_humidity_percent": 35},
            {"place": "kitchen", "season": "summer", "temperature_c": 24, "relative_humidity_percent": 61,
             "read_on": "2026-07-14"},
        ],
        "price_of_glue": 14, "price_of_finish": 38.5,
        "cutting": {"rip_kerf": "1/8 in", "keep_credit": 0.25},
        "price_per_board_foot": 2.5, "prices": {"black walnut": 9.5}, "grits": [220, 80, 80],
        "practice": {"flattening": "1/16 in", "clamped_minutes": 600, "step_minutes": {"rip": 4}},
    });
    let steps = scrapwright::calc::work::StepKind::ALL
        .into_iter()
        .find(|kind| kind.row().minutes > 0)
        .unwrap();
    let key = steps.row().key;
    let mut change = change;
    change["practice"]["step_minutes"] = json!({ key: 4 });
    let set = put(&script, Method::PATCH, "/api/v1/workshop", &version, change).await;
    assert_eq!(set.status, StatusCode::OK, "{}", set.text());
    let now = set.json();
    assert_eq!(now["name"], "Sparrow Yard");
    assert_eq!(now["time_zone"], "Europe/Paris");
    assert_eq!(now["claim_days"], 21);
    assert_eq!(now["guests_may_look"], true);
    assert_eq!(
        now["labels"],
        json!({"paper": "A4", "columns": 3, "rows": 8})
    );
    assert_eq!(
        now["air"],
        json!([
            {"place": "workshop", "season": "winter", "temperature_c": 20.5, "relative_humidity_percent": 35.0,
             "read_on": "2027-03-01"},
            {"place": "kitchen", "season": "summer", "temperature_c": 24.0, "relative_humidity_percent": 61.0,
             "read_on": "2026-07-14"},
        ])
    );
    assert_eq!(now["price_of_glue"], 14.0);
    assert_eq!(now["price_of_abrasive"], 0.0);
    assert_eq!(now["price_of_finish"], 38.5);
    assert_eq!(now["cutting"]["rip_kerf"], 3.175);
    assert_eq!(now["cutting"]["keep_credit"], 0.25);
    assert_eq!(now["price_per_board_foot"], 2.5);
    assert_eq!(now["prices"], json!({"black walnut": 9.5}));
    assert_eq!(now["grits"], json!([80, 220]));
    assert_eq!(
        now["practice"],
        json!({"flattening": 1.5875, "clamped_minutes": 600, "step_minutes": { key: 4 }})
    );
    // What is left out stays; null goes back to the usual.
    let newer = set.header("etag").to_owned();
    let back =
        json!({"air": [], "prices": {"black walnut": null}, "practice": {"flattening": null}});
    let set = put(&script, Method::PATCH, "/api/v1/workshop", &newer, back).await;
    let now = set.json();
    assert_eq!(now["air"], json!([]));
    assert_eq!(now["prices"], json!({}));
    assert_eq!(
        now["practice"],
        json!({"clamped_minutes": 600, "step_minutes": { key: 4 }})
    );
    assert_eq!(now["claim_days"], 21);
}

#[tokio::test]
async fn every_wrong_setting_is_named_at_its_place_and_nothing_is_set() {
    let app = TestApp::new().await;
    let script = steward(&app).await;
    let wrong = json!({
        "name": "", "time_zone": "Nowhere/Land", "claim_days": 0, "colour": "red",
        "air": [{"season": "monsoon", "temperature_c": 20, "relative_humidity_percent": 101},
                {"season": "winter", "temperature_c": 20, "relative_humidity_percent": 40, "read_on": "soon"}],
        "price_of_glue": -1,
        "cutting": {"min_rip_length": "2 in", "rip_kerf": "thin"}, "prices": {"cheese": 2},
        "practice": {"flattening": "9 ft", "glue": "porridge"},
    });
    let answer = put(&script, Method::PATCH, "/api/v1/workshop", "\"v1\"", wrong).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    for place in [
        "/name",
        "/claim_days",
        "/colour",
        "/air/0/season",
        "/air/0/relative_humidity_percent",
        "/air/1/read_on",
        "/price_of_glue",
        "/cutting/rip_kerf",
        "/prices/cheese",
        "/practice/flattening",
        "/practice/glue",
    ] {
        assert!(
            pointers(&answer).contains(&place.to_owned()),
            "{place}: {}",
            answer.text()
        );
    }
    // What is wrong only once all is read.
    let wrong = json!({"time_zone": "Nowhere/Land", "cutting": {"min_rip_length": "2 in"}});
    let answer = put(&script, Method::PATCH, "/api/v1/workshop", "\"v1\"", wrong).await;
    assert_eq!(pointers(&answer), ["/time_zone", "/cutting/min_rip_length"]);
    let stale = put(
        &script,
        Method::PATCH,
        "/api/v1/workshop",
        "\"v7\"",
        json!({}),
    )
    .await;
    assert_eq!(stale.status, StatusCode::PRECONDITION_FAILED);
    let bare = script
        .send(Method::PATCH, "/api/v1/workshop", &[], Some(json!({})))
        .await;
    assert_eq!(bare.status, StatusCode::PRECONDITION_REQUIRED);
    assert_eq!(script.get("/api/v1/workshop").await.json()["version"], 1);
}

#[tokio::test]
async fn hours_follow_from_weekly_extra_and_closed_days() {
    let app = TestApp::new().await;
    let script = steward(&app).await;
    // The clock stands at Monday, 1 March 2027.
    let weekly = json!({"weekday": 1, "from": "18:00", "to": "9 pm", "machines": true});
    let made = script.post("/api/v1/openings/weekly", weekly).await;
    assert_eq!(made.status, StatusCode::CREATED, "{}", made.text());
    let path = made.location();
    assert_eq!(made.json()["first_day"], "2027-03-01");
    let extra = json!({"day": "2027-03-06", "from": "10:00", "to": "24:00", "note": "key: Maud"});
    assert_eq!(
        script.post("/api/v1/openings/extra", extra).await.status,
        StatusCode::CREATED
    );
    let closed = json!({"first_day": "2027-03-08", "reason": "floor oiled"});
    let closure = script.post("/api/v1/openings/closures", closed).await;
    assert_eq!(closure.json()["last_day"], "2027-03-08");
    let hours = "/api/v1/openings?from=2027-03-01&to=2027-03-15";
    let days = |answer: &Answer| -> Vec<String> {
        let items = answer.json()["items"].as_array().unwrap().clone();
        items
            .iter()
            .map(|span| span["day"].as_str().unwrap().to_owned())
            .collect()
    };
    let open = script.get(hours).await;
    assert_eq!(days(&open), ["2027-03-01", "2027-03-06", "2027-03-15"]);
    assert_eq!(open.json()["items"][0]["from"], "2027-03-01T18:00:00Z");
    assert_eq!(open.json()["items"][1]["to"], "2027-03-07T00:00:00Z");

    let later = json!({"weekday": 2, "from": "18:00", "to": "21:00"});
    let changed = put(&script, Method::PUT, &path, "\"v1\"", later.clone()).await;
    assert_eq!(changed.json()["weekday"], 2);
    let stale = put(&script, Method::PUT, &path, "\"v1\"", later).await;
    assert_eq!(stale.status, StatusCode::PRECONDITION_FAILED);
    let wrong = json!({"weekday": 9, "from": "21:00", "to": "noon"});
    let wrong = script.post("/api/v1/openings/weekly", wrong).await;
    assert_eq!(pointers(&wrong), ["/weekday", "/to"]);
    let backwards = json!({"day": "2027-03-06", "from": "21:00", "to": "18:00"});
    let backwards = script.post("/api/v1/openings/extra", backwards).await;
    assert_eq!(pointers(&backwards), ["/to"]);
    let gone = script
        .send(Method::DELETE, &path, &[("if-match", "\"v2\"")], None)
        .await;
    assert_eq!(gone.status, StatusCode::NO_CONTENT);
    assert_eq!(days(&script.get(hours).await), ["2027-03-06"]);
    let too_long = script
        .get("/api/v1/openings?from=2027-03-01&to=2037-03-01")
        .await;
    assert_eq!(pointers(&too_long), ["/to"]);
    assert_eq!(
        script.get("/api/v1/openings/daily").await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn clamps_and_stations_are_made_changed_and_removed() {
    let app = TestApp::new().await;
    let script = steward(&app).await;
    let clamps = json!({"kind": "clamp set", "name": "Long bars", "capacity": 6, "reach": "24 in", "rated_force_n": 4500});
    let made = script.post("/api/v1/resources", clamps.clone()).await;
    assert_eq!(made.status, StatusCode::CREATED, "{}", made.text());
    assert_eq!(made.json()["reach"], 609.6);
    let again = script.post("/api/v1/resources", clamps).await;
    assert_eq!(again.status, StatusCode::CONFLICT, "the name is taken");
    for (wrong, at) in [
        (
            json!({"kind": "clamp set", "name": "X", "capacity": 1}),
            "/reach",
        ),
        (
            json!({"kind": "sander", "name": "X", "capacity": 1, "reach": "2 in"}),
            "/reach",
        ),
        (
            json!({"kind": "sander", "name": "X", "capacity": 1, "pass_width": "2 in"}),
            "/pass_width",
        ),
        (
            json!({"kind": "anvil", "name": "X", "capacity": 1}),
            "/kind",
        ),
        (
            json!({"kind": "sander", "name": "X", "capacity": -1}),
            "/capacity",
        ),
    ] {
        let answer = script.post("/api/v1/resources", wrong).await;
        assert_eq!(pointers(&answer), [at], "{}", answer.text());
    }
    let path = made.location();
    let fewer = json!({"kind": "clamp set", "name": "Long bars", "capacity": 4, "reach": "24 in"});
    let changed = put(&script, Method::PUT, &path, "\"v1\"", fewer).await;
    assert_eq!(changed.json()["capacity"], 4);
    assert_eq!(changed.json()["rated_force_n"], Value::Null);
    let other = json!({"kind": "sander", "name": "Long bars", "capacity": 4});
    let other = put(&script, Method::PUT, &path, "\"v2\"", other).await;
    assert_eq!(pointers(&other), ["/kind"]);
    let gone = script
        .send(Method::DELETE, &path, &[("if-match", "\"v2\"")], None)
        .await;
    assert_eq!(gone.status, StatusCode::NO_CONTENT);
    assert_eq!(script.get(&path).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn boards_to_buy_have_a_price_for_one_and_for_a_board_foot() {
    let app = TestApp::new().await;
    let script = steward(&app).await;
    // 72 x 4 x 1 in are two board feet.
    let board = json!({"name": "Walnut 4 in", "species": "walnut", "length": "6 ft", "width": "4 in",
        "thickness": "1 in", "price": 24.5, "straight_edges": true});
    let made = script.post("/api/v1/lumber", board).await;
    assert_eq!(made.status, StatusCode::CREATED, "{}", made.text());
    assert_eq!(made.json()["species"], "black walnut");
    assert_eq!(made.json()["price_per_board_foot"], 12.25);
    let wrong = json!({"name": "Cheese", "species": "cheese", "length": "6 ft", "width": 0, "thickness": "1 in", "price": 1.234});
    let wrong = script.post("/api/v1/lumber", wrong).await;
    assert_eq!(pointers(&wrong), ["/species", "/width", "/price"]);
    assert_eq!(
        script.get("/api/v1/lumber").await.json()["items"][0]["id"],
        made.json()["id"]
    );
}
