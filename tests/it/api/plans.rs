//! Plans, bookings and the day through JSON.

use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use super::projects::created;
use crate::app::{Answer, Script, TestApp};
use crate::pages::plans::opened;

fn items(answer: &Answer) -> Vec<Value> {
    answer.json()["items"].as_array().unwrap().clone()
}

/// Proposes a plan of one project and books it.
async fn booked(script: &Script<'_>, id: i64) -> Vec<Value> {
    let plan = script
        .post(&format!("/api/v1/projects/{id}/plan"), json!({}))
        .await;
    assert_eq!(plan.status, StatusCode::CREATED, "{}", plan.text());
    let accept = format!("{}/accept", plan.location());
    let done = script.post(&accept, json!({})).await;
    assert_eq!(done.status, StatusCode::OK, "{}", done.text());
    items(&done)
}

fn step<'a>(bookings: &'a [Value], name: &str) -> &'a Value {
    bookings
        .iter()
        .find(|booking| booking["name"] == name)
        .unwrap_or_else(|| panic!("no step {name}"))
}

fn path(booking: &Value) -> String {
    format!("/api/v1/bookings/{}", booking["id"])
}

async fn change(script: &Script<'_>, path: &str, version: &str, body: Value) -> Answer {
    script
        .send(Method::POST, path, &[("if-match", version)], Some(body))
        .await
}

#[tokio::test]
async fn a_script_plans_a_project_books_it_and_works_through_it() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let id = created(&script).await;
    let project = format!("/api/v1/projects/{id}/plan");
    let nothing = script.get(&project).await.json();
    assert_eq!(nothing["bookings"], json!([]));
    assert_eq!(nothing["due_day"], "2027-03-20");

    let plan = script.post(&project, json!({"seconds": 4.0})).await;
    assert_eq!(plan.status, StatusCode::CREATED, "{}", plan.text());
    let (at, plan) = (plan.location(), plan.json());
    assert_eq!(plan["proven"], true);
    assert_eq!(plan["moved"], 0);
    assert_eq!(plan["ready"][0]["late_minutes"], 0);
    assert_eq!(plan["accepted_at"], Value::Null);
    let steps = plan["steps"].as_array().unwrap();
    let glue = step(steps, "Glue up");
    assert_eq!(glue["booking"], Value::Null);
    let uses = glue["uses"].as_array().unwrap();
    assert!(
        uses.iter()
            .any(|used| used["resource"]["name"] == "long clamps" && used["to"] != glue["to"]),
        "clamps stay on: {uses:?}"
    );
    let why = script
        .get(&format!("{at}/projects/{id}/steps/mill/reasons"))
        .await;
    assert_eq!(items(&why)[0]["because"], "now", "{}", why.text());
    let unknown = script
        .get(&format!("{at}/projects/{id}/steps/polish/reasons"))
        .await;
    assert_eq!(unknown.status, StatusCode::NOT_FOUND);
    let listed = script.get("/api/v1/bookings").await;
    assert!(items(&listed).is_empty(), "nothing is booked yet");

    let accept = format!("{at}/accept");
    let done = script.post(&accept, json!({})).await;
    assert_eq!(items(&done).len(), steps.len());
    let twice = script.post(&accept, json!({})).await;
    assert_eq!(twice.status, StatusCode::CONFLICT);
    assert_ne!(script.get(&at).await.json()["accepted_at"], Value::Null);

    let first = script.get("/api/v1/bookings?limit=1").await;
    assert_eq!(items(&first)[0]["name"], "Mill and rip");
    let next = first.json()["next"].as_str().unwrap().to_owned();
    let second = script
        .get(&format!("/api/v1/bookings?limit=1&after={next}"))
        .await;
    assert_eq!(items(&second)[0]["name"], "Dry fit");
    let wrong = script.get("/api/v1/bookings?from=soon").await;
    assert_eq!(wrong.status, StatusCode::BAD_REQUEST);

    let mill = path(&items(&first)[0]);
    let unversioned = script.post(&format!("{mill}/begin"), json!({})).await;
    assert_eq!(unversioned.status, StatusCode::PRECONDITION_REQUIRED);
    let begun = change(&script, &format!("{mill}/begin"), "\"v1\"", json!({})).await;
    assert_eq!(begun.json()["state"], "running", "{}", begun.text());
    let stale = change(&script, &format!("{mill}/done"), "\"v1\"", json!({})).await;
    assert_eq!(stale.status, StatusCode::PRECONDITION_FAILED);
    let done = change(
        &script,
        &format!("{mill}/done"),
        begun.header("etag"),
        json!({}),
    )
    .await;
    assert_eq!(done.json()["state"], "done", "{}", done.text());
    let of_project = script.get(&project).await.json();
    assert_eq!(
        of_project["bookings"].as_array().unwrap().len(),
        steps.len()
    );

    let gone = script.send(Method::DELETE, &project, &[], None).await;
    assert_eq!(gone.json()["cancelled"], steps.len() - 1, "{}", gone.text());
}

