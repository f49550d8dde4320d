//! Plans and bookings through JSON: proposed, booked whole or not at all, moved, begun, done.

use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::{Answer, Script, TestApp};
use crate::pages::plans::opened;

/// A board of five strips by 7 in, due on a day.
async fn created(script: &Script<'_>, name: &str, due_day: &str) -> i64 {
    let strip = |place: usize| {
        let species = ["hard maple", "black walnut"][place % 2];
        json!({"species": species, "width": "1 in"})
    };
    let design = json!({
        "kind": "striped-board", "length": "14 in", "width": "7 in", "thickness": "3/4 in", "surface": "face grain",
        "strips": (0..7).map(strip).collect::<Vec<_>>(),
    });
    let body = json!({"name": name, "due_day": due_day, "design": design});
    let answer = script.post("/api/v1/projects", body).await;
    assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text());
    answer.json()["id"].as_i64().unwrap()
}

async fn proposed(script: &Script<'_>, project: i64) -> Value {
    let answer = script
        .post(
            &format!("/api/v1/projects/{project}/plan"),
            json!({"seconds": 5}),
        )
        .await;
    assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text());
    let plan = answer.json();
    assert_eq!(answer.location(), format!("/api/v1/plans/{}", plan["id"]));
    plan
}

async fn accepted(script: &Script<'_>, plan: &Value) -> Answer {
    script
        .post(&format!("/api/v1/plans/{}/accept", plan["id"]), json!({}))
        .await
}

fn step<'a>(list: &'a Value, step: &str) -> &'a Value {
    let mut items = list.as_array().unwrap().iter();
    items
        .find(|item| item["step"] == step)
        .unwrap_or_else(|| panic!("no {step} in {list}"))
}

#[tokio::test]
async fn a_script_plans_books_moves_and_finishes_the_steps_of_a_project() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let id = created(&script, "Board", "2027-03-20").await;
    let path = format!("/api/v1/projects/{id}");

    let plan = proposed(&script, id).await;
    assert_eq!(plan["proven"], true);
    assert_eq!(plan["projects"][0]["late_minutes"], 0);
    assert_eq!(plan["is_accepted"], false);
    let glue = step(&plan["steps"], "glue-up");
    let unclamp = step(&plan["steps"], "unclamp");
    assert_eq!(unclamp["attended"], true);
    // The clamps stay on until the panel is out of them.
    assert!(
        glue["uses"]
            .as_array()
            .unwrap()
            .iter()
            .any(|used| used["to"] == unclamp["to"]),
        "{glue}"
    );
    let empty = script.get(&format!("{path}/plan")).await.json();
    assert_eq!(empty["items"], json!([]), "nothing is booked yet");

    let reasons = format!(
        "/api/v1/plans/{}/projects/{id}/steps/unclamp/reasons",
        plan["id"]
    );
    let why = script.get(&reasons).await.json();
    assert!(
        why["items"][0].as_str().unwrap().contains("“Glue up” ends"),
        "{why}"
    );

    let booked = accepted(&script, &plan).await;
    assert_eq!(booked.status, StatusCode::OK, "{}", booked.text());
    assert_eq!(booked.json()["is_accepted"], true);
    let twice = accepted(&script, &plan).await;
    assert_eq!(twice.status, StatusCode::CONFLICT);
    let list = script.get(&format!("{path}/plan")).await.json();
    assert_eq!(list["ready"], plan["projects"][0]["ready"]);
    assert_eq!(step(&list["items"], "glue-up")["from"], glue["from"]);
    let week = script
        .get("/api/v1/bookings?from=2027-03-01&to=2027-03-31&mine=true")
        .await
        .json();
    assert_eq!(
        week["items"].as_array().unwrap().len(),
        list["items"].as_array().unwrap().len()
    );

    let last = step(&list["items"], "hand-over");
    let booking = format!("/api/v1/bookings/{}", last["id"]);
    let times = script.get(&format!("{booking}/times")).await.json();
    let later = times["items"].as_array().unwrap().last().unwrap()["from"].clone();
    let to = || Some(json!({"from": later}));
    let without = script
        .send(Method::POST, &format!("{booking}/move"), &[], to())
        .await;
    assert_eq!(without.status, StatusCode::PRECONDITION_REQUIRED);
    let etag = script.get(&booking).await.header("etag").to_owned();
    let version = [("if-match", etag.as_str())];
    let moved = script
        .send(Method::POST, &format!("{booking}/move"), &version, to())
        .await;
    assert_eq!(moved.status, StatusCode::OK, "{}", moved.text());
    assert_eq!(moved.json()["from"], later);
    let stale = script
        .send(Method::POST, &format!("{booking}/move"), &version, to())
        .await;
    assert_eq!(stale.status, StatusCode::PRECONDITION_FAILED);
    let fresh = moved.header("etag").to_owned();
    let impossible = script
        .send(
            Method::POST,
            &format!("{booking}/move"),
            &[("if-match", fresh.as_str())],
            Some(json!({"from": "2027-03-02T03:00:00Z"})),
        )
        .await;
    assert_eq!(impossible.status, StatusCode::CONFLICT);

    let mill = format!("/api/v1/bookings/{}", step(&list["items"], "mill")["id"]);
    let etag = script.get(&mill).await.header("etag").to_owned();
    let begun = script
        .send(
            Method::POST,
            &format!("{mill}/begin"),
            &[("if-match", etag.as_str())],
            None,
        )
        .await;
    assert_eq!(begun.json()["state"], "running");
    let etag = begun.header("etag").to_owned();
    let done = script
        .send(
            Method::POST,
            &format!("{mill}/done"),
            &[("if-match", etag.as_str())],
            None,
        )
        .await;
    assert_eq!(done.json()["state"], "done");

    let cancelled = script
        .send(Method::DELETE, &format!("{path}/plan"), &[], None)
        .await;
    let count = list["items"].as_array().unwrap().len() - 1;
    assert_eq!(cancelled.json()["cancelled"], count);
}

