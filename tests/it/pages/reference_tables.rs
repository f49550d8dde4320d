//! Glues, finishes, tables, cautions, words, defaults, and the calls for scripts.

use axum::http::StatusCode;
use scrapwright::reference::glossary;
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use serde_json::{Value, json};

use crate::app::TestApp;

#[tokio::test]
async fn every_page_of_the_reference_opens_and_is_led_to() {
    let app = TestApp::new().await;
    let ada = app.member("Ada").await;
    let index = ada.get("/reference").await;
    for (path, says) in [
        ("/reference/glues", "Crosslinked PVA"),
        ("/reference/finishes", "Tung oil"),
        ("/reference/abrasives", "P120"),
        ("/reference/lumber", "1x4"),
        ("/reference/machining", "table saw, full kerf"),
        ("/reference/cautions", "Drying oil"),
        ("/reference/defaults", "rip_kerf"),
        ("/reference/words", "squeeze-out"),
        ("/reference/calls", "/api/v1/offcuts/lines"),
    ] {
        assert!(index.text().contains(&format!("href=\"{path}\"")), "{path}");
        let page = ada.get(path).await;
        assert_eq!(page.status, StatusCode::OK, "{path}");
        let text = page.text().to_lowercase();
        assert!(text.contains(&says.to_lowercase()), "{path} lacks {says}");
    }
}

#[tokio::test]
async fn figures_carry_their_source_and_say_what_is_practice_or_memory() {
    let app = TestApp::new().await;
    let ada = app.member("Ada").await;
    let glue = "#crosslinked-pva dl div";
    let figures = ada.get("/reference/glues").await.all(glue);
    let starts = |what: &str| figures.iter().find(|line| line.starts_with(what)).cloned();
    assert!(starts("Water classD3").is_some(), "{figures:?}");
    assert!(starts("Clamp time").is_some(), "{figures:?}");
    let finishes = ada.get("/reference/finishes").await;
    let tung = finishes.all("#tung-oil dl div");
    assert!(
        tung.iter()
            .any(|line| line.starts_with("Water contact7 to 10 days")),
        "{tung:?}"
    );
    assert!(
        tung.iter()
            .any(|line| line.ends_with("common practice, no single source")),
        "{tung:?}"
    );
    let rags = finishes.all("#tung-oil .cautions li");
    assert!(rags.iter().any(|line| line.starts_with("Rags")), "{rags:?}");
    // Every figure has a source beside it.
    for (path, selector) in [
        ("/reference/glues", "dl.figures > div"),
        ("/reference/finishes", "dl.figures > div"),
        ("/reference/cautions", "ul.cautions > li"),
    ] {
        let page = ada.get(path).await;
        let rows = page.all(selector);
        let sources = page.all(&format!("{selector} .source"));
        assert!(!rows.is_empty());
        assert_eq!(rows.len(), sources.len(), "{path}");
        assert!(sources.iter().all(|source| !source.is_empty()), "{path}");
    }
}

#[tokio::test]
async fn every_default_of_a_match_is_stated_and_what_is_set_here_stands_beside_it() {
    let app = TestApp::new().await;
    let sten = app.add("Sten", Role::Steward).await;
    let browser = app.browser_of(sten).await;
    let script = app.script(sten, Scope::Steward).await;
    let set = script
        .send(
            axum::http::Method::PATCH,
            "/api/v1/workshop",
            &[("if-match", "\"v1\"")],
            Some(json!({"cutting": {"rip_kerf": "3/32 in"}, "practice": {"clamped_minutes": 600}})),
        )
        .await;
    assert_eq!(set.status, StatusCode::OK, "{}", set.text());
    let rows = browser.get("/reference/defaults").await.all("tbody tr");
    let row = |name: &str| rows.iter().find(|row| row.ends_with(name)).unwrap().clone();
    assert_eq!(row("rip_kerf"), "Kerf when ripping1/8 in3/32 inrip_kerf");
    for name in [
        "crosscut_kerf",
        "edge_trim",
        "end_trim",
        "min_rip_length",
        "keep_length",
        "keep_width",
        "keep_credit",
    ] {
        assert!(row(name).contains("as usual"), "{name}");
    }
    let defaults = script.get("/api/v1/reference/defaults").await.json();
    let item = |name: &str| {
        let items = defaults["items"].as_array().unwrap();
        items
            .iter()
            .find(|item| item["name"] == name)
            .unwrap()
            .clone()
    };
    assert_eq!(item("rip_kerf")["usual"], 3.175);
    assert_eq!(item("rip_kerf")["here"], 2.38125);
    assert_eq!(item("min_rip_length")["usual"], 304.8);
    assert_eq!(item("keep_credit")["usual"], 0.75);
    assert_eq!(item("keep_credit")["here"], Value::Null);
    assert_eq!(item("clamped_minutes")["usual"], 720);
    assert_eq!(item("clamped_minutes")["here"], 600);
}

