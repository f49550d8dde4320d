//! Calendar feeds, read by a parser that shares no code with the writer.

use std::collections::BTreeMap;

use axum::http::StatusCode;
use icalendar::parser::{read_calendar, unfold};

use super::plans::{booked, opened};
use super::project_wood::board;
use crate::app::{Browser, TestApp};

/// Every event of a feed: its properties by name.
fn events(feed: &str) -> Vec<BTreeMap<String, String>> {
    let unfolded = unfold(feed);
    let parsed = read_calendar(&unfolded).expect("a sound calendar");
    let event = |component: &icalendar::parser::Component<'_>| {
        component
            .properties
            .iter()
            .map(|property| (property.name.to_string(), property.val.to_string()))
            .collect()
    };
    parsed.components.iter().map(event).collect()
}

/// Makes a link and gives its path.
async fn link(browser: &Browser<'_>) -> String {
    let page = browser.post("/me/calendar", &[]).await;
    assert_eq!(page.status, StatusCode::OK);
    let own = page.all("pre code").remove(0);
    let at = own.find("/calendar/").expect("an address");
    own[at..].to_owned()
}

#[tokio::test]
async fn a_feed_tells_bookings_and_their_cancellation_under_the_same_ids() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let browser = app.member("Ada").await;
    let fields = [
        ("kind", "striped-board"),
        ("name", "Board; with, commas"),
        ("due_day", "2027-03-20"),
    ];
    let answer = browser.post("/projects/new", &fields).await;
    let project = answer.location().trim_end_matches("/design").to_owned();
    booked(&browser, &project).await;
    let path = link(&browser).await;
    assert!(path.ends_with(".ics"));
    let guest = app.guest();
    let feed = guest.get(&path).await;
    assert_eq!(feed.status, StatusCode::OK);
    assert_eq!(feed.header("content-type"), "text/calendar; charset=utf-8");
    assert!(feed.text().ends_with("END:VCALENDAR\r\n"));
    let told = events(feed.text());
    let glue = told
        .iter()
        .find(|event| event["SUMMARY"].starts_with("Glue up"))
        .unwrap();
    assert!(glue["UID"].starts_with("booking-"));
    assert_eq!(glue["STATUS"], "CONFIRMED");
    let due = told
        .iter()
        .find(|event| event["UID"].starts_with("due-"))
        .unwrap();
    assert_eq!(due["DTSTART"], "20270320");
    assert!(
        told.iter()
            .all(|event| !event["SUMMARY"].starts_with("Cure"))
    );

    browser
        .post_and_follow(&format!("{project}/plan/cancel"), &[])
        .await;
    let gone = events(guest.get(&path).await.text());
    let same = gone
        .iter()
        .find(|event| event["UID"] == glue["UID"])
        .unwrap();
    assert_eq!(same["STATUS"], "CANCELLED");
    let sequence = |event: &BTreeMap<String, String>| event["SEQUENCE"].parse::<i64>().unwrap();
    assert!(sequence(same) > sequence(glue));

    // Booked anew and cancelled anew: no id is given twice.
    booked(&browser, &project).await;
    let anew = events(guest.get(&path).await.text());
    let mut ids: Vec<&String> = anew.iter().map(|event| &event["UID"]).collect();
    ids.sort_unstable();
    let count = ids.len();
    ids.dedup();
    assert_eq!(ids.len(), count);
    browser
        .post_and_follow(&format!("{project}/plan/cancel"), &[])
        .await;
}

#[tokio::test]
async fn the_workshops_feed_has_everybody_and_the_openings() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let ada = app.member("Ada").await;
    let project = board(&ada, "Board").await;
    booked(&ada, &project).await;
    let bo = app
        .browser_of(app.add("Bo", scrapwright::store::Role::Member).await)
        .await;
    let path = link(&bo).await;
    assert!(
        !app.guest().get(&path).await.text().contains("VEVENT"),
        "Bo has booked nothing"
    );
    let everybody = path.replace(".ics", "/workshop");
    let told = events(app.guest().get(&everybody).await.text());
    assert!(
        told.iter()
            .any(|event| event["SUMMARY"] == "Glue up: Board (Ada)")
    );
    let open = told
        .iter()
        .filter(|event| event["SUMMARY"] == "Open, with machines");
    assert_eq!(open.count(), 61);
}

#[tokio::test]
async fn a_changed_or_ended_link_opens_nothing() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let first = link(&browser).await;
    let second = link(&browser).await;
    assert_eq!(app.guest().get(&first).await.status, StatusCode::NOT_FOUND);
    assert_eq!(app.guest().get(&second).await.status, StatusCode::OK);
    assert!(
        browser
            .get("/me")
            .await
            .one("#calendar")
            .contains("Change the link")
    );
    browser.post_and_follow("/me/calendar/end", &[]).await;
    assert_eq!(app.guest().get(&second).await.status, StatusCode::NOT_FOUND);
}
