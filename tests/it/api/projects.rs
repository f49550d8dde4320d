//! The whole way of a project through JSON, and what is answered where something is wrong.

use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::{Script, TestApp};
use crate::pages::project_wood::stocked;

fn board() -> Value {
    json!({
        "kind": "striped-board", "length": "17 in", "width": "9 3/4 in", "thickness": "1 1/2 in", "surface": "edge grain",
        "strips": (0..13).map(|place| json!({
            "species": if place % 2 == 0 { "hard maple" } else { "black walnut" }, "width": "3/4 in",
        })).collect::<Vec<_>>(),
    })
}

pub async fn created(script: &Script<'_>) -> i64 {
    let body = json!({"name": "Board for Ines", "due_day": "2027-03-20", "design": board()});
    let answer = script.post("/api/v1/projects", body).await;
    assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text());
    let id = answer.json()["id"].as_i64().unwrap();
    assert_eq!(answer.location(), format!("/api/v1/projects/{id}"));
    assert_eq!(answer.header("etag"), "\"v1\"");
    id
}

#[tokio::test]
async fn a_script_takes_a_project_from_design_to_cut_strips() {
    let app = TestApp::new().await;
    let bin = stocked(
        &app,
        &[("hard maple", 40, 9, 1), ("black walnut", 40, 9, 1)],
    )
    .await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let id = created(&script).await;
    let path = format!("/api/v1/projects/{id}");

    let list = script.get("/api/v1/projects").await.json();
    assert_eq!(list["items"][0]["name"], "Board for Ines");
    let needs = script.get(&format!("{path}/needs")).await.json();
    // 13 strips of 3/4 in are 9 3/4 in wide: 247.65 mm.
    assert_eq!(needs["finished"]["width"], 247.65);
    assert_eq!(needs["strips"][0]["count"], 7);
    let advice = script.get(&format!("{path}/advice")).await.json();
    assert_eq!(advice["glue"]["glue_lines"], 12);
    assert!(advice["sources"].as_array().unwrap().len() > 5);

    let found = script
        .post(&format!("{path}/match"), json!({"seconds": 2.0}))
        .await;
    assert_eq!(found.status, StatusCode::OK, "{}", found.text());
    assert_eq!(found.json()["covered"], 13);
    assert_eq!(
        script.get(&format!("{path}/match")).await.json()["covered"],
        13
    );
    let claims = script.post(&format!("{path}/claims"), json!({})).await;
    assert_eq!(claims.status, StatusCode::CREATED, "{}", claims.text());
    assert_eq!(claims.json()["items"].as_array().unwrap().len(), 2);
    let again = script.post(&format!("{path}/claims"), json!({})).await;
    assert_eq!(again.status, StatusCode::CONFLICT, "it is claimed already");
    let body = Some(json!({"last_day": "2027-04-01"}));
    let held = script
        .send(Method::PATCH, &format!("{path}/claims"), &[], body)
        .await;
    assert_eq!(held.json()["items"][0]["last_day"], "2027-04-01");

    let cuts = script.get(&format!("{path}/cuts")).await.json();
    let first = &cuts["items"][0];
    let cut = format!("{path}/cuts/{}", first["id"]);
    let mut remainders = first["remainders"].as_array().unwrap().clone();
    for remainder in &mut remainders {
        remainder["bin"] = json!(bin.0);
    }
    let done = script
        .post(&cut, json!({"copies": 1, "remainders": remainders}))
        .await;
    assert_eq!(done.status, StatusCode::OK, "{}", done.text());
    assert_eq!(
        done.json()["tags"].as_array().unwrap().len(),
        remainders.len()
    );
    let twice = script.post(&cut, json!({"remainders": []})).await;
    assert_eq!(twice.status, StatusCode::CONFLICT);

    let sheet = script.get(&format!("{path}/bench-sheet")).await.json();
    assert_eq!(sheet["is_claimed"], true);
    assert_eq!(sheet["steps"][0]["name"], "Mill and rip");
    assert!(!sheet["steps"][0]["cautions"].as_array().unwrap().is_empty());

    let still_held = script.get(&format!("{path}/claims")).await.json();
    let held = still_held["items"]
        .as_array()
        .unwrap()
        .iter()
        .find(|claim| claim["state"] == "held")
        .unwrap()
        .clone();
    let let_go = format!("{path}/claims/{}", held["id"]);
    let gone = script.send(Method::DELETE, &let_go, &[], None).await;
    assert_eq!(gone.status, StatusCode::NO_CONTENT);
}

