//! Each of the four kinds on the whole way: needs, match, claim, plan, bench sheet, templates.

use axum::http::StatusCode;
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::{Answer, Script, TestApp};
use crate::pages::plans::opened;
use crate::pages::project_wood::stocked;

fn strips(species: [&str; 2], width: &str, count: usize) -> Vec<Value> {
    (0..count)
        .map(|place| json!({"species": species[place % 2], "width": width}))
        .collect()
}

fn found(answer: &Answer, wanted: StatusCode) -> Value {
    assert_eq!(answer.status, wanted, "{}", answer.text());
    answer.json()
}

fn list<'a>(value: &'a Value, name: &str) -> &'a [Value] {
    value[name].as_array().map_or(&[], Vec::as_slice)
}

/// What came of a project on its way.
struct Walked {
    needs: Value,
    sheet: Value,
    /// Booked, in their order of time.
    bookings: Vec<Value>,
    templates: Vec<String>,
}

async fn walk(app: &TestApp, script: &Script<'_>, design: Value) -> Walked {
    let body = json!({"name": "A gift", "due_day": "2027-04-30", "design": design});
    let made = found(
        &script.post("/api/v1/projects", body).await,
        StatusCode::CREATED,
    );
    let project = format!("/api/v1/projects/{}", made["id"]);
    let needs = found(
        &script.get(&format!("{project}/needs")).await,
        StatusCode::OK,
    );
    let wanted: u64 = list(&needs, "strips")
        .iter()
        .map(|strip| strip["count"].as_u64().unwrap())
        .sum();
    let matched = script
        .post(&format!("{project}/match"), json!({"seconds": 3}))
        .await;
    let matched = found(&matched, StatusCode::OK);
    assert_eq!(matched["covered"].as_u64(), Some(wanted), "{matched}");
    let claims = script.post(&format!("{project}/claims"), json!({})).await;
    assert!(!list(&found(&claims, StatusCode::CREATED), "items").is_empty());
    let plan = script
        .post(&format!("{project}/plan"), json!({"seconds": 4}))
        .await;
    let late = &found(&plan, StatusCode::CREATED)["ready"][0]["late_minutes"];
    assert_eq!(*late, 0);
    let accepted = script
        .post(&format!("{}/accept", plan.location()), json!({}))
        .await;
    let mut bookings = list(&found(&accepted, StatusCode::OK), "items").to_vec();
    bookings.sort_by_key(|booking| booking["from"].as_str().unwrap().to_owned());
    let sheet = script.get(&format!("{project}/bench-sheet")).await;
    let sheet = found(&sheet, StatusCode::OK);
    assert_eq!(sheet["is_claimed"], true);
    assert!(!list(&sheet, "pieces").is_empty());
    let steps = list(&sheet, "steps");
    assert_eq!(steps.len(), bookings.len(), "every step is booked");
    for step in steps {
        assert!(step["booked"].is_string(), "{step}");
    }
    // The piece and every cut are drawn.
    let drawing = script.get(&format!("{project}/drawing")).await;
    assert!(drawing.text().starts_with("<svg"));
    let cuts = script.get(&format!("{project}/cuts")).await;
    for cut in list(&found(&cuts, StatusCode::OK), "items") {
        let drawing = script
            .get(&format!("{project}/cuts/{}/drawing", cut["id"]))
            .await;
        assert!(drawing.text().starts_with("<svg"), "{}", drawing.text());
    }
    let mut templates = Vec::new();
    let listed = script.get(&format!("{project}/templates")).await;
    for template in list(&found(&listed, StatusCode::OK), "items") {
        templates.push(template["name"].as_str().unwrap().to_owned());
        for file in list(template, "files") {
            let file = file.as_str().unwrap();
            let served = script.get(file).await;
            assert_eq!(served.status, StatusCode::OK, "{file}");
            let wanted = if file.ends_with(".pdf") {
                "application/pdf"
            } else {
                "image/svg+xml"
            };
            assert_eq!(served.header("content-type"), wanted, "{file}");
        }
    }
    // Its pages are there too.
    let browser = app
        .browser_of(app.add("Guest of the sheet", Role::Steward).await)
        .await;
    for page in [
        "",
        "/design",
        "/match",
        "/cuts",
        "/plan",
        "/bench-sheet",
        "/templates",
    ] {
        let path = format!("/projects/{}{page}", made["id"]);
        assert_eq!(browser.get(&path).await.status, StatusCode::OK, "{path}");
    }
    Walked {
        needs,
        sheet,
        bookings,
        templates,
    }
}

async fn workshop() -> TestApp {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[("hard maple", 40, 9, 2), ("black walnut", 40, 9, 2)],
    )
    .await;
    opened(&app, 24).await;
    app
}

