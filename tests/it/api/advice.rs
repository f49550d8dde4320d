//! What is said of a project before the first cut, as more of its wood becomes known.

use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::{Script, TestApp};

async fn made(script: &Script<'_>, path: &str, body: Value) -> Value {
    let answer = script.post(path, body).await;
    assert!(answer.status.is_success(), "{path}: {}", answer.text());
    answer.json()
}

async fn advice(script: &Script<'_>, id: i64) -> Value {
    let answer = script.get(&format!("/api/v1/projects/{id}/advice")).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
    answer.json()
}

/// Strips of hard maple, each so wide, in a board 12 in long.
fn board(surface: &str, thickness: &str, strip: &str, strips: usize, width: &str) -> Value {
    let strip = json!({"species": "hard maple", "width": strip});
    json!({"kind": "striped-board", "length": "12 in", "width": width, "thickness": thickness, "surface": surface,
        "strips": vec![strip; strips]})
}

fn piece(bin: i64, rings: &str) -> Value {
    json!({"species": "hard maple", "length": "30 in", "width": "4 in", "thickness": "7/8 in", "bin": bin,
        "growth_rings": rings, "square_ends": true, "straight_edges": true})
}

fn near(value: &Value, expected: f64) {
    let found = value.as_f64().unwrap();
    assert!(
        (found - expected).abs() < 0.002,
        "{found} is not {expected}"
    );
}

/// Hard maple, C_T = 0.00353 and C_R = 0.00165 (USDA Wood Handbook, Table 13-5), between the usual 30 % and 60 % of
/// humidity at 21.1 degrees: 6.170 to 10.965 % moisture. Two strips of 1 1/2 in: 76.2 mm.
#[tokio::test]
async fn movement_follows_the_rings_of_the_pieces_that_were_found() {
    let app = TestApp::new().await;
    let steward = app
        .script(app.add("Sten", Role::Steward).await, Scope::Steward)
        .await;
    let bin = made(&steward, "/api/v1/bins", json!({"name": "B1"})).await["id"]
        .as_i64()
        .unwrap();
    let flat = board("face grain", "3/4 in", "1 1/2 in", 2, "3 in");
    let project = made(
        &steward,
        "/api/v1/projects",
        json!({"name": "Flat", "design": flat}),
    )
    .await;
    let id = project["id"].as_i64().unwrap();

    let unknown = advice(&steward, id).await;
    let moves = &unknown["movement"][0];
    near(&moves["width_change"]["low"], 76.2 * 0.001_65 * 4.7955);
    near(&moves["width_change"]["high"], 76.2 * 0.003_53 * 4.7955);
    assert_eq!(moves["strips_with_known_rings"], 0);
    assert_eq!(
        unknown["seasons"]["dry"]["source"],
        "common practice, no single source"
    );

    made(&steward, "/api/v1/offcuts", piece(bin, "quarter-sawn")).await;
    made(
        &steward,
        &format!("/api/v1/projects/{id}/match"),
        json!({"seconds": 2}),
    )
    .await;
    let matched = advice(&steward, id).await;
    for end in ["low", "high"] {
        near(
            &matched["movement"][0]["width_change"][end],
            76.2 * 0.001_65 * 4.7955,
        );
    }
    assert_eq!(matched["movement"][0]["strips_with_known_rings"], 2);
    // A piece 30 x 4 x 7/8 in, of which what is left over the strips' length goes back.
    let claims = steward
        .send(
            Method::POST,
            &format!("/api/v1/projects/{id}/claims"),
            &[],
            None,
        )
        .await;
    assert!(claims.status.is_success(), "{}", claims.text());
    let claimed = advice(&steward, id).await;
    assert_eq!(claimed["movement"], matched["movement"]);

    // On edge the rings of a quarter-sawn piece follow the board's face.
    let edge = board("edge grain", "1 1/2 in", "3/4 in", 3, "2 1/4 in");
    let project = made(
        &steward,
        "/api/v1/projects",
        json!({"name": "Edge", "design": edge}),
    )
    .await;
    let id = project["id"].as_i64().unwrap();
    made(&steward, "/api/v1/offcuts", piece(bin, "quarter-sawn")).await;
    made(&steward, "/api/v1/offcuts", piece(bin, "quarter-sawn")).await;
    made(
        &steward,
        &format!("/api/v1/projects/{id}/match"),
        json!({"seconds": 2}),
    )
    .await;
    let edge = advice(&steward, id).await;
    for end in ["low", "high"] {
        near(
            &edge["movement"][0]["width_change"][end],
            57.15 * 0.003_53 * 4.7955,
        );
    }
}