#[tokio::test]
async fn a_script_moves_a_step_to_one_of_the_possible_times_and_a_steward_pins_it() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let id = created(&script).await;
    let bookings = booked(&script, id).await;
    let hand_over = path(step(&bookings, "Hand over"));
    let times = items(&script.get(&format!("{hand_over}/times")).await);
    assert!(times.len() > 10);
    let moving = format!("{hand_over}/move");
    let night = json!({"from": "2027-03-20T02:00:00Z"});
    let refused = change(&script, &moving, "\"v1\"", night).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    let nonsense = change(&script, &moving, "\"v1\"", json!({"from": "soon"})).await;
    assert_eq!(nonsense.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(nonsense.json()["errors"][0]["pointer"], "/from");
    let later = times.last().unwrap()["from"].clone();
    let moved = change(&script, &moving, "\"v1\"", json!({"from": later})).await;
    assert_eq!(moved.status, StatusCode::OK, "{}", moved.text());
    assert_eq!(moved.json()["from"], later);
    let why = items(&script.get(&format!("{hand_over}/reasons")).await);
    assert!(!why.is_empty());

    let pin = format!("{hand_over}/pin");
    let version = [("if-match", moved.header("etag"))];
    let body = Some(json!({"is_pinned": true}));
    let refused = script.send(Method::PUT, &pin, &version, body.clone()).await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
    let sten = app.add("Sten", Role::Steward).await;
    let steward = app.script(sten, Scope::Steward).await;
    let pinned = steward.send(Method::PUT, &pin, &version, body).await;
    assert_eq!(pinned.json()["is_pinned"], true, "{}", pinned.text());
    let again = script
        .post(&format!("/api/v1/projects/{id}/plan"), json!({}))
        .await;
    let steps = again.json()["steps"].as_array().unwrap().clone();
    assert_eq!(step(&steps, "Hand over")["from"], later, "it stays");
}

#[tokio::test]
async fn a_steward_plans_everybody_and_members_only_see_and_book_their_own() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let ada = app.add("Ada", Role::Member).await;
    let bo = app.add("Bo", Role::Member).await;
    let sten = app.add("Sten", Role::Steward).await;
    let (ada, bo) = (
        app.script(ada, Scope::Write).await,
        app.script(bo, Scope::Write).await,
    );
    let steward = app.script(sten, Scope::Steward).await;
    let (first, second) = (created(&ada).await, created(&bo).await);
    let both = json!({"projects": [first, second], "seconds": 5.0});
    let refused = ada.post("/api/v1/plans", both.clone()).await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
    for (body, pointer) in [
        (json!({"projects": []}), "/projects"),
        (json!({}), "/projects"),
        (json!({"projects": [1], "seconds": -1}), "/seconds"),
        (json!({"projects": [1], "secnds": 1}), "/secnds"),
    ] {
        let wrong = steward.post("/api/v1/plans", body.clone()).await;
        assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY, "{body}");
        assert_eq!(wrong.json()["errors"][0]["pointer"], pointer, "{body}");
    }
    let none = json!({"projects": [999]});
    let none = steward.post("/api/v1/plans", none).await;
    assert_eq!(none.status, StatusCode::NOT_FOUND);
    let plan = steward.post("/api/v1/plans", both).await;
    assert_eq!(plan.status, StatusCode::CREATED, "{}", plan.text());
    assert_eq!(plan.json()["ready"].as_array().unwrap().len(), 2);
    let at = plan.location();
    assert_eq!(ada.get(&at).await.status, StatusCode::FORBIDDEN);

    // Whoever is quicker makes the plan void, whole.
    booked(&bo, second).await;
    let accept = format!("{at}/accept");
    let late = steward.post(&accept, json!({})).await;
    assert_eq!(late.status, StatusCode::CONFLICT, "{}", late.text());
    let none = ada.get("/api/v1/bookings").await;
    assert!(items(&none).is_empty(), "nothing of it was booked");
    let all = ada.get("/api/v1/bookings?whose=all").await;
    assert!(
        items(&all)
            .iter()
            .all(|known| known["member"]["name"] == "Bo")
    );
}

