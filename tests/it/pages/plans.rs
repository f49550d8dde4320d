//! Plans through the pages: proposed, looked at, booked whole or not at all.

use axum::http::StatusCode;
use scrapwright::store::opening::{self, ClosedDays, WeeklyHours};
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
    assert!(why.contains("“glue up” of “Board”"), "{why}");
    assert!(
        why.contains("clamps that reach") && !why.contains("mm or more"),
        "in the reader's inches: {why}"
    );
    assert!(why.contains("What would help:"), "{why}");

    let short = TestApp::new().await;
    opened(&short, 20).await;
    let browser = short.member("Ada").await;
    let project = board(&browser, "Board").await;
    let by = By {
        member: None,
        at: short.app.clock.now(),
    };
    let closed = ClosedDays {
        from_day: "2027-03-04".parse().unwrap(),
        to_day: "2028-12-31".parse().unwrap(),
        reason: "floor".to_owned(),
    };
    let mut db = short.app.store.begin().await.unwrap();
    opening::create_closure(&mut db, by, &closed).await.unwrap();
    db.commit().await.unwrap();
    let refused = browser.post(&format!("{project}/plan"), &[]).await;
    let why = refused.one("[role=alert]");
    assert_eq!(
        why,
        "There is no way to plan this. The steps “cure” of “Board” and “hand over” of “Board” cannot all keep their \
         gaps, calendars and given starts between Mon 1 Mar, 08:01 and Sun 29 Aug, 00:00."
    );

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

/// The page of the step with this name, from the project's plan.
async fn step_page(browser: &Browser<'_>, project: &str, name: &str) -> String {
    let page = browser.get(&format!("{project}/plan")).await;
    let html = scraper::Html::parse_document(page.text());
    let selector = scraper::Selector::parse(".day .what a").unwrap();
    html.select(&selector)
        .find(|link| link.text().collect::<String>() == name)
        .and_then(|link| link.value().attr("href"))
        .unwrap_or_else(|| panic!("no step {name}"))
        .to_owned()
}

fn version(page: &crate::app::Answer) -> String {
    page.attribute("input[name=version]", "value").unwrap()
}

#[tokio::test]
async fn a_booked_step_moves_only_to_possible_times_and_is_begun_and_done() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board").await;
    booked(&browser, &project).await;
    let path = step_page(&browser, &project, "Hand over").await;
    let page = browser.get(&path).await;
    assert_eq!(page.one("h1"), "Hand over");
    let times = page.all("select[name=from] option");
    assert!(times.len() > 10);
    let later = page
        .attribute("select[name=from] optgroup:last-child option", "value")
        .unwrap();
    let made_from = version(&page);
    // In the middle of the night.
    let night = [
        ("version", made_from.as_str()),
        ("from", "2027-03-20T02:00:00Z"),
    ];
    let refused = browser.post(&format!("{path}/move"), &night).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.one("#e-from").contains("not possible"));
    let right = [("version", made_from.as_str()), ("from", later.as_str())];
    let moved = browser
        .post_and_follow(&format!("{path}/move"), &right)
        .await;
    assert!(moved.one(".flash").starts_with("Done: “Hand over” is on "));
    let stale = browser.post(&format!("{path}/move"), &right).await;
    assert_eq!(stale.status, StatusCode::PRECONDITION_FAILED);

    let path = step_page(&browser, &project, "Mill and rip").await;
    let page = browser.get(&path).await;
    let begun = [("version", version(&page))];
    let begun = [("version", begun[0].1.as_str())];
    let page = browser
        .post_and_follow(&format!("{path}/begin"), &begun)
        .await;
    assert_eq!(page.one("p.kind .mark"), "under way");
    let done = [("version", version(&page))];
    let done = [("version", done[0].1.as_str())];
    let page = browser
        .post_and_follow(&format!("{path}/done"), &done)
        .await;
    assert!(page.one(".flash").contains("“Mill and rip” is done"));
    assert!(page.one(".day li.done").contains("Mill and rip"));

    let other = app.browser_of(app.add("Bo", Role::Member).await).await;
    let path = step_page(&other, &project, "Glue up").await;
    let looked = other.get(&path).await;
    assert!(looked.all("main form").is_empty(), "it is not theirs");
    let refused = other
        .post(&format!("{path}/begin"), &[("version", "1")])
        .await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn a_steward_pins_a_booking_and_no_plan_moves_it() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let steward = app.steward().await;
    let project = board(&steward, "Board").await;
    booked(&steward, &project).await;
    let path = step_page(&steward, &project, "Hand over").await;
    let page = steward.get(&path).await;
    let pin = [("version", version(&page)), ("pinned", "yes".to_owned())];
    let pin = [("version", pin[0].1.as_str()), ("pinned", "yes")];
    let page = steward.post_and_follow(&format!("{path}/pin"), &pin).await;
    assert!(page.one(".flash").contains("no plan moves it"));
    assert_eq!(page.all("p.kind .mark"), ["booked", "pinned"]);
}