fn glued(walked: &Walked) -> Vec<(&str, u64)> {
    list(&walked.needs, "panels")
        .iter()
        .map(|panel| {
            (
                panel["name"].as_str().unwrap(),
                panel["glue_lines"].as_u64().unwrap(),
            )
        })
        .collect()
}

fn steps(walked: &Walked) -> Vec<&str> {
    list(&walked.sheet, "steps")
        .iter()
        .map(|step| step["name"].as_str().unwrap())
        .collect()
}

#[tokio::test]
async fn a_striped_board_goes_the_whole_way() {
    let app = workshop().await;
    let script = app
        .script(app.add("Ada", Role::Member).await, Scope::Write)
        .await;
    let walked = walk(
        &app,
        &script,
        json!({"kind": "striped-board", "length": "14 in", "width": "7 in", "thickness": "3/4 in",
            "surface": "face grain", "strips": strips(["black walnut", "hard maple"], "1 in", 7), "feet": 4,
            "groove": {"width": "3/8 in", "depth": "1/8 in", "inset": "3/4 in"}}),
    )
    .await;
    assert_eq!(glued(&walked), [("board", 6)]);
    assert_eq!(walked.templates, ["feet"]);
    assert_eq!(
        steps(&walked)[..7],
        [
            "Mill and rip",
            "Dry fit",
            "Glue up",
            "Unclamp and scrape",
            "Flatten",
            "Square to size",
            "Rout the juice groove"
        ]
    );
}

#[tokio::test]
async fn an_end_grain_board_goes_the_whole_way() {
    let app = workshop().await;
    let script = app
        .script(app.add("Ada", Role::Member).await, Scope::Write)
        .await;
    let walked = walk(
        &app,
        &script,
        json!({"kind": "end-grain-board", "length": "6 in", "thickness": "1 in", "surface": "face grain",
            "strips": strips(["hard maple", "black walnut"], "3/4 in", 6), "panel_thickness": "3/4 in",
            "slices": 8, "turn": "flip"}),
    )
    .await;
    assert_eq!(glued(&walked), [("first panel", 5), ("slices", 7)]);
    assert_eq!(walked.templates, [""; 0]);
    let steps = steps(&walked);
    let place = |name: &str| steps.iter().position(|step| *step == name).expect(name);
    assert!(place("Unclamp and scrape: first panel") < place("Crosscut slices"));
    assert!(place("Crosscut slices") < place("Glue up: slices"));
    assert!(place("Glue up: slices") < place("Flatten the end grain"));
    // End grain drinks more: a coat beyond the usual two.
    assert!(steps.contains(&"Coat 3") && !steps.contains(&"Coat 4"));
}

#[tokio::test]
async fn a_board_with_a_handle_goes_the_whole_way() {
    let app = workshop().await;
    let script = app
        .script(app.add("Ada", Role::Member).await, Scope::Write)
        .await;
    let walked = walk(
        &app,
        &script,
        json!({"kind": "handle-board", "body_length": "9 in", "body_width": "5 1/2 in", "thickness": "5/8 in",
            "handle_length": "4 in", "handle_width": "1 3/4 in", "corner_radius": "3/4 in", "throat_radius": "3/4 in",
            "tip_radius": "1/2 in", "slant_degrees": 10, "hole": {"diameter": "1/2 in", "from_tip": "1 in"},
            "blank": {"species": "hard maple"}}),
    )
    .await;
    assert_eq!(glued(&walked), [], "one piece is not glued");
    assert_eq!(walked.templates, ["outline"]);
    assert_eq!(
        steps(&walked)[..4],
        [
            "Mill and rip",
            "Flatten",
            "Drill the hole",
            "Saw the outline"
        ]
    );
}

#[tokio::test]
async fn a_round_tray_goes_the_whole_way() {
    let app = workshop().await;
    let script = app
        .script(app.add("Ada", Role::Member).await, Scope::Write)
        .await;
    let blank = |species| json!({"surface": "face grain", "strips": strips([species, species], "2 3/4 in", 4)});
    let walked = walk(
        &app,
        &script,
        json!({"kind": "round-tray", "diameter": "10 in", "rim": "1/2 in", "base_thickness": "1/2 in",
            "ring_thickness": "3/4 in", "bit": "1/4 in", "base": blank("hard maple"), "ring": blank("black walnut")}),
    )
    .await;
    assert_eq!(glued(&walked), [("base", 3), ("ring", 3), ("tray", 1)]);
    assert_eq!(walked.templates, ["circle", "jig"]);
    let glue_ups = walked.bookings.iter().filter(|booking| {
        let name = booking["name"].as_str().unwrap();
        name.starts_with("Glue up")
    });
    assert_eq!(glue_ups.count(), 3);
    let last = walked.bookings.last().unwrap();
    assert_eq!(last["name"], "Hand over");
}