#[tokio::test]
async fn a_change_needs_the_version_that_was_read() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let path = format!("/api/v1/projects/{}", created(&script).await);
    let change = || Some(json!({"name": "Another name", "due_day": null}));
    let without = script.send(Method::PATCH, &path, &[], change()).await;
    assert_eq!(without.status, StatusCode::PRECONDITION_REQUIRED);
    let fresh = script
        .send(Method::PATCH, &path, &[("if-match", "\"v1\"")], change())
        .await;
    assert_eq!(fresh.status, StatusCode::OK, "{}", fresh.text());
    assert_eq!(fresh.json()["name"], "Another name");
    assert_eq!(fresh.json()["due_day"], Value::Null);
    let stale = script
        .send(Method::PATCH, &path, &[("if-match", "\"v1\"")], change())
        .await;
    assert_eq!(stale.status, StatusCode::PRECONDITION_FAILED);

    let design = script.get(&format!("{path}/design")).await;
    let etag = design.header("etag").to_owned();
    let mut thicker = design.json();
    thicker["thickness"] = json!("1 3/4 in");
    let put = format!("{path}/design");
    let replaced = script
        .send(Method::PUT, &put, &[("if-match", &etag)], Some(thicker))
        .await;
    assert_eq!(replaced.json()["design"]["thickness"], 44.45);
    let etag = replaced.header("etag").to_owned();
    let gone = script
        .send(Method::DELETE, &path, &[("if-match", &etag)], None)
        .await;
    assert_eq!(gone.status, StatusCode::NO_CONTENT);
    assert!(script.get(&path).await.json()["ended_at"].is_string());
}

#[tokio::test]
async fn everything_wrong_is_named_by_its_place_and_nothing_is_stored() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let with = |pointer: &str, value: Value| {
        let mut body = json!({"name": "Board", "design": board()});
        match body.pointer_mut(pointer) {
            Some(place) => *place = value,
            None => {
                body[pointer.trim_start_matches('/')] = value;
            }
        }
        body
    };
    for (body, pointer) in [
        (json!({"design": board()}), "/name"),
        (json!({"name": "Board"}), "/design"),
        (with("/due_day", json!("2027-02-20")), "/due_day"),
        (with("/due_day", json!("soon")), "/due_day"),
        (with("/nmae", json!("x")), "/nmae"),
        (
            with("/design/length", json!("7 furlongs")),
            "/design/length",
        ),
        (with("/design/length", json!(-3)), "/design/length"),
        (with("/design/length", json!("90 in")), "/design/length"),
        (
            with("/design/strips/3/species", json!("mapel")),
            "/design/strips/3/species",
        ),
        (with("/design/kind", json!("spoon")), "/design/kind"),
        (
            with("/practice", json!({"glue": "treacle"})),
            "/practice/glue",
        ),
        // Casein has no class for water, and a board for food is washed (EN 204).
        (
            with("/practice", json!({"glue": "casein"})),
            "/practice/glue",
        ),
        (
            with("/practice", json!({"glue": "casein", "accept_glue": "yes"})),
            "/practice/accept_glue",
        ),
        (with("/practice", json!({"coats": 900})), "/practice/coats"),
    ] {
        let answer = script.post("/api/v1/projects", body.clone()).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{body}");
        assert!(
            answer
                .header("content-type")
                .starts_with("application/problem+json")
        );
        let errors = answer.json()["errors"].clone();
        let places: Vec<&str> = errors
            .as_array()
            .unwrap()
            .iter()
            .map(|error| error["pointer"].as_str().unwrap())
            .collect();
        assert!(
            places.contains(&pointer),
            "{pointer} in {places:?} for {body}"
        );
    }
    let list = script.get("/api/v1/projects").await.json();
    assert!(list["items"].as_array().unwrap().is_empty());
}