#[tokio::test]
async fn scripts_read_the_same_reference() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Read).await;
    let list = async |what: &str| -> Vec<Value> {
        let answer = script.get(&format!("/api/v1/reference/{what}")).await;
        assert_eq!(answer.status, StatusCode::OK, "{what}");
        answer.json()["items"].as_array().unwrap().clone()
    };
    let glues = list("glues").await;
    let pva = glues
        .iter()
        .find(|glue| glue["name"] == "crosslinked PVA")
        .unwrap();
    let class = pva["figures"]
        .as_array()
        .unwrap()
        .iter()
        .find(|figure| figure["what"] == "water class")
        .unwrap();
    assert_eq!(
        (&class["text"], &class["provenance"]),
        (&json!("D3"), &json!("read"))
    );
    let sizes = list("lumber-sizes").await;
    let dressed = sizes
        .iter()
        .find(|size| {
            size["group"] == "softwood piece"
                && size["nominal"] == "1x4"
                && size["dimension"] == "width"
        })
        .unwrap();
    assert_eq!(dressed["size"], 88.9);
    for what in ["finishes", "gluing", "abrasives", "machining", "cautions"] {
        assert!(!list(what).await.is_empty(), "{what}");
    }
    assert_eq!(list("words").await.len(), glossary().len());
}

#[tokio::test]
async fn a_call_shows_its_fields_an_example_and_its_errors() {
    let app = TestApp::new().await;
    let ada = app.member("Ada").await;
    let list = ada.get("/reference/calls").await;
    let groups: Vec<String> = list
        .text()
        .split("href=\"/reference/calls/")
        .skip(1)
        .filter_map(|rest| rest.split(['"', '#']).next())
        .map(str::to_owned)
        .collect();
    assert!(groups.len() > 100, "every call is led to");
    let bins = ada.get("/reference/calls/bins").await;
    let call = "#POST--api-v1-offcuts-lines";
    assert!(
        bins.one(&format!("{call} h2"))
            .contains("/api/v1/offcuts/lines")
    );
    let body = bins.all(&format!("{call} tbody tr"));
    assert!(
        body.iter().any(|row| row.starts_with("lineslist of text")),
        "{body:?}"
    );
    assert!(bins.all(&format!("{call} pre"))[0].contains("walnut 24 x 3 1/2 x 3/4 x4"));
    let errors = bins.all(&format!("{call} > p.soft"));
    assert!(errors[0].contains("422"), "{errors:?}");
    let mut seen = std::collections::BTreeSet::new();
    for group in groups {
        if seen.insert(group.clone()) {
            let page = ada.get(&format!("/reference/calls/{group}")).await;
            assert!(
                !page.text().contains('`'),
                "{group}: names of code are set as code"
            );
            assert_eq!(page.status, StatusCode::OK, "{group}");
        }
    }
    let none = ada.get("/reference/calls/chairs").await;
    assert_eq!(none.status, StatusCode::NOT_FOUND);
}

#[test]
fn words_are_in_order_and_lead_only_to_words_that_are_there() {
    let terms: Vec<&str> = glossary().iter().map(|term| term.term.as_str()).collect();
    assert!(terms.is_sorted(), "{terms:?}");
    for term in glossary() {
        assert!(term.meaning.ends_with('.'), "{}", term.term);
        if let Some(see) = &term.see {
            assert!(
                terms.contains(&see.as_str()),
                "{} leads to {see}",
                term.term
            );
        }
    }
}

#[test]
fn every_link_to_a_word_leads_to_one() {
    let anchors: Vec<String> = glossary().iter().map(|term| term.anchor()).collect();
    let mut links = 0;
    let mut folders = vec![std::path::PathBuf::from("templates")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap();
            for rest in text.split("/reference/words#").skip(1) {
                let word = rest.split('"').next().unwrap();
                assert!(
                    anchors.iter().any(|anchor| anchor == word),
                    "{}: {word}",
                    path.display()
                );
                links += 1;
            }
        }
    }
    assert!(
        links >= 8,
        "{links} words are linked where they first appear"
    );
}
