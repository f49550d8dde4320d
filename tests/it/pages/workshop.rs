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

#[tokio::test]
async fn boards_to_buy_are_listed_with_what_a_board_foot_costs() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let fields = [
        ("name", "Walnut 1 × 6, 6 ft"),
        ("species", "black walnut"),
        ("length", "72 in"),
        ("width", "6"),
        ("thickness", "1"),
        ("price", "$30"),
        ("straight_edges", "yes"),
    ];
    let listed = steward.post_and_follow("/workshop/lumber", &fields).await;
    // 72 × 6 × 1 in are 432 cubic inches, and a board foot is 144 (NHLA): three of them for $30.
    let row = listed.one("tbody tr");
    assert!(row.contains("$30.00"), "{row}");
    assert!(row.contains("$10.00"), "{row}");
    let wrong = steward
        .post(
            "/workshop/lumber",
            &[
                ("name", "walnut 1 × 6, 6 FT"),
                ("species", "walnutt"),
                ("length", "0"),
                ("width", "six"),
                ("thickness", "1"),
                ("price", "1,000"),
            ],
        )
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["species", "length", "width", "price"] {
        assert_eq!(wrong.all(&format!("#e-{field}")).len(), 1, "{field}");
    }
    let gone = steward
        .post("/workshop/lumber/1/remove", &[("version", "1")])
        .await;
    assert_eq!(gone.status, StatusCode::SEE_OTHER);
    let mut late = fields.to_vec();
    late.push(("version", "1"));
    let late = steward.post("/workshop/lumber/1", &late).await;
    assert!(late.one("[role=alert]").contains("Somebody removed this"));
}

/// The fields of a form as a browser would send them back unchanged.
fn sent_back(page: &crate::app::Answer) -> Vec<(String, String)> {
    let document = scraper::Html::parse_document(page.text());
    let all = scraper::Selector::parse("main form:first-of-type :is(input, select)").unwrap();
    let chosen = scraper::Selector::parse("option[selected]").unwrap();
    let first = scraper::Selector::parse("option").unwrap();
    let mut fields = Vec::new();
    for field in document.select(&all) {
        let name = field.value().attr("name").unwrap().to_owned();
        let value = if field.value().name() == "select" {
            let option = field.select(&chosen).next().or(field.select(&first).next());
            option.unwrap().value().attr("value").unwrap()
        } else if field.value().attr("type") == Some("checkbox")
            && field.value().attr("checked").is_none()
        {
            continue;
        } else {
            field.value().attr("value").unwrap()
        };
        fields.push((name, value.to_owned()));
    }
    fields
}

fn put(fields: &mut [(String, String)], name: &str, value: &str) {
    let field = fields.iter_mut().find(|(other, _)| other == name).unwrap();
    value.clone_into(&mut field.1);
}

fn borrowed(fields: &[(String, String)]) -> Vec<(&str, &str)> {
    fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect()
}

async fn settings(app: &TestApp) -> scrapwright::store::settings::Settings {
    scrapwright::store::workshop::get(app.app.store.read())
        .await
        .unwrap()
        .settings
}

#[tokio::test]
async fn a_settings_form_that_is_sent_back_as_it_came_changes_nothing() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let before = settings(&app).await;
    for path in ["", "/cutting", "/prices", "/practice", "/steps"] {
        let path = format!("/workshop/settings{path}");
        let form = steward.get(&path).await;
        let fields = sent_back(&form);
        let saved = steward.post(&path, &borrowed(&fields)).await;
        assert_eq!(
            saved.status,
            StatusCode::SEE_OTHER,
            "{path}: {}",
            saved.text()
        );
        assert_eq!(settings(&app).await, before, "{path}");
    }
}