#[tokio::test]
async fn the_week_shows_openings_with_who_is_in_and_which_clamps_are_free() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let browser = app.member("Ada").await;
    let empty = browser.get("/glue-ups").await;
    assert!(empty.one("main .note").contains("Nothing is booked"));
    assert_eq!(
        empty.one(".lead"),
        "Monday 1 March 2027 to Sunday 7 March 2027"
    );
    let project = board(&browser, "Board").await;
    booked(&browser, &project).await;
    let week = browser.get("/glue-ups").await;
    assert_eq!(week.all(".week > section").len(), 7);
    let monday = &week.all(".week > section")[0];
    assert!(monday.contains("09:00–21:00 machines"), "{monday}");
    assert!(monday.contains("In: Ada"), "{monday}");
    assert!(monday.contains("Glue up"), "{monday}");
    assert!(
        monday.contains("20 until "),
        "clamps are free until the glue-up: {monday}"
    );
    assert_eq!(week.all("figure svg[role=img]").len(), 1);
    let next = browser.get("/glue-ups?week=2027-03-10").await;
    assert_eq!(
        next.one(".lead"),
        "Monday 8 March 2027 to Sunday 14 March 2027"
    );
    let wrong = browser.get("/glue-ups?week=soon").await;
    assert_eq!(wrong.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn today_tells_what_is_in_clamps_and_when_it_may_come_out() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let browser = app.member("Ada").await;
    let quiet = browser.get("/").await;
    assert!(quiet.text().contains("every clamp is on its rack"));
    let project = board(&browser, "Board").await;
    assert!(browser.get("/").await.text().contains("Match its wood"));
    booked(&browser, &project).await;
    // The clock goes on to the glue-up, and it is done.
    let path = step_page(&browser, &project, "Glue up").await;
    let page = browser.get(&path).await;
    app.app.clock.advance(6 * 3600);
    assert!(browser.get("/").await.text().contains("Was it done?"));
    let done = version(&page);
    browser
        .post_and_follow(&format!("{path}/done"), &[("version", &done)])
        .await;
    let today = browser.get("/").await;
    let panel = today.one(".panels > li:has(.mark)");
    assert!(
        panel.starts_with("Board Ada may come out today at 23:15"),
        "{panel}"
    );
    assert!(
        panel.contains("× long clamps"),
        "the clamps stay on: {panel}"
    );
    assert!(panel.contains("unclamping is booked Tue 2 Mar"), "{panel}");
    let wall = browser.get("/wall").await;
    assert!(
        wall.one("body.wall section:first-child")
            .contains("may come out today at 23:15")
    );
    app.app.clock.advance(14 * 3600);
    assert!(
        browser
            .get("/")
            .await
            .one(".panels > li:has(.mark)")
            .contains("may come out, since")
    );
}