#[tokio::test]
async fn dates_are_asked_for_and_what_would_change_them() {
    let app = TestApp::new().await;
    let clamps = opened(&app, 20).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let id = created(&script).await;
    let dates = script
        .get(&format!("/api/v1/projects/{id}/plan/dates"))
        .await
        .json();
    assert_eq!(dates["in_time"], true);
    assert_eq!(dates["proven"], true);
    let start = dates["latest_start"]["start_day"].as_str().unwrap();
    assert!(("2027-03-01".."2027-03-20").contains(&start), "{start}");
    let past = script
        .get(&format!(
            "/api/v1/projects/{id}/plan/dates?by_day=2027-02-01"
        ))
        .await;
    assert_eq!(past.status, StatusCode::BAD_REQUEST);

    let what_if = format!("/api/v1/projects/{id}/plan/what-if");
    let coat = script.post(&what_if, json!({"coats_left_out": 1})).await;
    assert_eq!(coat.status, StatusCode::OK, "{}", coat.text());
    assert!(coat.json()["sooner_minutes"].as_i64().unwrap() >= 1440);
    let more = json!({"more": [{"resource": clamps.0, "count": 4}]});
    assert_eq!(
        script.post(&what_if, more).await.json()["sooner_minutes"],
        0
    );
    let wrong = json!({"openings": [{"day": "2027-02-01", "opens": "9", "shuts": "10:00"}], "more": [{"resource": 99, "count": 0}]});
    let flaws = script.post(&what_if, wrong).await;
    assert_eq!(flaws.status, StatusCode::UNPROCESSABLE_ENTITY);
    let pointers: Vec<String> = flaws.json()["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|flaw| flaw["pointer"].as_str().unwrap().to_owned())
        .collect();
    for pointer in [
        "/openings/0/day",
        "/openings/0/opens",
        "/more/0/resource",
        "/more/0/count",
    ] {
        assert!(
            pointers.iter().any(|known| known == pointer),
            "{pointers:?}"
        );
    }
    let nothing = script.post(&what_if, json!({})).await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
}

/// What a plan moves: the maker's name of each project, and the step.
fn moved(plan: &Value, makers: &[(i64, &str)]) -> Vec<String> {
    let steps = plan["steps"].as_array().unwrap().iter();
    let of = |step: &Value| {
        let project = step["project"]["id"].as_i64().unwrap();
        makers.iter().find(|(id, _)| *id == project).unwrap().1
    };
    steps
        .filter(|step| !step["moved_from"].is_null())
        .map(|step| format!("{}: {}", of(step), step["name"].as_str().unwrap()))
        .collect()
}

#[tokio::test]
async fn after_a_delay_only_what_must_move_moves_and_nothing_before_it_is_accepted() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let sten = app.add("Sten", Role::Steward).await;
    let steward = app.script(sten, Scope::Steward).await;
    let mut scripts = Vec::new();
    let mut makers = Vec::new();
    for name in ["Ada", "Bo", "Cy"] {
        let script = app
            .script(app.add(name, Role::Member).await, Scope::Write)
            .await;
        makers.push((created(&script).await, name));
        scripts.push(script);
    }
    let ids: Vec<i64> = makers.iter().map(|(id, _)| *id).collect();
    let all = json!({"projects": ids, "seconds": 20.0});
    let first = steward.post("/api/v1/plans", all.clone()).await;
    assert_eq!(first.json()["moved"], 0);
    let accept = format!("{}/accept", first.location());
    let booked = items(&steward.post(&accept, json!({})).await);
    assert_eq!(booked.len(), 3 * 13);

    // Bo and Cy have milled and glued by five past one, as booked; Ada does not come before two.
    app.app.clock.advance(5 * 3600 + 300);
    for (script, id) in scripts.iter().zip(&ids).skip(1) {
        let own: Vec<Value> = items(&script.get("/api/v1/bookings").await);
        for name in ["Mill and rip", "Dry fit", "Glue up"] {
            let known = own.iter().find(|known| known["name"] == name).unwrap();
            assert_eq!(known["project"]["id"], *id);
            let begun = change(
                script,
                &format!("{}/begin", path(known)),
                "\"v1\"",
                json!({}),
            )
            .await;
            let version = begun.header("etag").to_owned();
            let done = change(
                script,
                &format!("{}/done", path(known)),
                &version,
                json!({}),
            )
            .await;
            assert_eq!(done.status, StatusCode::OK, "{}", done.text());
        }
    }
    app.app.clock.advance(55 * 60);
    let listed = || steward.get("/api/v1/bookings?whose=all&limit=100");
    let before = items(&listed().await);
    let again = steward.post("/api/v1/plans", all.clone()).await;
    let plan = again.json();
    let of_ada = ["Ada: Mill and rip", "Ada: Dry fit", "Ada: Glue up"];
    assert_eq!(moved(&plan, &makers), of_ada);
    assert_eq!(plan["moved"], 3);
    let steps = plan["steps"].as_array().unwrap();
    let mill = step(steps, "Mill and rip");
    assert_eq!(
        [&mill["moved_from"], &mill["from"]],
        ["2027-03-01T09:00:00Z", "2027-03-01T14:01:00Z"]
    );
    let page = app.browser_of(sten).await;
    let page = page
        .get(&again.location().replace("/api/v1/plans", "/glue-ups/plan"))
        .await;
    assert!(page.text().contains("3 bookings move."));
    assert_eq!(page.all("td[data-label=Moves]"), ["3", "0", "0"]);
    assert_eq!(
        page.all(".mark.late"),
        [
            "moved from Mon 1 Mar, 09:00",
            "moved from Mon 1 Mar, 10:20",
            "moved from Mon 1 Mar, 10:35"
        ]
    );
    assert_eq!(items(&listed().await), before, "nothing is booked yet");

    // Bo moves a step in between, so all of the plan is refused.
    let own = items(&scripts[1].get("/api/v1/bookings").await);
    let hand_over = path(step(&own, "Hand over"));
    let times = items(&scripts[1].get(&format!("{hand_over}/times")).await);
    let later = json!({"from": times.last().unwrap()["from"]});
    let moving = format!("{hand_over}/move");
    let later = change(&scripts[1], &moving, "\"v1\"", later).await;
    assert_eq!(later.status, StatusCode::OK, "{}", later.text());
    let between = items(&listed().await);
    let accept = format!("{}/accept", again.location());
    let refused = steward.post(&accept, json!({})).await;
    assert_eq!(refused.status, StatusCode::CONFLICT, "{}", refused.text());
    assert_eq!(items(&listed().await), between, "nothing of it was booked");

    let third = steward.post("/api/v1/plans", all).await;
    let accept = format!("{}/accept", third.location());
    let done = steward.post(&accept, json!({})).await;
    assert_eq!(done.status, StatusCode::OK, "{}", done.text());
    let after = items(&listed().await);
    let mill = step(&before, "Mill and rip");
    let mill = after.iter().find(|known| known["id"] == mill["id"]);
    assert_eq!(mill.unwrap()["from"], "2027-03-01T14:01:00Z");
}

