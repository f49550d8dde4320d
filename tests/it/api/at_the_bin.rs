//! Bins, lines, claims of one piece, photos, drawings and labels.

use axum::body::Body;
use axum::http::{Method, Request, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::{Answer, Script, TestApp};
use crate::pages::project_wood::stocked;

async fn raw(
    app: &TestApp,
    script: &Script<'_>,
    method: Method,
    path: &str,
    media_type: &str,
    body: Vec<u8>,
) -> Answer {
    let request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", "workshop.test")
        .header("authorization", format!("Bearer {}", script.token))
        .header("content-type", media_type)
        .body(Body::from(body))
        .unwrap();
    app.send(request).await
}

#[tokio::test]
async fn a_bin_is_renamed_and_removed_only_where_nothing_ever_lay() {
    let app = TestApp::new().await;
    let full = stocked(&app, &[("hard maple", 40, 9, 1)]).await;
    let sten = app.add("Sten", Role::Steward).await;
    let script = app.script(sten, Scope::Steward).await;
    let made = script.post("/api/v1/bins", json!({"name": "Crate"})).await;
    let path = made.location();
    let renamed = script
        .send(
            Method::PUT,
            &path,
            &[("if-match", "\"v1\"")],
            Some(json!({"name": "Long crate", "place": "by the door"})),
        )
        .await;
    assert_eq!(renamed.json()["name"], "Long crate");
    let stale = script
        .send(Method::DELETE, &path, &[("if-match", "\"v1\"")], None)
        .await;
    assert_eq!(stale.status, StatusCode::PRECONDITION_FAILED);
    let gone = script
        .send(Method::DELETE, &path, &[("if-match", "\"v2\"")], None)
        .await;
    assert_eq!(gone.status, StatusCode::NO_CONTENT);
    let full = format!("/api/v1/bins/{full}");
    let kept = script
        .send(Method::DELETE, &full, &[("if-match", "\"v1\"")], None)
        .await;
    assert_eq!(kept.status, StatusCode::CONFLICT, "{}", kept.text());
    let empty = script.post("/api/v1/bins", json!({"name": " "})).await;
    assert_eq!(empty.json()["errors"][0]["pointer"], "/name");
}

#[tokio::test]
async fn lines_are_shown_back_before_they_are_added_and_added_all_or_none() {
    let app = TestApp::new().await;
    let bin = stocked(&app, &[]).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let lines =
        |dry_run: bool, lines: Value| json!({"lines": lines, "bin": bin.0, "dry_run": dry_run});
    let good = json!(["walnut 24 x 3 1/2 x 3/4 in x4", "hard maple 610x89x19 mm"]);
    let shown = script
        .post("/api/v1/offcuts/lines", lines(true, good.clone()))
        .await;
    assert_eq!(shown.status, StatusCode::OK, "{}", shown.text());
    assert_eq!(
        shown.json()["items"][0]["understood"],
        json!({"species": "black walnut", "length": 609.6, "width": 88.9, "thickness": 19.05, "count": 4})
    );
    assert_eq!(shown.json()["added"], json!([]));
    let bad = json!(["walnut 24 x 3 x 3/4 in", "unobtainium 1 x 1 x 1 in"]);
    let unclear = script
        .post("/api/v1/offcuts/lines", lines(false, bad))
        .await;
    assert_eq!(unclear.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(unclear.json()["errors"][0]["pointer"], "/lines/1");
    let empty = script.get("/api/v1/offcuts").await.json();
    assert_eq!(empty["items"], json!([]), "nothing was added");
    let added = script
        .post("/api/v1/offcuts/lines", lines(false, good))
        .await;
    assert_eq!(added.status, StatusCode::CREATED, "{}", added.text());
    let tag = added.json()["added"][1]["tag"].as_str().unwrap().to_owned();
    let found = script.get(&format!("/api/v1/offcuts/by-tag/{tag}")).await;
    assert_eq!(found.json()["species"], "hard maple");
    assert_eq!(found.json()["length"], 610.0);
}

#[tokio::test]
async fn one_piece_is_claimed_where_it_gives_a_strip() {
    let app = TestApp::new().await;
    stocked(&app, &[("hard maple", 40, 9, 1), ("black walnut", 8, 1, 1)]).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let design = json!({"kind": "striped-board", "length": "17 in", "width": "2 1/4 in", "thickness": "1 1/2 in",
        "surface": "edge grain", "strips": [{"species": "hard maple", "width": "3/4 in"}, {"species": "hard maple", "width": "3/4 in"}, {"species": "hard maple", "width": "3/4 in"}]});
    let project = script
        .post(
            "/api/v1/projects",
            json!({"name": "Small board", "design": design}),
        )
        .await
        .json()["id"]
        .clone();
    let pieces = script.get("/api/v1/offcuts").await.json();
    let of = |species: &str| {
        let items = pieces["items"].as_array().unwrap();
        items
            .iter()
            .find(|piece| piece["species"] == species)
            .unwrap()["id"]
            .clone()
    };
    let wish = json!({"project": project});
    let short = format!("/api/v1/offcuts/{}/claims", of("black walnut"));
    let none = script.post(&short, wish.clone()).await;
    assert_eq!(none.status, StatusCode::OK, "{}", none.text());
    assert_eq!(none.json()["strips"], 0);
    assert!(!none.json()["why"].as_str().unwrap().is_empty());
    let long = format!("/api/v1/offcuts/{}/claims", of("hard maple"));
    let claimed = script.post(&long, wish.clone()).await;
    assert_eq!(claimed.status, StatusCode::CREATED, "{}", claimed.text());
    assert_eq!(claimed.json()["strips"], 3);
    let other = app.add("Bo", Role::Member).await;
    let other = app.script(other, Scope::Write).await;
    assert_eq!(other.post(&long, wish).await.status, StatusCode::FORBIDDEN);
    let nobody = script.post(&long, json!({"project": 999})).await;
    assert_eq!(nobody.json()["errors"][0]["pointer"], "/project");
}

#[tokio::test]
async fn photos_drawings_and_labels_are_files() {
    let app = TestApp::new().await;
    stocked(&app, &[("hard maple", 40, 9, 1)]).await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let piece = script.get("/api/v1/offcuts").await.json()["items"][0].clone();
    let path = format!("/api/v1/offcuts/{}", piece["id"]);
    let photo = format!("{path}/photo");
    assert_eq!(script.get(&photo).await.status, StatusCode::NOT_FOUND);
    let mut png = Vec::new();
    image::RgbImage::from_pixel(40, 20, image::Rgb([120, 90, 60]))
        .write_to(&mut std::io::Cursor::new(&mut png), image::ImageFormat::Png)
        .unwrap();
    let kept = raw(&app, &script, Method::PUT, &photo, "image/png", png).await;
    assert_eq!(kept.status, StatusCode::NO_CONTENT, "{}", kept.text());
    let back = script.get(&photo).await;
    assert_eq!(back.header("content-type"), "image/jpeg");
    assert_eq!(back.bytes[..2], [0xff, 0xd8]);
    let wrong = raw(
        &app,
        &script,
        Method::PUT,
        &photo,
        "image/png",
        b"no image".to_vec(),
    )
    .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let gone = script.send(Method::DELETE, &photo, &[], None).await;
    assert_eq!(gone.status, StatusCode::NO_CONTENT);
    assert_eq!(script.get(&photo).await.status, StatusCode::NOT_FOUND);

    let drawing = script.get(&format!("{path}/drawing")).await;
    assert_eq!(drawing.header("content-type"), "image/svg+xml");
    assert!(drawing.text().starts_with("<svg"), "{}", drawing.text());

    let tag = piece["tag"].as_str().unwrap();
    for sheet in ["", "single", "3", "signs+A4"] {
        let labels = script
            .get(&format!("/api/v1/labels?tags={tag}&sheet={sheet}"))
            .await;
        assert_eq!(labels.header("content-type"), "application/pdf", "{sheet}");
        assert!(labels.bytes.starts_with(b"%PDF-"), "{sheet}");
    }
    let wrong = script.get("/api/v1/labels?tags=ZZZ&sheet=99&skip=x").await;
    let pointers: Vec<Value> = wrong.json()["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|error| error["pointer"].clone())
        .collect();
    assert_eq!(pointers, ["/tags", "/skip", "/sheet"]);
}

#[tokio::test]
async fn tables_go_out_and_come_in_whole_or_not_at_all() {
    let app = TestApp::new().await;
    stocked(&app, &[("hard maple", 40, 9, 2)]).await;
    let sten = app.add("Sten", Role::Steward).await;
    let script = app.script(sten, Scope::Steward).await;
    let out = script.get("/api/v1/tables/offcuts").await;
    assert!(out.header("content-type").starts_with("text/csv"));
    let mut lines = out.text().lines();
    let heading = lines.next().unwrap().to_owned();
    let row = lines.next().unwrap().to_owned();
    let tag = row.split(',').next().unwrap().to_owned();
    let other = row.replacen(&tag, "", 1);
    let send = async |path: &str, text: String| {
        raw(
            &app,
            &script,
            Method::POST,
            path,
            "text/csv; charset=utf-8",
            text.into_bytes(),
        )
        .await
    };
    let file = format!("{heading}\r\n{other}\r\n{other}\r\n");
    let tried = send("/api/v1/tables/offcuts?dry_run=true", file.clone()).await;
    assert_eq!(tried.status, StatusCode::OK, "{}", tried.text());
    assert_eq!(tried.json()["rows"], 2);
    assert_eq!(tried.json()["preview"][0]["line"], 2);
    let count = async || {
        script.get("/api/v1/offcuts").await.json()["items"]
            .as_array()
            .unwrap()
            .len()
    };
    assert_eq!(count().await, 1, "a try stores nothing");
    let stored = send("/api/v1/tables/offcuts", file).await;
    assert_eq!(stored.status, StatusCode::CREATED, "{}", stored.text());
    assert_eq!(count().await, 3);
    let flawed = other.replacen("hard maple", "cheese", 1);
    let wrong = send(
        "/api/v1/tables/offcuts",
        format!("{heading}\r\n{other}\r\n{flawed}\r\n"),
    )
    .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        wrong.json()["errors"][0]["pointer"],
        "/3/species",
        "{}",
        wrong.text()
    );
    assert_eq!(count().await, 3, "all or nothing");
    let bare = script.post("/api/v1/tables/offcuts", json!({})).await;
    assert_eq!(bare.status, StatusCode::UNSUPPORTED_MEDIA_TYPE);
    assert_eq!(
        script.get("/api/v1/tables/chairs").await.status,
        StatusCode::NOT_FOUND
    );
}
