use axum::http::StatusCode;

use crate::app::TestApp;

async fn bin(browser: &crate::app::Browser<'_>) -> String {
    let made = browser
        .post("/bins", &[("name", "Long maple"), ("place", "left wall")])
        .await;
    assert_eq!(made.status, StatusCode::SEE_OTHER, "{}", made.text());
    made.location().trim_start_matches("/bins/").to_owned()
}

#[tokio::test]
async fn a_member_adds_a_piece_finds_it_and_opens_it_by_its_tag() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let bin = bin(&steward).await;
    let added = steward
        .post(
            "/offcuts",
            &[
                ("species", "hard maple"),
                ("length", "2' 3 1/2\""),
                ("width", "89 mm"),
                ("thickness", "3/4"),
                ("count", "2"),
                ("bin", &bin),
                ("growth_rings", "flat-sawn"),
                ("moisture", "7.5"),
                ("unusable", "0 to 1 1/2 in: split"),
                ("note", ""),
            ],
        )
        .await;
    assert_eq!(added.status, StatusCode::SEE_OTHER, "{}", added.text());
    let page = steward.get(&added.location()).await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.one("h1").contains("hard maple"));
    assert!(page.text().contains("27 1/2 in"), "{}", page.text());
    let tag = page.one("h1 .tag");
    let opened = steward.get(&format!("/t/{}", tag.to_lowercase())).await;
    assert_eq!(opened.location(), added.location());
    let found = steward.get("/bins?species=hard+maple&length=27").await;
    assert_eq!(found.all(".pieces .tag"), [tag.as_str()]);
    let none = steward.get("/bins?species=hard+maple&length=28").await;
    assert!(none.all(".pieces .tag").is_empty());
    let wrong = steward.get("/bins?length=long").await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let shelf = steward.get(&format!("/bins/{bin}")).await;
    assert_eq!(shelf.all("figure svg title").len(), 1);
    app.app.clock.advance(40 * 24 * 3600);
    let later = app.member("Ada").await;
    let old = later.get("/bins?age=over-month").await;
    assert_eq!(old.all(".pieces .tag"), [tag.as_str()]);
    for too in ["month", "over-half-year"] {
        let none = later.get(&format!("/bins?age={too}")).await;
        assert!(none.all(".pieces .tag").is_empty(), "{too}");
    }
    // It came on 1 March 2027.
    for (query, expected) in [
        ("added_since=2027-03-01&added_before=2027-03-02", 1),
        ("added_since=2027-03-02", 0),
        ("added_before=2027-03-01", 0),
    ] {
        let listed = later.get(&format!("/api/v1/offcuts?{query}")).await;
        assert_eq!(
            listed.json()["items"].as_array().unwrap().len(),
            expected,
            "{query}"
        );
    }
    let no_day = later.get("/api/v1/offcuts?added_since=March").await;
    assert_eq!(no_day.json()["errors"][0]["pointer"], "/added_since");
}

#[tokio::test]
async fn a_wrong_piece_loses_nothing_that_was_typed_and_stores_nothing() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let bin = bin(&steward).await;
    let refused = steward
        .post(
            "/offcuts",
            &[
                ("species", "hard maple"),
                ("length", "7 furlongs"),
                ("width", "-3"),
                ("thickness", "1/3 in"),
                ("count", "0"),
                ("bin", &bin),
                ("unusable", ""),
                ("note", "from the old bench"),
            ],
        )
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        refused.attribute("#f-length", "value").as_deref(),
        Some("7 furlongs")
    );
    for field in ["length", "width", "thickness", "count"] {
        assert_eq!(refused.all(&format!("#e-{field}")).len(), 1, "{field}");
    }
    assert!(refused.text().contains("from the old bench"));
    assert!(
        steward
            .get("/bins?show=all")
            .await
            .all(".pieces .tag")
            .is_empty()
    );
}