#[tokio::test]
async fn movement_is_reckoned_between_the_driest_and_the_dampest_reading() {
    let app = TestApp::new().await;
    let steward = app
        .script(app.add("Sten", Role::Steward).await, Scope::Steward)
        .await;
    let flat = board("face grain", "3/4 in", "1 1/2 in", 2, "3 in");
    let project = made(
        &steward,
        "/api/v1/projects",
        json!({"name": "Flat", "design": flat}),
    )
    .await;
    let id = project["id"].as_i64().unwrap();
    let read = async |version: &str, air: Value| {
        let headers = [("if-match", version)];
        let set = steward
            .send(
                Method::PATCH,
                "/api/v1/workshop",
                &headers,
                Some(json!({"air": air})),
            )
            .await;
        assert_eq!(set.status, StatusCode::OK, "{}", set.text());
        set.header("etag").to_owned()
    };
    // One season says nothing of the other end of the year.
    let version = read(
        "\"v1\"",
        json!([{"season": "summer", "temperature_c": 21.1, "relative_humidity_percent": 65}]),
    )
    .await;
    let seasons = advice(&steward, id).await["seasons"].clone();
    assert_eq!(seasons["dry"]["name"], "a dry winter indoors");
    assert_eq!(seasons["damp"]["name"], "summer in the workshop");
    assert_eq!(seasons["damp"]["source"], "this workshop");
    // 35 % and 65 % at 21.1 degrees: 6.943 and 11.958 % (equation (4-5) of the Wood Handbook).
    let reading = |place: &str, season: &str, percent: i64| json!({"place": place, "season": season, "temperature_c": 21.1, "relative_humidity_percent": percent});
    read(
        &version,
        json!([
            reading("workshop", "winter", 50),
            reading("kitchen", "winter", 35),
            reading("workshop", "summer", 65),
        ]),
    )
    .await;
    let now = advice(&steward, id).await;
    assert_eq!(now["seasons"]["dry"]["name"], "winter in the kitchen");
    near(&now["seasons"]["dry"]["mc_percent"], 6.943);
    near(&now["seasons"]["damp"]["mc_percent"], 11.958);
    let width = &now["movement"][0]["width_change"]["high"];
    near(width, 76.2 * 0.003_53 * (11.958 - 6.943));
    // What a cross piece over the whole width would hold back, and over the 3 in that are glued solid.
    let across = &now["cross_pieces"][0];
    assert_eq!(across["mismatch"]["high"], *width);
    assert_eq!(across["joint"], 76.2);
    assert_eq!(across["too_long"], false);
}