#[tokio::test]
async fn whoever_is_slower_books_nothing_and_others_do_not_accept_for_you() {
    let app = TestApp::new().await;
    opened(&app, 4).await;
    let ada = app.add("Ada", Role::Member).await;
    let bo = app.add("Bo", Role::Member).await;
    let (ada, bo) = (
        app.script(ada, Scope::Write).await,
        app.script(bo, Scope::Write).await,
    );
    let quick = created(&ada, "Quick", "2027-03-20").await;
    let slow = created(&bo, "Slow", "2027-03-20").await;
    let first = proposed(&ada, quick).await;
    let second = proposed(&bo, slow).await;
    assert_eq!(accepted(&bo, &first).await.status, StatusCode::FORBIDDEN);
    assert_eq!(accepted(&ada, &first).await.status, StatusCode::OK);
    let refused = accepted(&bo, &second).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(
        refused.json()["detail"]
            .as_str()
            .unwrap()
            .contains("nothing was booked")
    );
    let path = format!("/api/v1/projects/{slow}/plan");
    assert_eq!(bo.get(&path).await.json()["items"], json!([]));
}

#[tokio::test]
async fn a_steward_plans_several_projects_together_and_pins_a_booking() {
    let app = TestApp::new().await;
    opened(&app, 8).await;
    let ada = app.add("Ada", Role::Member).await;
    let hugo = app.add("Hugo", Role::Steward).await;
    let (ada, hugo) = (
        app.script(ada, Scope::Write).await,
        app.script(hugo, Scope::Steward).await,
    );
    let projects = [
        created(&ada, "One", "2027-03-20").await,
        created(&ada, "Two", "2027-03-20").await,
    ];
    let body = json!({"projects": projects, "seconds": 5});
    let forbidden = ada.post("/api/v1/plans", body.clone()).await;
    assert_eq!(forbidden.status, StatusCode::FORBIDDEN);
    let answer = hugo.post("/api/v1/plans", body).await;
    assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text());
    let plan = answer.json();
    assert_eq!(plan["projects"].as_array().unwrap().len(), 2);
    assert_eq!(accepted(&hugo, &plan).await.status, StatusCode::OK);

    let list = hugo
        .get(&format!("/api/v1/projects/{}/plan", projects[0]))
        .await
        .json();
    let booking = format!("/api/v1/bookings/{}", step(&list["items"], "mill")["id"]);
    let etag = hugo.get(&booking).await.header("etag").to_owned();
    let pinned = hugo
        .send(
            Method::PUT,
            &format!("{booking}/pin"),
            &[("if-match", etag.as_str())],
            Some(json!({"pinned": true})),
        )
        .await;
    assert_eq!(pinned.json()["pinned"], true, "{}", pinned.text());

    for (body, pointer) in [
        (json!({"projects": []}), "/projects"),
        (json!({}), "/projects"),
        (json!({"projects": [1], "seconds": -1}), "/seconds"),
        (json!({"projects": [1], "secnds": 1}), "/secnds"),
    ] {
        let wrong = hugo.post("/api/v1/plans", body.clone()).await;
        assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY, "{body}");
        assert_eq!(wrong.json()["errors"][0]["pointer"], pointer, "{body}");
    }
    let none = hugo.post("/api/v1/plans", json!({"projects": [999]})).await;
    assert_eq!(none.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn dates_are_answered_and_nothing_is_stored() {
    let app = TestApp::new().await;
    let clamps = opened(&app, 20).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let id = created(&script, "Board", "2027-03-20").await;
    let path = format!("/api/v1/projects/{id}/plan");
    let dates = script
        .post(&format!("{path}/dates"), json!({"seconds": 10}))
        .await
        .json();
    assert_eq!(dates["in_time"], true, "{dates}");
    assert_eq!(dates["by_day"], "2027-03-20");
    assert!(dates["begin_by"].as_str().unwrap() < "2027-03-20");
    let early = script
        .post(&format!("{path}/dates"), json!({"by_day": "2027-03-03"}))
        .await
        .json();
    assert_eq!(
        early["begin_by"],
        Value::Null,
        "seven days of cure do not fit"
    );

    let suppose =
        json!({"suppose": {"more": [{"resource": clamps.0, "count": 4}], "fewer_coats": 1}});
    let answer = script.post(&format!("{path}/what-if"), suppose).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
    let found = answer.json();
    // A coat less is a day less of waiting.
    assert!(
        found["then"][0]["ready"].as_str() < found["now"][0]["ready"].as_str(),
        "{found}"
    );
    let wrong = script
        .post(
            &format!("{path}/what-if"),
            json!({"suppose": {"openings": [{"day": "2027-03-06", "from": "14:00", "to": "10:00"}]}}),
        )
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        wrong.json()["errors"][0]["pointer"],
        "/suppose/openings/0/to"
    );
    assert_eq!(script.get(&path).await.json()["items"], json!([]));
}