#[tokio::test]
async fn due_dates_at_risk_and_claims_that_lapse_show_on_today() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let browser = app.member("Ada").await;
    let fields = [
        ("kind", "striped-board"),
        ("name", "Hurry"),
        ("due_day", "2027-03-05"),
    ];
    browser.post("/projects/new", &fields).await;
    let today = browser.get("/").await;
    let risk = today.one("li.minded");
    assert!(
        risk.starts_with("Hurry, due Fri 5 Mar, in 4 days"),
        "{risk}"
    );
    assert!(risk.contains("can hardly be met"), "{risk}");
    let other = app.browser_of(app.add("Bo", Role::Member).await).await;
    assert!(other.get("/").await.all("li.minded").is_empty());
    let steward = app.steward().await;
    assert!(steward.get("/").await.one("li.minded").contains("Ada"));
}

#[tokio::test]
async fn the_dates_page_tells_how_early_how_late_and_what_would_help() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let browser = app.member("Ada").await;
    let fields = [
        ("kind", "striped-board"),
        ("name", "Board"),
        ("due_day", "2027-03-20"),
    ];
    let answer = browser.post("/projects/new", &fields).await;
    let project = answer.location().trim_end_matches("/design").to_owned();
    let path = format!("{project}/plan/dates");
    let page = browser.get(&path).await;
    assert_eq!(page.one("h1"), "Dates of Board");
    let said = page.all("main > .note:not(.flash)");
    assert!(said[0].starts_with("Ready "), "{said:?}");
    assert!(
        said[1].starts_with("Start: To be ready by Saturday 20 March 2027"),
        "{said:?}"
    );
    let fewer = browser.get(&format!("{path}?coats=1")).await;
    let effect = fewer.one("[role=status]");
    assert!(
        effect.contains("sooner. With one coat left out"),
        "{effect}"
    );
    let clamps = browser.get(&format!("{path}?more=4&set=1")).await;
    assert!(clamps.one("[role=status]").starts_with("No difference."));
    let wrong = browser
        .get(&format!(
            "{path}?more=many&on=2027-02-01&opens=18:00&shuts=17:00"
        ))
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.one("#e-more").contains("must be a whole number"));
    assert!(wrong.one("#e-on").contains("has passed"));
    assert_eq!(wrong.attribute("#f-opens", "value").unwrap(), "18:00");
    let too_late = browser.get(&format!("{path}?by_day=2027-03-04")).await;
    assert!(too_late.one(".note.wrong").starts_with("Too late:"));
}

#[tokio::test]
async fn a_steward_plans_several_projects_together_and_books_all_or_nothing() {
    let app = TestApp::new().await;
    opened(&app, 5).await;
    let steward = app.steward().await;
    let ada = app.member("Ada").await;
    let one = board(&steward, "One").await;
    let two = board(&ada, "Two").await;
    booked(&ada, &two).await;
    let ids: Vec<String> = [&one, &two]
        .iter()
        .map(|project| project.trim_start_matches("/projects/").to_owned())
        .collect();
    let page = steward.get("/glue-ups/plan").await;
    assert_eq!(page.all("#f-project label.choice").len(), 2);
    let none = steward.post("/glue-ups/plan", &[("seconds", "5")]).await;
    assert_eq!(none.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        none.one("#e-project").contains("must be")
            || none.one("#e-project").contains("choose at least one")
    );
    let both = [
        ("project", ids[0].as_str()),
        ("project", ids[1].as_str()),
        ("seconds", "5"),
    ];
    let proposed = steward.post_and_follow("/glue-ups/plan", &both).await;
    assert_eq!(proposed.all("td[data-label=Moves]").len(), 2);
    assert!(
        proposed
            .all("tbody tr")
            .iter()
            .any(|row| row.contains("not booked"))
    );
    assert_eq!(proposed.all("figure svg[role=img]").len(), 1);
    let accept = proposed
        .attribute("form[action$=accept]", "action")
        .unwrap();
    // Meanwhile Ada gives her bookings up, so the plan rests on what is no more.
    ada.post_and_follow(&format!("{two}/plan/cancel"), &[])
        .await;
    let refused = steward.post(&accept, &[]).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(refused.one("[role=alert]").contains("nothing was booked"));
    assert!(
        steward
            .get(&format!("{one}/plan"))
            .await
            .all(".day > li")
            .is_empty()
    );
    let again = steward.post_and_follow("/glue-ups/plan", &both).await;
    let accept = again.attribute("form[action$=accept]", "action").unwrap();
    let done = steward.post_and_follow(&accept, &[]).await;
    assert!(
        done.one(".flash")
            .contains("The steps of 2 projects are booked.")
    );
    assert!(
        !steward
            .get(&format!("{one}/plan"))
            .await
            .all(".day > li")
            .is_empty()
    );
    assert_eq!(
        ada.get("/glue-ups/plan").await.status,
        StatusCode::FORBIDDEN
    );
}

