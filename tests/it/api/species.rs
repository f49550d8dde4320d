use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::TestApp;

fn locust() -> Value {
    json!({
        "name": "osage orange", "kind": "hardwood", "specific_gravity": 0.69, "density_kg_m3": 770,
        "hardness_n": 7600, "pores": "open", "hazard": "toxic", "food": "avoid",
        "food_reason": "open vessels", "colour": "#B08A4A",
    })
}

#[tokio::test]
async fn species_are_listed_in_pages_and_found_by_any_name() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let script = app.script(id, Scope::Read).await;
    let first = script.get("/api/v1/species?limit=20").await.json();
    assert_eq!(first["items"].as_array().unwrap().len(), 20);
    let mut names: Vec<String> = Vec::new();
    let mut next = Some(String::new());
    while let Some(after) = next {
        let query = if after.is_empty() {
            String::new()
        } else {
            format!("&after={}", crate::app::encoded(&after))
        };
        let page = script
            .get(&format!("/api/v1/species?limit=20{query}"))
            .await
            .json();
        let items = page["items"].as_array().unwrap().clone();
        names.extend(
            items
                .iter()
                .map(|item| item["name"].as_str().unwrap().to_owned()),
        );
        next = page["next"].as_str().map(str::to_owned);
    }
    let mut sorted = names.clone();
    sorted.sort();
    sorted.dedup();
    assert_eq!(names, sorted);
    assert_eq!(names.len(), scrapwright::reference::woods().len());

    let maple = script.get("/api/v1/species/sugar%20maple").await;
    assert_eq!(maple.header("etag"), "\"v0\"");
    let maple = maple.json();
    assert_eq!(maple["name"], "hard maple");
    // Wood Handbook, Table 13-5.
    assert_eq!(maple["coefficient_tangential"], json!(0.00353));
    let sources = maple["sources"].as_array().unwrap();
    assert!(sources.iter().any(|source| source["of"] == "coefficient"
        && source["publication"].as_str().unwrap().contains("13-5")));
    let unknown = script.get("/api/v1/species/unobtainium").await;
    assert_eq!(unknown.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_stewards_script_adds_corrects_and_forgets_a_wood() {
    let app = TestApp::new().await;
    let id = app.add("Sten", Role::Steward).await;
    let script = app.script(id, Scope::Steward).await;
    let made = script.post("/api/v1/species", locust()).await;
    assert_eq!(made.status, StatusCode::CREATED, "{}", made.text());
    assert_eq!(made.location(), "/api/v1/species/osage%20orange");
    assert_eq!(made.header("etag"), "\"v1\"");
    let made = made.json();
    assert!(
        made["sources"]
            .as_array()
            .unwrap()
            .iter()
            .all(|source| source["provenance"] == "workshop")
    );
    let twice = script.post("/api/v1/species", locust()).await;
    assert_eq!(twice.json()["errors"][0]["pointer"], "/name");

    let mut body = locust();
    body.as_object_mut().unwrap().remove("name");
    body["density_kg_m3"] = json!(780);
    let path = "/api/v1/species/osage%20orange";
    let without = script
        .send(Method::PUT, path, &[], Some(body.clone()))
        .await;
    assert_eq!(without.status, StatusCode::PRECONDITION_REQUIRED);
    let put = script
        .send(
            Method::PUT,
            path,
            &[("if-match", "\"v1\"")],
            Some(body.clone()),
        )
        .await;
    assert_eq!(put.status, StatusCode::OK, "{}", put.text());
    assert_eq!(put.header("etag"), "\"v2\"");
    let stale = script
        .send(
            Method::PUT,
            path,
            &[("if-match", "\"v1\"")],
            Some(body.clone()),
        )
        .await;
    assert_eq!(stale.status, StatusCode::PRECONDITION_FAILED);
    body["food"] = json!("delicious");
    body["surplus"] = json!(1);
    let wrong = script
        .send(Method::PUT, path, &[("if-match", "\"v2\"")], Some(body))
        .await;
    let wrong = wrong.json();
    let pointers: Vec<&str> = wrong["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|error| error["pointer"].as_str().unwrap())
        .collect();
    assert_eq!(pointers, ["/surplus", "/food"]);
    let gone = script
        .send(Method::DELETE, path, &[("if-match", "\"v2\"")], None)
        .await;
    assert_eq!(gone.status, StatusCode::NO_CONTENT);
    assert_eq!(script.get(path).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_printed_wood_is_corrected_over_version_0_once() {
    let app = TestApp::new().await;
    let id = app.add("Sten", Role::Steward).await;
    let script = app.script(id, Scope::Steward).await;
    let mut body = locust();
    body.as_object_mut().unwrap().remove("name");
    let put = |body: Value| {
        script.send(
            Method::PUT,
            "/api/v1/species/hard%20maple",
            &[("if-match", "\"v0\"")],
            Some(body),
        )
    };
    assert_eq!(put(body.clone()).await.status, StatusCode::OK);
    assert_eq!(put(body).await.status, StatusCode::PRECONDITION_FAILED);
}