#[tokio::test]
async fn a_steward_asks_what_would_change_the_dates_of_several() {
    let app = TestApp::new().await;
    let clamps = opened(&app, 20).await;
    let ada = app.add("Ada", Role::Member).await;
    let bo = app.add("Bo", Role::Member).await;
    let sten = app.add("Sten", Role::Steward).await;
    let (ada, bo) = (
        app.script(ada, Scope::Write).await,
        app.script(bo, Scope::Write).await,
    );
    let steward = app.script(sten, Scope::Steward).await;
    let (first, second) = (created(&ada).await, created(&bo).await);
    let path = "/api/v1/plans/what-if";
    let both = |rest: Value| {
        let mut body = json!({"projects": [first, second], "seconds": 5.0});
        body.as_object_mut()
            .unwrap()
            .extend(rest.as_object().unwrap().clone());
        body
    };
    let coats = steward.post(path, both(json!({"coats_left_out": 1}))).await;
    assert_eq!(coats.status, StatusCode::OK, "{}", coats.text());
    let coats = coats.json();
    assert_eq!(coats["sooner_minutes"], 1470);
    assert_eq!(coats["proven"], true);
    for (project, place) in [(first, 0), (second, 1)] {
        assert_eq!(coats["now"][place]["project"]["id"], project);
        assert_eq!(coats["now"][place]["ready_at"], "2027-03-10T13:00:00Z");
        assert_eq!(coats["then"][place]["ready_at"], "2027-03-09T12:30:00Z");
    }
    let more = both(json!({"more": [{"resource": clamps.0, "count": 4}]}));
    assert_eq!(steward.post(path, more).await.json()["sooner_minutes"], 0);
    let morning = json!({"openings": [{"day": "2027-03-02", "opens": "06:00", "shuts": "09:00", "machines": true}]});
    let morning = steward.post(path, both(morning)).await.json();
    assert_eq!(morning["sooner_minutes"], 170);
    let listed = steward.get("/api/v1/bookings?whose=all").await;
    assert!(items(&listed).is_empty(), "asking books nothing");

    for (body, pointers) in [
        (both(json!({})), &[""][..]),
        (json!({"coats_left_out": 1}), &["/projects"]),
        (
            json!({"projects": [0], "more": [{"resource": 99, "count": 51}], "coats_left_out": 0}),
            &[
                "/projects/0",
                "/more/0/resource",
                "/more/0/count",
                "/coats_left_out",
            ],
        ),
    ] {
        let wrong = steward.post(path, body).await;
        assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
        let flaws = wrong.json()["errors"].as_array().unwrap().clone();
        let said: Vec<&str> = flaws
            .iter()
            .map(|flaw| flaw["pointer"].as_str().unwrap())
            .collect();
        assert_eq!(said, pointers);
    }
    let unknown = json!({"projects": [999], "coats_left_out": 1});
    assert_eq!(
        steward.post(path, unknown).await.status,
        StatusCode::NOT_FOUND
    );
    let refused = ada.post(path, both(json!({"coats_left_out": 1}))).await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn the_minutes_of_a_steps_kind_can_be_set_for_one_project() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let id = created(&script).await;
    let path = format!("/api/v1/projects/{id}");
    let change = async |minutes: Value| {
        let body = Some(json!({"practice": {"step_minutes": minutes}}));
        script
            .send(Method::PATCH, &path, &[("if-match", "\"v1\"")], body)
            .await
    };
    let wrong = change(json!({"glue-up": 1441, "cure": 5, "polish": 5})).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let pointers: Vec<Value> = wrong.json()["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|flaw| flaw["pointer"].clone())
        .collect();
    assert_eq!(
        pointers,
        [
            "/practice/step_minutes/cure",
            "/practice/step_minutes/glue-up",
            "/practice/step_minutes/polish"
        ]
    );
    let changed = change(json!({"glue-up": 75})).await;
    assert_eq!(changed.status, StatusCode::OK, "{}", changed.text());
    let minutes = &changed.json()["practice"]["step_minutes"];
    assert_eq!(*minutes, json!({"glue-up": 75}));
    let bookings = booked(&script, id).await;
    let glue = step(&bookings, "Glue up");
    let at = |name: &str| -> jiff::Timestamp { glue[name].as_str().unwrap().parse().unwrap() };
    assert_eq!(at("to").as_second() - at("from").as_second(), 75 * 60);
}

#[tokio::test]
async fn the_day_the_wall_and_the_week_are_told() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let id = created(&script).await;
    let today = script.get("/api/v1/today").await.json();
    assert_eq!(today["to_do"][0]["next"], "match");
    assert_eq!(today["wall"]["in_clamps"], json!([]));
    let bookings = booked(&script, id).await;
    let glue = step(&bookings, "Glue up");
    let begun = change(
        &script,
        &format!("{}/begin", path(glue)),
        "\"v1\"",
        json!({}),
    )
    .await;
    assert_eq!(begun.status, StatusCode::OK, "{}", begun.text());
    let wall = script.get("/api/v1/wall").await.json();
    let panel = &wall["in_clamps"][0];
    assert_eq!(panel["project"]["name"], "Board for Ines");
    assert_eq!(panel["clamps"][0]["name"], "long clamps");
    assert_eq!(panel["is_ready"], false);
    assert!(panel["may_come_out"].as_str().unwrap() > glue["to"].as_str().unwrap());

    let week = script.get("/api/v1/glue-ups").await.json();
    assert_eq!(week["monday"], "2027-03-01");
    assert_eq!(week["openings"].as_array().unwrap().len(), 7);
    assert_eq!(week["openings"][0]["clamps"][0]["free"][0]["free"], 20);
    assert_eq!(week["conflicts"], json!([]));
    let wrong = script.get("/api/v1/glue-ups?week=soon").await;
    assert_eq!(wrong.status, StatusCode::BAD_REQUEST);
}