#[tokio::test]
async fn a_steward_sees_what_would_change_the_dates_of_several() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let steward = app.steward().await;
    let ada = app.member("Ada").await;
    let one = board(&steward, "One").await;
    let two = board(&ada, "Two").await;
    let ids = [&one, &two].map(|project| project.trim_start_matches("/projects/"));
    let chosen = format!("project={}&project={}&seconds=5", ids[0], ids[1]);
    let ask = async |rest: &str| {
        let path = format!("/glue-ups/plan/what-if?{chosen}&{rest}");
        steward.get(&path).await
    };
    let choose = steward.get("/glue-ups/plan").await;
    assert_eq!(
        choose
            .attribute("button[formaction]", "formaction")
            .unwrap(),
        "/glue-ups/plan/what-if"
    );
    let coats = ask("coats=1").await;
    assert_eq!(coats.status, StatusCode::OK, "{}", coats.text());
    assert_eq!(
        coats.one("[role=status]"),
        "It helps. With one coat left out of each, 2 of 2 projects would be ready sooner."
    );
    assert_eq!(
        coats.all("tbody tr:first-child > *"),
        [
            "One",
            "no date",
            "Wed 10 Mar, 13:00",
            "Tue 9 Mar, 12:30",
            "1 day sooner"
        ]
    );
    let clamps = ask("more=4&set=1&coats=").await;
    assert_eq!(
        clamps.one("[role=status]"),
        "No difference. With 4 more long clamps, 0 of 2 projects would be ready sooner."
    );

    let wrong = ask("more=4&on=2027-02-01&opens=18:00&shuts=17:00").await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.one("#e-on").contains("has passed"));
    assert_eq!(wrong.attribute("#f-opens", "value").unwrap(), "18:00");
    assert_eq!(wrong.all("input[name=project][checked]").len(), 2);
    let half = ask("more=4").await;
    assert!(half.one("#e-set").contains("choose the set"));
    let half = ask("opens=18:00").await;
    assert!(half.one("#e-on").contains("must be the day of the opening"));
    let nothing = ask("more=").await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
    let none = steward
        .get("/glue-ups/plan/what-if?coats=1&seconds=5")
        .await;
    assert!(none.one("#e-project").contains("choose at least one"));
}

#[tokio::test]
async fn the_week_says_what_does_not_fit_together_any_more() {
    let app = TestApp::new().await;
    opened(&app, 20).await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board").await;
    booked(&browser, &project).await;
    let before = browser.get("/glue-ups").await;
    assert!(before.all("main .note.wrong").is_empty());
    let by = By {
        member: None,
        at: app.app.clock.now(),
    };
    let day = "2027-03-02".parse().unwrap();
    let closed = ClosedDays {
        from_day: day,
        to_day: day,
        reason: "floor".to_owned(),
    };
    let mut db = app.app.store.begin().await.unwrap();
    opening::create_closure(&mut db, by, &closed).await.unwrap();
    db.commit().await.unwrap();
    let after = browser.get("/glue-ups").await;
    let said = after.one("main .note.wrong");
    assert!(
        said.contains("“Unclamp and scrape” of “Board” (Ada) is booked for Tue 2 Mar"),
        "{said}"
    );
    assert!(said.contains("the workshop is not open then"), "{said}");
}
