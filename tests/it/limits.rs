//! How much may be sent: no field takes text without end.

use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::TestApp;

/// Bodies that work, and the texts in them.
fn bodies() -> Vec<(Method, &'static str, Value, Vec<&'static str>)> {
    let design = json!({"kind": "striped-board", "length": "14 in", "width": "2 in", "thickness": "3/4 in",
        "surface": "face grain", "strips": [{"species": "hard maple", "width": "2 in"}]});
    let post = |path, body, texts: &[&'static str]| (Method::POST, path, body, texts.to_vec());
    vec![
        post(
            "/api/v1/bins",
            json!({"name": "By the door", "place": "left"}),
            &["/name", "/place"],
        ),
        post(
            "/api/v1/offcuts",
            json!({"species": "hard maple", "length": "20 in", "width": "3 in", "thickness": "7/8 in", "bin": 1,
                "note": "n", "unusable": [{"from": 0, "to": "1 in", "why": "knot"}]}),
            &["/species", "/length", "/note", "/unusable/0/why"],
        ),
        post(
            "/api/v1/offcuts/lines",
            json!({"lines": ["maple 20 x 3 x 1"], "bin": 1, "dry_run": true}),
            &["/lines/0"],
        ),
        post(
            "/api/v1/projects",
            json!({"name": "Board", "note": "n", "due_day": "2027-03-20", "design": design}),
            &["/name", "/note", "/due_day", "/design/strips/0/species"],
        ),
        post(
            "/api/v1/lumber",
            json!({"name": "maple board", "species": "hard maple", "length": "4 ft", "width": "5 in",
                "thickness": "7/8 in", "price": 14.5}),
            &["/name", "/species"],
        ),
        post(
            "/api/v1/resources",
            json!({"kind": "glue bench", "name": "bench", "capacity": 1}),
            &["/kind", "/name"],
        ),
        post(
            "/api/v1/openings/extra",
            json!({"day": "2027-03-20", "from": "10:00", "to": "12:00", "note": "fair"}),
            &["/day", "/from", "/note"],
        ),
        post(
            "/api/v1/openings/closures",
            json!({"first_day": "2027-03-20", "last_day": "2027-03-21", "reason": "feast"}),
            &["/first_day", "/reason"],
        ),
        post(
            "/api/v1/invitations",
            json!({"name": "Ada", "role": "member"}),
            &["/name", "/role"],
        ),
        post(
            "/api/v1/me/tokens",
            json!({"name": "walk", "scope": "read"}),
            &["/name", "/scope"],
        ),
        post(
            "/api/v1/me/notices",
            json!({"url": "https://hear.example/"}),
            &["/url"],
        ),
        (
            Method::PATCH,
            "/api/v1/me",
            json!({"name": "Sten"}),
            vec!["/name"],
        ),
        (
            Method::PATCH,
            "/api/v1/workshop",
            json!({"name": "Yard", "time_zone": "UTC"}),
            vec!["/name", "/time_zone"],
        ),
    ]
}

#[tokio::test]
async fn no_field_takes_text_without_end() {
    let app = TestApp::new().await;
    let id = app.add("Sten", Role::Steward).await;
    let script = app.script(id, Scope::Steward).await;
    let mut taken = Vec::new();
    for (method, path, body, texts) in bodies() {
        for text in texts {
            let mut long = body.clone();
            *long.pointer_mut(text).expect("it is there") = json!("1 ".repeat(50_000));
            let headers = [("if-match", "\"v1\"")];
            let answer = script
                .send(method.clone(), path, &headers, Some(long))
                .await;
            let names = |error: &Value| {
                error["pointer"]
                    .as_str()
                    .is_some_and(|pointer| !pointer.is_empty() && text.starts_with(pointer))
            };
            let is_named = answer.status == StatusCode::UNPROCESSABLE_ENTITY
                && answer.json()["errors"]
                    .as_array()
                    .is_some_and(|errors| errors.iter().any(names));
            if !is_named {
                taken.push(format!(
                    "{method} {path} {text}: {} {:.200}",
                    answer.status,
                    answer.text()
                ));
            }
            assert!(
                answer.bytes.len() < 5_000,
                "{path} {text}: {} bytes of answer",
                answer.bytes.len()
            );
        }
        // It was the long text that was wrong.
        let version = script.get(path).await.header("etag").to_owned();
        let headers = [("if-match", version.as_str())];
        let answer = script
            .send(method.clone(), path, &headers, Some(body))
            .await;
        assert!(
            answer.status.is_success(),
            "{method} {path}: {}",
            answer.text()
        );
    }
    assert!(taken.is_empty(), "{}", taken.join("\n"));
}