#[tokio::test]
async fn lines_are_shown_back_before_they_are_saved_and_the_unclear_part_is_marked() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let bin = bin(&steward).await;
    let unclear = steward
        .post(
            "/offcuts/lines",
            &[
                (
                    "lines",
                    "walnut 24 x 3 1/2 x 3/4 x4\nhard maple 610xwidex19 mm",
                ),
                ("bin", &bin),
            ],
        )
        .await;
    assert_eq!(unclear.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(unclear.all("mark"), ["wide"]);
    let text = "walnut 24 x 3 1/2 x 3/4 x4\nhard maple 610x89x19 mm";
    let shown = steward
        .post("/offcuts/lines", &[("lines", text), ("bin", &bin)])
        .await;
    assert_eq!(shown.status, StatusCode::OK);
    assert_eq!(shown.all(".understood li").len(), 2);
    assert!(
        steward
            .get("/bins?show=all")
            .await
            .all(".pieces .tag")
            .is_empty()
    );
    let saved = steward
        .post(
            "/offcuts/lines",
            &[("lines", text), ("shown", text), ("bin", &bin)],
        )
        .await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text());
    assert_eq!(
        steward
            .get("/bins?show=all")
            .await
            .all(".pieces .tag")
            .len(),
        2
    );
}

#[tokio::test]
async fn two_browsers_that_edit_one_piece_are_told_and_keep_what_they_typed() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let other = app.member("Nell Garrow").await;
    let bin = bin(&steward).await;
    let text = "hard maple 24 x 3 x 3/4";
    steward
        .post(
            "/offcuts/lines",
            &[("lines", text), ("shown", text), ("bin", &bin)],
        )
        .await;
    let form = |length: &'static str| {
        vec![
            ("species", "hard maple"),
            ("length", length),
            ("width", "3"),
            ("thickness", "3/4"),
            ("count", "1"),
            ("bin", bin.as_str()),
            ("unusable", ""),
            ("note", ""),
            ("version", "1"),
        ]
    };
    let first = steward.post("/offcuts/1", &form("23")).await;
    assert_eq!(first.status, StatusCode::SEE_OTHER, "{}", first.text());
    let second = other.post("/offcuts/1", &form("22")).await;
    assert_eq!(second.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        second.attribute("#f-length", "value").as_deref(),
        Some("22")
    );
    assert!(second.one("[role=alert]").contains("23 in"));
}

#[tokio::test]
async fn labels_are_a_pdf_and_an_unknown_tag_is_named() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let bin = bin(&steward).await;
    let text = "hard maple 24 x 3 x 3/4";
    steward
        .post(
            "/offcuts/lines",
            &[("lines", text), ("shown", text), ("bin", &bin)],
        )
        .await;
    let sheet = steward
        .get(&format!("/labels/print?sheet=3&bin={bin}"))
        .await;
    assert_eq!(sheet.header("content-type"), "application/pdf");
    let unknown = steward.get("/labels/print?sheet=3&tags=ZZZ").await;
    assert_eq!(unknown.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(unknown.one("#e-tags").contains("ZZZ"));
}

#[tokio::test]
async fn the_pieces_that_could_give_a_strip_are_named_with_how_many() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let bin = bin(&steward).await;
    // Trims of 1/16 in and 1/4 in and kerfs of 1/8 in: 4 in gives two strips of 1 5/8 in, 1 3/4 in one, 1 in none.
    let text = "hard maple 24 x 4 x 7/8\nhard maple 24 x 1 3/4 x 7/8\nhard maple 24 x 1 x 7/8";
    steward
        .post(
            "/offcuts/lines",
            &[("lines", text), ("shown", text), ("bin", &bin)],
        )
        .await;
    let found = steward
        .get("/bins/strip?wood=hard+maple&strip_length=17+1%2F2&rip=1+5%2F8&stock=3%2F4")
        .await;
    assert_eq!(found.status, StatusCode::OK, "{}", found.text());
    let lines = found.all(".pieces li strong:not(.tag)");
    assert_eq!(lines, ["gives 2 strips", "gives 1 strip"]);
    // The same for a script.
    let call =
        "/api/v1/offcuts/for-strip?species=hard+maple&length=17.5+in&rip=1.625+in&thickness=3/4+in";
    let told = steward.get(call).await.json();
    let strips = |told: &serde_json::Value| -> Vec<u64> {
        let items = told["items"].as_array().expect("a list");
        items
            .iter()
            .map(|item| item["strips"].as_u64().expect("a number"))
            .collect()
    };
    assert_eq!(strips(&told), [2, 1], "{told}");
    let wrong = steward
        .get("/api/v1/offcuts/for-strip?species=hard+mapel&length=17.5+in&rip=x&thickness=3/4+in")
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let pointers: Vec<String> = wrong.json()["errors"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|error| error["pointer"].to_string())
        .collect();
    assert_eq!(pointers, ["\"/species\"", "\"/rip\""]);
    let wrong = steward
        .get("/bins/strip?wood=hard+mapel&strip_length=x&rip=1&stock=1")
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.one("#e-wood").contains("hard maple"));
}