#[tokio::test]
async fn a_board_is_bought_by_the_board_foot_as_much_of_it_as_is_used() {
    let app = TestApp::new().await;
    let steward = app
        .script(app.add("Sten", Role::Steward).await, Scope::Steward)
        .await;
    // 6 in x 8 ft: surface measure 4, 8/4: 8 board feet of 5.00.
    let rough = json!({"name": "maple 8/4", "species": "hard maple", "length": "96 in", "width": "6 in",
        "thickness": "1 3/4 in", "price": 5, "price_per": "board foot", "quarters": 8, "sold_in_parts": true});
    let listed = made(&steward, "/api/v1/lumber", rough).await;
    assert_eq!(listed["tallied_board_feet"], 8.0);
    assert_eq!(listed["whole_price"], 40.0);
    let flat = board("face grain", "3/4 in", "1 1/2 in", 2, "3 in");
    let project = made(
        &steward,
        "/api/v1/projects",
        json!({"name": "Flat", "design": flat}),
    )
    .await;
    let id = project["id"].as_i64().unwrap();
    made(
        &steward,
        &format!("/api/v1/projects/{id}/match"),
        json!({"seconds": 2}),
    )
    .await;
    let cost = advice(&steward, id).await["cost"].clone();
    // Two strips 12 1/2 in long lie side by side in two feet of it: surface measure 1, 2 board feet.
    assert_eq!(
        cost["bought"],
        json!([{"name": "maple 8/4, 2 ft of it", "count": 1, "tallied_board_feet": 2.0, "price": 5.0,
            "price_per": "board foot"}])
    );
    assert_eq!(cost["bought_wood"], 10.0);
    assert_eq!(cost["bin_wood"], 0.0);

    let wrong = json!({"name": "odd", "species": "hard maple", "length": "96 in", "width": "6 in",
        "thickness": "2 in", "price": 5, "quarters": 8, "sold_in_parts": true});
    let refused = steward.post("/api/v1/lumber", wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    for place in ["/quarters", "/sold_in_parts"] {
        assert!(refused.text().contains(place), "{}", refused.text());
    }
}

#[tokio::test]
async fn every_cost_of_a_project_is_told_and_summed() {
    let app = TestApp::new().await;
    let sten = app.add("Sten", Role::Steward).await;
    let steward = app.script(sten, Scope::Steward).await;
    let bin = made(&steward, "/api/v1/bins", json!({"name": "B1"})).await["id"]
        .as_i64()
        .unwrap();
    made(&steward, "/api/v1/offcuts", piece(bin, "unknown")).await;
    let prices = json!({"price_per_board_foot": 4, "price_of_glue": 20, "price_of_abrasive": 3, "price_of_finish": 40});
    let set = steward
        .send(
            Method::PATCH,
            "/api/v1/workshop",
            &[("if-match", "\"v1\"")],
            Some(prices),
        )
        .await;
    assert_eq!(set.status, StatusCode::OK, "{}", set.text());
    let flat = board("face grain", "3/4 in", "1 1/2 in", 2, "3 in");
    let project = made(
        &steward,
        "/api/v1/projects",
        json!({"name": "Flat", "design": flat}),
    )
    .await;
    let id = project["id"].as_i64().unwrap();
    // Not found yet: two strips 12 1/2 x 1 1/2 x 7/8 in, 0.2279 board feet.
    assert_eq!(advice(&steward, id).await["cost"]["bin_wood"], 0.91);
    made(
        &steward,
        &format!("/api/v1/projects/{id}/match"),
        json!({"seconds": 2}),
    )
    .await;
    let found = advice(&steward, id).await;
    let cost = &found["cost"];
    // Found: what is cut away goes on the project too, what goes back does not.
    assert!(cost["bin_wood"].as_f64().unwrap() > 0.91);
    assert!(cost["bin_wood"].as_f64().unwrap() < 4.0 * 30.0 * 4.0 * 0.875 / 144.0);
    let glue = found["glue"]["glue_g"].as_f64().unwrap() * 0.020;
    assert!((cost["glue"].as_f64().unwrap() - glue).abs() < 0.006);
    let litres = found["finish"]["litres"].as_f64().unwrap() * 40.0;
    assert!((cost["finish"].as_f64().unwrap() - litres).abs() < 0.006);
    assert!(cost["abrasive"].as_f64().unwrap() > 0.0);
    let lines = ["bin_wood", "bought_wood", "glue", "abrasive", "finish"];
    let sum: f64 = lines.iter().map(|line| cost[*line].as_f64().unwrap()).sum();
    assert!((cost["total"].as_f64().unwrap() - sum).abs() < 1e-9);
    // Page and bench sheet say the same sum.
    let browser = app.browser_of(sten).await;
    let total = format!("{sum:.2}");
    for page in ["", "/bench-sheet"] {
        let shown = browser.get(&format!("/projects/{id}{page}")).await;
        assert!(shown.text().contains(&total), "{page}: {total}");
    }
}

/// Two strips of hard maple in a board 12 in long: one line of 12 1/2 x 7/8 in, 7056.5 mm², on which maple bears 1207 kPa
/// at least (common practice): 8.51 kN.
#[tokio::test]
async fn the_page_says_what_the_workshops_own_clamps_can_do() {
    let app = TestApp::new().await;
    let sten = app.add("Sten", Role::Steward).await;
    let steward = app.script(sten, Scope::Steward).await;
    let flat = board("face grain", "3/4 in", "1 1/2 in", 2, "3 in");
    let body = json!({"name": "Flat", "design": flat});
    let id = made(&steward, "/api/v1/projects", body).await["id"]
        .as_i64()
        .unwrap();
    let browser = app.browser_of(sten).await;
    let set = |name: &str, force: Option<i64>, count: i64| json!({"kind": "clamp set", "name": name, "capacity": count, "reach": "12 in", "rated_force_n": force});
    let says = async || {
        let page = browser.get(&format!("/projects/{id}")).await;
        let needs = steward
            .get(&format!("/api/v1/projects/{id}/needs"))
            .await
            .json();
        (
            page.text().to_owned(),
            needs["panels"][0]["clamps_by_force"].clone(),
        )
    };
    let (none, asked) = says().await;
    assert!(
        none.contains("The workshop has no clamps in its list"),
        "{none}"
    );
    assert_eq!(asked, json!([{"clamps": 2, "least_force_n": 0}]));

    made(&steward, "/api/v1/resources", set("old clamps", None, 8)).await;
    let (unknown, asked) = says().await;
    assert!(
        unknown.contains("Nobody knows the force of the old clamps"),
        "{unknown}"
    );
    assert!(
        unknown.contains("2 clamps are drawn and booked, reckoned with the force of a usual clamp")
    );
    assert_eq!(asked, json!([{"clamps": 2, "least_force_n": 0}]));

    made(
        &steward,
        "/api/v1/resources",
        set("light clamps", Some(1200), 8),
    )
    .await;
    let (light, asked) = says().await;
    // 8.51 kN over 1.2 kN: 8 clamps, all there are.
    assert!(light.contains("Take 8 of the light clamps"), "{light}");
    assert_eq!(asked, json!([{"clamps": 8, "least_force_n": 1200}]));
}

/// Looks whether a value is as a schema says: its kind, every field it must have, and no other.
fn assert_as_described(document: &Value, schema: &Value, value: &Value, at: &str) {
    if let Some(name) = schema["$ref"].as_str() {
        let named = document.pointer(name.trim_start_matches('#')).unwrap();
        return assert_as_described(document, named, value, at);
    }
    if let Some(either) = schema["oneOf"].as_array() {
        if value.is_null() {
            assert!(either.iter().any(|one| one["type"] == "null"), "{at}");
            return;
        }
        let known = either.iter().find(|one| one["type"] != "null").unwrap();
        return assert_as_described(document, known, value, at);
    }
    let kind = match value {
        Value::Null => "null",
        Value::Bool(_) => "boolean",
        Value::Number(number) if number.is_i64() => "integer",
        Value::Number(_) => "number",
        Value::String(_) => "string",
        Value::Array(_) => "array",
        Value::Object(_) => "object",
    };
    let is_of = |known: &Value| known == kind || (known == "number" && kind == "integer");
    let kinds = &schema["type"];
    let fits = is_of(kinds) || kinds.as_array().is_some_and(|list| list.iter().any(is_of));
    assert!(fits, "{at} is {kind}, described as {kinds}");
    match value {
        Value::Array(items) => {
            for (place, item) in items.iter().enumerate() {
                assert_as_described(document, &schema["items"], item, &format!("{at}/{place}"));
            }
        }
        Value::Object(fields) => {
            for (name, field) in fields {
                let known = &schema["properties"][name];
                assert!(!known.is_null(), "{at}/{name} is not described");
                assert_as_described(document, known, field, &format!("{at}/{name}"));
            }
            for name in schema["required"].as_array().into_iter().flatten() {
                assert!(fields.contains_key(name.as_str().unwrap()), "{at}/{name}");
            }
        }
        _ => {}
    }
}

#[tokio::test]
async fn the_advice_of_every_kind_is_as_it_is_described() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let document = script.get("/api/v1/openapi.json").await.json();
    let call = &document["paths"]["/api/v1/projects/{id}/advice"]["get"];
    let schema = &call["responses"]["200"]["content"]["application/json"]["schema"];
    assert_eq!(schema["$ref"], "#/components/schemas/AdviceBody");
    let browser = app.browser_of(ada).await;
    for kind in [
        "striped-board",
        "end-grain-board",
        "handle-board",
        "round-tray",
    ] {
        let made = browser
            .post("/projects/new", &[("kind", kind), ("name", "Gift")])
            .await;
        let id = made.location();
        let id = id.trim_start_matches("/projects/").split('/').next();
        let advice = advice(&script, id.unwrap().parse().unwrap()).await;
        assert!(advice["sources"].as_array().unwrap().len() > 10, "{kind}");
        assert_as_described(&document, schema, &advice, kind);
    }
}
