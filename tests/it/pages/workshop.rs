//! Openings, clamps and stations, as stewards set them and members see them.

use axum::http::StatusCode;

use crate::app::TestApp;

#[tokio::test]
async fn a_steward_says_when_the_workshop_is_open_and_members_see_it() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let empty = steward.get("/workshop/openings").await;
    assert!(empty.one(".empty").contains("No weekly hours yet"));
    let made = steward
        .post_and_follow(
            "/workshop/openings/weekly",
            &[
                ("weekday", "2"),
                ("weekday", "4"),
                ("from", "6 pm"),
                ("to", "21:30"),
                ("machines", "yes"),
            ],
        )
        .await;
    assert_eq!(made.all("tbody th"), ["Tuesday", "Thursday"]);
    assert!(made.text().contains("18:00 to 21:30"));
    // Monday is 2027-03-01: one Tuesday and one Thursday in each of two weeks.
    assert_eq!(
        made.all(".days strong"),
        ["Tue 2 Mar", "Thu 4 Mar", "Tue 9 Mar", "Thu 11 Mar"]
    );
    let closed = steward
        .post_and_follow(
            "/workshop/openings/closures",
            &[
                ("first_day", "2027-03-04"),
                ("last_day", ""),
                ("reason", "floor is painted"),
            ],
        )
        .await;
    assert!(closed.text().contains("Thursday 4 March 2027"));
    let extra = steward
        .post_and_follow(
            "/workshop/openings/extra",
            &[
                ("day", "2027-03-06"),
                ("from", "10"),
                ("to", "24:00"),
                ("note", "long glue-up"),
            ],
        )
        .await;
    let days = extra.all(".days li");
    assert_eq!(days.len(), 5, "{days:?}");
    assert!(days[1].contains("closed"), "{days:?}");
    assert!(
        days[2].contains("10:00 to 24:00 without machines long glue-up"),
        "{days:?}"
    );
    let member = app.member("Ada").await;
    let seen = member.get("/workshop").await;
    assert!(
        seen.text()
            .contains("Opens on Tuesday 2 March 2027 at 18:00.")
    );
    assert!(
        member
            .get("/workshop/openings")
            .await
            .all("a[href*='/new']")
            .is_empty()
    );
}

#[tokio::test]
async fn wrong_hours_come_back_as_they_were_typed() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let wrong = steward
        .post(
            "/workshop/openings/weekly",
            &[("from", "noon"), ("to", "25"), ("first_day", "1 March")],
        )
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["weekday", "from", "to", "first_day"] {
        assert_eq!(wrong.all(&format!("#e-{field}")).len(), 1, "{field}");
    }
    assert_eq!(wrong.attribute("#f-from", "value").as_deref(), Some("noon"));
    let backwards = steward
        .post(
            "/workshop/openings/extra",
            &[("day", "2027-03-06"), ("from", "18:00"), ("to", "17:00")],
        )
        .await;
    assert!(
        backwards
            .one("#e-to")
            .contains("is 17:00; must be later than 18:00, when it opens")
    );
    let closure = steward
        .post(
            "/workshop/openings/closures",
            &[("first_day", "2027-03-06"), ("last_day", "2027-03-05")],
        )
        .await;
    assert!(closure.one("#e-last_day").contains("must not be before"));
    let page = steward.get("/workshop/openings").await;
    assert!(page.all("tbody tr").is_empty());
    assert_eq!(
        steward.get("/workshop/openings/daily/new").await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn two_stewards_who_change_the_same_hours_see_each_others_work() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let first = [
        ("weekday", "2"),
        ("from", "18:00"),
        ("to", "21:00"),
        ("first_day", "2027-03-01"),
    ];
    steward.post("/workshop/openings/weekly", &first).await;
    let path = "/workshop/openings/weekly/1";
    let change = |to: &'static str, version: &'static str| {
        [
            ("weekday", "2"),
            ("from", "18:00"),
            ("to", to),
            ("first_day", "2027-03-01"),
            ("version", version),
        ]
    };
    let theirs = steward.post(path, &change("22:00", "1")).await;
    assert_eq!(theirs.status, StatusCode::SEE_OTHER);
    let mine = steward.post(path, &change("20:00", "1")).await;
    assert_eq!(mine.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        mine.all("[role=alert] tbody tr"),
        ["Shuts at22:0020:00"],
        "{}",
        mine.text()
    );
    assert_eq!(mine.attribute("#f-to", "value").as_deref(), Some("20:00"));
    let version = mine.attribute("input[name=version]", "value").unwrap();
    assert_eq!(version, "2");
    let again = steward.post(path, &change("20:00", "2")).await;
    assert_eq!(again.status, StatusCode::SEE_OTHER);
    let removed = steward
        .post(&format!("{path}/remove"), &[("version", "3")])
        .await;
    assert_eq!(removed.status, StatusCode::SEE_OTHER);
    let late = steward.post(path, &change("23:00", "3")).await;
    assert_eq!(late.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(late.one("[role=alert]").contains("Somebody removed this"));
    assert_eq!(
        late.attribute("main form", "action").as_deref(),
        Some("/workshop/openings/weekly")
    );
}

#[tokio::test]
async fn clamps_and_stations_are_kept_with_what_matters_for_planning() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let page = steward
        .post_and_follow(
            "/workshop/clamps",
            &[
                ("name", "Long bars"),
                ("capacity", "8"),
                ("reach", "24 1/2"),
                ("force", "1000 lbf"),
            ],
        )
        .await;
    // 1 lbf is 4.4482216152605 N exactly (NIST SP 811, appendix B.8).
    assert!(page.text().contains("4448 N (1000 lbf)"), "{}", page.text());
    assert!(page.text().contains("24 1/2 in"));
    let taken = steward
        .post(
            "/workshop/clamps",
            &[
                ("name", "long BARS"),
                ("capacity", "1"),
                ("reach", "600 mm"),
            ],
        )
        .await;
    assert_eq!(taken.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(taken.one("#e-name").contains("is taken"));
    let wrong = steward
        .post(
            "/workshop/clamps?what=station",
            &[
                ("kind", "glue bench"),
                ("name", ""),
                ("capacity", "-1"),
                ("pass_width", "13 in"),
            ],
        )
        .await;
    for field in ["name", "capacity", "pass_width"] {
        assert_eq!(wrong.all(&format!("#e-{field}")).len(), 1, "{field}");
    }
    let station = steward
        .post_and_follow(
            "/workshop/clamps?what=station",
            &[
                ("kind", "planer"),
                ("name", "Thicknesser"),
                ("capacity", "0"),
                ("pass_width", "330 mm"),
            ],
        )
        .await;
    assert!(station.text().contains("out of order"));
    assert!(station.one(".note:not(.flash)").contains("glue bench"));
    let shown = steward.get("/workshop/clamps/1").await;
    assert_eq!(
        shown.attribute("#f-reach", "value").as_deref(),
        Some("24 1/2 in")
    );
    let changed = |version: &'static str| {
        [
            ("name", "Long bars"),
            ("capacity", "7"),
            ("reach", "24 1/2"),
            ("force", ""),
            ("version", version),
        ]
    };
    let first = steward.post("/workshop/clamps/1", &changed("1")).await;
    assert_eq!(first.status, StatusCode::SEE_OTHER);
    let second = steward
        .post(
            "/workshop/clamps/1",
            &[
                ("name", "Long bars"),
                ("capacity", "6"),
                ("reach", "24 1/2"),
                ("force", ""),
                ("version", "1"),
            ],
        )
        .await;
    assert_eq!(second.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(second.all("[role=alert] tbody th"), ["How many"]);
}