#[tokio::test]
async fn pieces_that_could_give_a_strip_come_in_order_page_by_page() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let bin = bin(&steward).await;
    // 190 pieces that would give eight strips if they were clear, but a knot leaves four; then 70 clear ones that
    // give three, two pairs of which each piece gives four, and one that gives one.
    let knotty = ["hard maple 24 x 8 x 7/8"; 190].join("\n");
    steward
        .post(
            "/offcuts/lines",
            &[("lines", &knotty), ("shown", &knotty), ("bin", &bin)],
        )
        .await;
    let mut db = app.app.store.begin().await.unwrap();
    sqlx::query("update offcut set unusable = '[{\"from_nm\": 76200000, \"to_nm\": 330200000}]'")
        .execute(&mut *db)
        .await
        .unwrap();
    db.commit().await.unwrap();
    let clear = format!(
        "{}\nhard maple 14 x 8 x 7/8 x2\nhard maple 14 x 8 x 7/8 x2\nhard maple 14 x 2 x 7/8",
        ["hard maple 14 x 6 x 7/8"; 70].join("\n")
    );
    steward
        .post(
            "/offcuts/lines",
            &[("lines", &clear), ("shown", &clear), ("bin", &bin)],
        )
        .await;
    let mut told = Vec::new();
    let mut address =
        "/bins/strip?wood=hard+maple&strip_length=10&rip=1+5%2F8&stock=3%2F4".to_owned();
    for page in [60, 60, 60, 60, 23] {
        let found = steward.get(&address).await;
        let lines = found.all(".pieces li strong:not(.tag)");
        assert_eq!(lines.len(), page, "{address}");
        told.extend(lines);
        address = found
            .attribute("a[href*='after=']", "href")
            .unwrap_or_default();
    }
    let mut expected = vec!["gives 8 strips"; 2];
    expected.extend(["gives 4 strips"; 190]);
    expected.extend(["gives 3 strips"; 70]);
    expected.push("gives 1 strip");
    assert_eq!(told, expected);
}

#[tokio::test]
async fn a_piece_in_the_hand_is_claimed_for_a_project_or_the_reason_is_said() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let bin = bin(&steward).await;
    let text = "hard maple 24 x 4 x 2\nhard maple 8 x 1 x 1/2";
    steward
        .post(
            "/offcuts/lines",
            &[("lines", text), ("shown", text), ("bin", &bin)],
        )
        .await;
    let started = steward
        .post(
            "/projects/new",
            &[
                ("kind", "striped-board"),
                ("name", "Board for Ines"),
                ("due_day", ""),
            ],
        )
        .await;
    let project = started
        .location()
        .trim_start_matches("/projects/")
        .trim_end_matches("/design")
        .to_owned();
    let claimed = steward
        .post_and_follow("/offcuts/1/claim", &[("project", &project)])
        .await;
    assert!(
        claimed
            .one("[role=status]")
            .contains("is claimed for Board for Ines")
    );
    let too_small = steward
        .post_and_follow("/offcuts/2/claim", &[("project", &project)])
        .await;
    assert!(too_small.one("[role=status]").contains("gives no strip"));
    // Put back where it is scanned again; whoever has nothing to do with it has no such button.
    let piece = steward.get("/t/A001").await.location();
    let back = format!("form[action='/projects/{project}/claims/1/put-back']");
    assert_eq!(steward.get(&piece).await.all(&back).len(), 1);
    assert!(
        app.member("Ada")
            .await
            .get(&piece)
            .await
            .all(&back)
            .is_empty()
    );
    let free = steward
        .post_and_follow(
            &format!("/projects/{project}/claims/1/put-back"),
            &[("bin", &bin), ("at_the_bin", "yes")],
        )
        .await;
    assert!(free.one("h1").contains("A001"));
    assert!(
        free.one("[role=status]")
            .contains("is back in its bin, uncut")
    );
    assert!(free.all(&back).is_empty());
}