#[tokio::test]
async fn settings_are_kept_part_by_part() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let change = async |path: &str, changes: &[(&str, &str)]| {
        let mut fields = sent_back(&steward.get(path).await);
        for (name, value) in changes {
            put(&mut fields, name, value);
        }
        steward.post(path, &borrowed(&fields)).await
    };
    let general = change(
        "/workshop/settings",
        &[
            ("name", "Our shed"),
            ("time_zone", "Europe/Paris"),
            ("claim_days", "21"),
        ],
    )
    .await;
    let air = change(
        "/workshop/settings/air",
        &[
            ("air-0-place", "workshop"),
            ("air-0-season", "winter"),
            ("air-0-temperature_c", "68 F"),
            ("air-0-relative_humidity_percent", "35"),
            ("air-1-place", "kitchen"),
            ("air-1-season", "summer"),
            ("air-1-temperature_c", "24"),
            ("air-1-relative_humidity_percent", "62 %"),
            ("air-1-read_on", "2026-07-14"),
        ],
    )
    .await;
    assert_eq!(air.status, StatusCode::SEE_OTHER, "{}", air.text());
    assert_eq!(general.status, StatusCode::SEE_OTHER, "{}", general.text());
    change(
        "/workshop/settings/cutting",
        &[("rip_kerf", "2.4 mm"), ("keep_credit", "50")],
    )
    .await;
    change(
        "/workshop/settings/prices",
        &[("price", "3.5"), ("price_of_glue", "14")],
    )
    .await;
    change(
        "/workshop/settings/practice",
        &[
            ("glue", "crosslinked PVA"),
            ("clamped_minutes", "10 h"),
            ("flattening", "2 mm"),
            ("grits", "P120, 80 150"),
        ],
    )
    .await;
    change("/workshop/settings/steps", &[("glue-up", "55")]).await;
    let kept = settings(&app).await;
    assert_eq!(kept.claim_days, 21);
    let now = kept.air_now().unwrap();
    assert_eq!(
        (now.temperature_c, now.relative_humidity_percent),
        (20.0, 35.0)
    );
    assert_eq!(now.read_on.to_string(), "2027-03-01");
    assert_eq!(kept.air[1].place, "kitchen");
    assert_eq!(kept.air[1].read_on.to_string(), "2026-07-14");
    assert_eq!(kept.materials.glue_cents, 1400);
    assert_eq!(kept.cutting.rip_kerf.nm(), 2_400_000);
    assert_eq!(kept.cutting.keep_credit_thousandths, 500);
    assert_eq!(kept.price_per_board_foot_cents, 350);
    assert_eq!(kept.practice.glue.as_deref(), Some("crosslinked PVA"));
    assert_eq!(kept.practice.clamped_minutes, Some(600));
    assert!(
        kept.practice.open_time_minutes.is_some(),
        "it follows the glue"
    );
    assert_eq!(kept.practice.flattening.unwrap().nm(), 2_000_000);
    assert_eq!(kept.grits, [80, 120, 150]);
    assert_eq!(kept.practice.step_minutes["glue-up"], 55);
    let overview = steward.get("/workshop").await;
    assert_eq!(overview.one("h1"), "Our shed");
    assert!(overview.text().contains("$3.50 a board foot"));
}

#[tokio::test]
async fn wrong_settings_are_told_beside_their_fields_and_nothing_is_saved() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let before = settings(&app).await;
    for (path, wrong) in [
        (
            "/workshop/settings",
            vec![
                ("name", ""),
                ("time_zone", "Mars/Olympus"),
                ("claim_days", "0"),
            ],
        ),
        (
            "/workshop/settings/air",
            vec![
                ("air-0-temperature_c", "warm"),
                ("air-0-relative_humidity_percent", "120"),
            ],
        ),
        (
            "/workshop/settings/cutting",
            vec![
                ("rip_kerf", "3 in"),
                ("end_trim", "-1"),
                ("min_rip_length", "8 in"),
                ("keep_credit", "101"),
            ],
        ),
        (
            "/workshop/settings/prices",
            vec![("price", "free"), ("price_of_glue", "dear")],
        ),
        (
            "/workshop/settings/practice",
            vec![
                ("clamped_minutes", "1 min"),
                ("coats", "99"),
                ("flattening", "1/3 in"),
                ("grits", "coarse"),
            ],
        ),
        ("/workshop/settings/steps", vec![("glue-up", "-5")]),
    ] {
        // What is wrong in itself is told before what is wrong only with the rest, so each is tried alone.
        for (name, value) in wrong {
            let mut fields = sent_back(&steward.get(path).await);
            put(&mut fields, name, value);
            let refused = steward.post(path, &borrowed(&fields)).await;
            assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{name}");
            assert_eq!(refused.all(&format!("#e-{name}")).len(), 1, "{name}");
            assert_eq!(
                refused.attribute(&format!("#f-{name}"), "value").as_deref(),
                Some(value),
                "{name}"
            );
        }
    }
    assert_eq!(settings(&app).await, before);
}

#[tokio::test]
async fn settings_of_two_stewards_are_compared_and_not_lost() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let path = "/workshop/settings/cutting";
    let form = sent_back(&steward.get(path).await);
    let mut theirs = form.clone();
    put(&mut theirs, "rip_kerf", "3/32");
    steward.post(path, &borrowed(&theirs)).await;
    let mut mine = form.clone();
    put(&mut mine, "crosscut_kerf", "3/32");
    let refused = steward.post(path, &borrowed(&mine)).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        refused.all("[role=alert] tbody tr"),
        [
            "Kerf when ripping3/32 in1/8 in",
            "Kerf when crosscutting1/8 in3/32 in"
        ]
    );
    let again = steward.post(path, &borrowed(&sent_back(&refused))).await;
    assert_eq!(again.status, StatusCode::SEE_OTHER);
    let member = app.member("Ada").await;
    assert_eq!(member.get(path).await.status, StatusCode::FORBIDDEN);
}
