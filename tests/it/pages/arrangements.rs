//! Arrangements that the bins can give: shown, and taken as the project's design.

use axum::http::StatusCode;
use scrapwright::store::bin::{self, NewBin};
use scrapwright::store::offcut::{GrowthRings, NewOffcut};
use scrapwright::store::{By, Role};
use scrapwright::units::Length;

use crate::app::{Browser, TestApp};

/// Boards of 7/8 in with straight edges, 18 by 7 in: 4 strips on edge each.
async fn fill_bins(app: &TestApp, pieces: &[(&str, u32)]) {
    let member = app.add("Keeper", Role::Steward).await;
    let by = By {
        member: Some(member),
        at: app.app.clock.now(),
    };
    let mut db = app.app.store.begin().await.unwrap();
    let shelf = NewBin {
        name: "B1".to_owned(),
        place: "by the door".to_owned(),
    };
    let bin = bin::create(&mut db, by, &shelf).await.unwrap();
    for (species, count) in pieces {
        let piece = NewOffcut {
            species: (*species).to_owned(),
            length: Length::from_inches(18, 1),
            width: Length::from_inches(7, 1),
            thickness: Length::from_inches(7, 8),
            count: *count,
            unusable: Vec::new(),
            square_ends: true,
            straight_edges: true,
            growth_rings: GrowthRings::Unknown,
            moisture_milli: None,
            bin,
            note: String::new(),
        };
        scrapwright::app::offcut::add(&mut db, by, &piece, None)
            .await
            .unwrap();
    }
    db.commit().await.unwrap();
}

async fn started(browser: &Browser<'_>, kind: &str) -> String {
    let fields = [("kind", kind), ("name", "Board for Ines"), ("due_day", "")];
    let answer = browser.post("/projects/new", &fields).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
    answer.location().trim_end_matches("/design").to_owned()
}

#[tokio::test]
async fn what_the_bins_can_give_is_proposed_and_taken() {
    let app = TestApp::new().await;
    // Red oak is not proposed for a cutting face.
    fill_bins(
        &app,
        &[("hard maple", 3), ("black walnut", 2), ("red oak", 9)],
    )
    .await;
    let browser = app.member("Ada").await;
    let project = started(&browser, "striped-board").await;
    let page = browser.get(&format!("{project}/arrangements")).await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(page.one("h1"), "From what is there");
    let titles = page.all("ul.cards h2");
    assert!(titles.len() >= 3, "{titles:?}");
    let found = page.all("ul.cards .mark");
    assert!(
        found.iter().all(|found| found.starts_with("All ")),
        "{found:?}"
    );
    assert!(
        titles.contains(&"Free widths, as the scraps are".to_owned()),
        "{titles:?}"
    );
    assert!(!page.text().contains("red oak"));

    let arrangement = page
        .attribute("ul.cards input[name=arrangement]", "value")
        .unwrap();
    let version = page
        .attribute("ul.cards input[name=version]", "value")
        .unwrap();
    let fields = [
        ("version", version.as_str()),
        ("arrangement", arrangement.as_str()),
    ];
    let taken = browser
        .post(&format!("{project}/arrangements"), &fields)
        .await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER, "{}", taken.text());
    // The form that was open is stale now, and somebody else may not take anything.
    let again = browser
        .post(&format!("{project}/arrangements"), &fields)
        .await;
    assert_eq!(again.status, StatusCode::PRECONDITION_FAILED);
    let other = app.member("Ben").await;
    let refused = other
        .post(&format!("{project}/arrangements"), &fields)
        .await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn empty_bins_and_kinds_without_strips_say_what_to_do() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let board = started(&browser, "end-grain-board").await;
    let page = browser.get(&format!("{board}/arrangements")).await;
    assert!(
        page.all(".empty p")[0].contains("too few pieces"),
        "{}",
        page.text()
    );
    let tray = started(&browser, "round-tray").await;
    let page = browser.get(&format!("{tray}/arrangements")).await;
    assert_eq!(
        page.all(".empty p")[0],
        "This kind has no arrangement of strips."
    );
    let nonsense = [("version", "1"), ("arrangement", "[{\"species\": 3}]")];
    let refused = browser
        .post(&format!("{board}/arrangements"), &nonsense)
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
}