#[tokio::test]
async fn a_glue_that_water_loosens_is_refused_on_a_food_board_unless_it_is_meant() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let path = format!("/api/v1/projects/{}", created(&script).await);
    let change = async |version: i64, practice: Value| {
        let etag = format!("\"v{version}\"");
        script
            .send(
                Method::PATCH,
                &path,
                &[("if-match", &etag)],
                Some(json!({"practice": practice})),
            )
            .await
    };
    let refused = change(1, json!({"glue": "casein"})).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let detail = refused.json()["errors"][0]["detail"].to_string();
    assert!(detail.contains("must be of class D3"), "{detail}");
    assert!(detail.contains("accept_glue"), "{detail}");
    assert_eq!(
        script.get(&path).await.json()["practice"]["glue"],
        Value::Null
    );

    let meant = change(1, json!({"glue": "casein", "accept_glue": true})).await;
    assert_eq!(meant.status, StatusCode::OK, "{}", meant.text());
    // What was chosen is not asked about again, so what was read can be sent back.
    let practice = meant.json()["practice"].clone();
    assert_eq!(practice, json!({"glue": "casein"}));
    let again = change(2, practice).await;
    assert_eq!(again.status, StatusCode::OK, "{}", again.text());
}

#[tokio::test]
async fn others_read_a_project_and_do_not_change_it() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let bo = app.add("Bo", Role::Member).await;
    let path = format!(
        "/api/v1/projects/{}",
        created(&app.script(ada, Scope::Write).await).await
    );
    let script = app.script(bo, Scope::Write).await;
    assert_eq!(script.get(&path).await.status, StatusCode::OK);
    for (method, path) in [
        (Method::POST, format!("{path}/match")),
        (Method::POST, format!("{path}/claims")),
        (Method::PATCH, path.clone()),
        (Method::DELETE, path.clone()),
    ] {
        let answer = script
            .send(
                method.clone(),
                &path,
                &[("if-match", "\"v1\"")],
                Some(json!({})),
            )
            .await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{method} {path}");
    }
}

#[tokio::test]
async fn projects_are_matched_together_and_claimed_as_a_whole() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[("hard maple", 40, 9, 2), ("black walnut", 40, 9, 2)],
    )
    .await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let (one, two) = (created(&script).await, created(&script).await);
    let body = json!({"projects": [one, two], "seconds": 2.0});
    let found = script.post("/api/v1/projects/together", body).await;
    assert_eq!(found.status, StatusCode::OK, "{}", found.text());
    let found = found.json();
    assert_eq!(found["together"]["covered"], 26);
    assert!(
        found["together"]["net_wood_mm3"].as_f64()
            <= found["one_by_one"]["net_wood_mm3"]
                .as_f64()
                .map(|mm3| mm3 * 1.000_001)
    );
    let path = format!("/api/v1/projects/together/{}", found["id"]);
    let claimed = script.post(&format!("{path}/claims"), json!({})).await;
    assert_eq!(claimed.status, StatusCode::CREATED, "{}", claimed.text());
    let twice = script.post(&format!("{path}/claims"), json!({})).await;
    assert_eq!(twice.status, StatusCode::CONFLICT);
    let project = script.get(&format!("/api/v1/projects/{one}")).await.json();
    assert_eq!(project["stage"], "claimed");
}
