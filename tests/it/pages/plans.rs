//! Plans through the pages: proposed, looked at, booked whole or not at all.

use axum::http::StatusCode;
use scrapwright::store::opening::{self, WeeklyHours};
use scrapwright::store::resource::{self, NewResource, ResourceKind};
use scrapwright::store::{By, ResourceId, Role};
use scrapwright::units::Length;

use super::project_wood::board;
use crate::app::{Browser, TestApp};

/// Open every day from 9 to 21 with machines, one glue bench, and as many long clamps as said.
pub async fn opened(app: &TestApp, clamps: u32) -> ResourceId {
    let by = By {
        member: Some(app.add("Hanna", Role::Steward).await),
        at: app.app.clock.now(),
    };
    let mut db = app.app.store.begin().await.unwrap();
    let new = |kind, name: &str, capacity, reach| NewResource {
        kind,
        name: name.to_owned(),
        capacity,
        reach,
        rated_force_n: None,
        pass_width: None,
    };
    let reach = Some(Length::from_inches(36, 1));
    let long = new(ResourceKind::ClampSet, "long clamps", clamps, reach);
    let long = resource::create(&mut db, by, &long).await.unwrap();
    let bench = new(ResourceKind::GlueBench, "glue bench", 1, None);
    resource::create(&mut db, by, &bench).await.unwrap();
    for weekday in 1..=7 {
        let hours = WeeklyHours {
            weekday,
            from_minute: 540,
            to_minute: 1260,
            machines: true,
            from_day: "2027-01-01".parse().unwrap(),
            to_day: None,
        };
        opening::create_weekly(&mut db, by, &hours).await.unwrap();
    }
    db.commit().await.unwrap();
    long
}

/// Proposes a plan of the project, and gives the page and the proposal's id.
async fn proposed(browser: &Browser<'_>, project: &str) -> (crate::app::Answer, String) {
    let page = browser
        .post_and_follow(&format!("{project}/plan"), &[])
        .await;
    assert_eq!(page.status, StatusCode::OK, "{}", page.text());
    let id = page
        .attribute("input[name=proposal]", "value")
        .expect("a proposal to accept");
    (page, id)
}

/// Plans the project and books it.
pub async fn booked(browser: &Browser<'_>, project: &str) -> crate::app::Answer {
    let (_, id) = proposed(browser, project).await;
    browser
        .post_and_follow(&format!("{project}/plan/accept"), &[("proposal", &id)])
        .await
}

#[tokio::test]
async fn a_plan_is_shown_by_day_and_drawn_and_booked_only_when_accepted() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board").await;
    let before = browser.get(&format!("{project}/plan")).await;
    assert_eq!(
        before.one("main form[action$=plan] button"),
        "Propose a plan"
    );

    let (page, id) = proposed(&browser, &project).await;
    assert_eq!(page.one("h1"), "Plan of Board");
    assert!(page.one(".lead").contains("nothing is booked"));
    assert!(page.one(".note.good").starts_with("Ready "));
    let steps = page.all(".day .what strong");
    assert_eq!(steps[0], "Mill and rip");
    assert!(steps.iter().any(|step| step == "Glue up"), "{steps:?}");
    let glue = page
        .all(".day > li")
        .into_iter()
        .find(|line| line.contains("Glue up"))
        .unwrap();
    assert!(
        glue.contains("× long clamps") && glue.contains("in clamps until"),
        "{glue}"
    );
    assert_eq!(page.all("figure svg[role=img] > title"), ["Plan of Board"]);
    let still = browser.get(&format!("{project}/plan")).await;
    assert!(still.all(".day > li").is_empty(), "nothing is booked yet");

    let accept = format!("{project}/plan/accept");
    let done = browser.post_and_follow(&accept, &[("proposal", &id)]).await;
    assert!(done.one(".flash").contains("The steps are booked"));
    assert_eq!(done.all(".day .what a").len(), steps.len());
    assert_eq!(
        browser.post(&accept, &[("proposal", &id)]).await.status,
        StatusCode::SEE_OTHER,
        "pressed twice, it is booked once"
    );

    let why = done.attribute(".day .ask", "href").unwrap();
    let asked = browser.get(why.split('#').next().unwrap()).await;
    assert!(
        asked
            .one("#why")
            .starts_with("Why “Mill and rip” is not earlier:")
    );

    let cancelled = browser
        .post_and_follow(&format!("{project}/plan/cancel"), &[])
        .await;
    assert!(cancelled.one(".flash").contains("cancelled"));
    assert!(cancelled.all(".day > li").is_empty());
}

#[tokio::test]
async fn whoever_accepts_later_hears_of_it_and_is_offered_a_new_plan() {
    let app = TestApp::new().await;
    opened(&app, 4).await;
    let ada = app.member("Ada").await;
    let bo = app.browser_of(app.add("Bo", Role::Member).await).await;
    let quick = board(&ada, "Quick").await;
    let slow = board(&bo, "Slow").await;
    let (_, second) = proposed(&bo, &slow).await;
    booked(&ada, &quick).await;
    let refused = bo
        .post(&format!("{slow}/plan/accept"), &[("proposal", &second)])
        .await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(
        refused
            .one("[role=alert]")
            .starts_with("Somebody booked in between, so nothing was booked.")
    );
    assert!(refused.all(".day > li").is_empty());
    let (page, _) = proposed(&bo, &slow).await;
    assert!(!page.all(".day > li").is_empty());
}

#[tokio::test]
async fn a_due_date_that_cannot_be_met_gets_the_earliest_day_that_can() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let browser = app.member("Ada").await;
    let fields = [
        ("kind", "striped-board"),
        ("name", "Hurry"),
        ("due_day", "2027-03-03"),
    ];
    let answer = browser.post("/projects/new", &fields).await;
    let project = answer.location().trim_end_matches("/design").to_owned();
    let (page, _) = proposed(&browser, &project).await;
    let verdict = page.one(".note.wrong");
    assert!(
        verdict.contains("Wednesday 3 March 2027, cannot be met"),
        "{verdict}"
    );
    assert!(
        verdict.contains("This is the earliest day there is"),
        "{verdict}"
    );
}

#[tokio::test]
async fn what_cannot_be_planned_at_all_says_why() {
    let app = TestApp::new().await;
    opened(&app, 1).await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board").await;
    let refused = browser.post(&format!("{project}/plan"), &[]).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    let why = refused.one("[role=alert]");
    assert!(why.starts_with("There is no way to plan this."), "{why}");
    assert!(why.contains("of which there are 1"), "{why}");

    let closed = TestApp::new().await;
    let browser = closed.member("Ada").await;
    let project = board(&browser, "Board").await;
    let page = browser.get(&format!("{project}/plan")).await;
    assert!(page.one(".empty").contains("no openings yet"));
}

#[tokio::test]
async fn only_the_owner_or_a_steward_plans_a_project() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let ada = app.member("Ada").await;
    let project = board(&ada, "Board").await;
    let bo = app.browser_of(app.add("Bo", Role::Member).await).await;
    let page = bo.get(&format!("{project}/plan")).await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.all("main form").is_empty());
    let refused = bo.post(&format!("{project}/plan"), &[]).await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
}
