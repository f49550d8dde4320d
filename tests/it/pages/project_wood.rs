//! From a match to cut strips, through the pages: found, claimed at once or not at all, cut, put back.

use axum::http::StatusCode;
use scrapwright::app;
use scrapwright::store::api_token::Scope;
use scrapwright::store::bin::{self, NewBin};
use scrapwright::store::offcut::{GrowthRings, NewOffcut};
use scrapwright::store::{BinId, By, Role};
use scrapwright::units::Length;

use crate::app::{Answer, Browser, TestApp, encoded};

/// A bin with pieces `(species, length, width, count)` in inches, all 7/8 in thick, square and straight.
pub async fn stocked(app: &TestApp, pieces: &[(&str, i64, i64, u32)]) -> BinId {
    let member = app.add("Keeper", Role::Steward).await;
    let by = By {
        member: Some(member),
        at: app.app.clock.now(),
    };
    let mut db = app.app.store.begin().await.unwrap();
    let shelf = NewBin {
        name: "North wall".to_owned(),
        place: "by the door".to_owned(),
    };
    let bin = bin::create(&mut db, by, &shelf).await.unwrap();
    for (species, length, width, count) in pieces {
        let piece = NewOffcut {
            species: (*species).to_owned(),
            length: Length::from_inches(*length, 1),
            width: Length::from_inches(*width, 1),
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
        app::offcut::add(&mut db, by, &piece, None).await.unwrap();
    }
    db.commit().await.unwrap();
    bin
}

/// The default striped board: 7 strips of maple and 6 of walnut, 17 1/2 in by 1 5/8 in by 3/4 in.
pub async fn board(browser: &Browser<'_>, name: &str) -> String {
    let fields = [("kind", "striped-board"), ("name", name), ("due_day", "")];
    let answer = browser.post("/projects/new", &fields).await;
    answer.location().trim_end_matches("/design").to_owned()
}

async fn matched(browser: &Browser<'_>, project: &str) -> Answer {
    let page = browser
        .post_and_follow(&format!("{project}/match"), &[("start", "yes")])
        .await;
    assert_eq!(page.status, StatusCode::OK);
    page
}

#[tokio::test]
async fn a_match_says_which_piece_gives_which_strip_and_is_claimed_as_a_whole() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[("hard maple", 40, 9, 1), ("black walnut", 40, 9, 1)],
    )
    .await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board for Ines").await;

    let empty = browser.get(&format!("{project}/match")).await;
    let leads = empty.all("p.lead").join(" ");
    assert!(
        leads.contains("Which pieces in the bins give the 13 strips"),
        "{leads}"
    );

    let page = matched(&browser, &project).await;
    assert_eq!(page.all("section h2")[0], "All 13 strips can be had.");
    let layouts = page.all(".layouts > section");
    assert_eq!(layouts.len(), 2);
    assert!(layouts[0].contains("in North wall"), "{}", layouts[0]);
    assert_eq!(page.all(".layouts svg[role=img] > title").len(), 2);
    // Every strip of the board has its piece: odd ones are maple.
    let text = page.all(".layouts h3").join(" ");
    assert!(text.contains("strips 1, 3, 5, 7, 9, 11 and 13"), "{text}");
    assert!(text.contains("strips 2, 4, 6, 8, 10 and 12"), "{text}");

    let claimed = browser
        .post_and_follow(&format!("{project}/claims"), &[])
        .await;
    assert!(claimed.one(".flash").contains("2 pieces are held for you"));
    assert_eq!(claimed.all("tbody tr").len(), 2);
    assert!(claimed.text().contains("Mon 15 Mar, in 14 days"));
    let overview = browser.get(&project).await;
    assert!(overview.one("p.kind .mark").contains("claimed"));

    let later = browser
        .post_and_follow(
            &format!("{project}/claims/extend"),
            &[("last_day", "2027-04-01")],
        )
        .await;
    assert!(later.text().contains("Thu 1 Apr, in 31 days"));
    let past = browser
        .post(
            &format!("{project}/claims/extend"),
            &[("last_day", "2027-02-01")],
        )
        .await;
    assert_eq!(past.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        past.one("#e-last_day")
            .contains("must be from Monday 1 March 2027")
    );
    assert_eq!(
        past.attribute("#f-last_day", "value").unwrap(),
        "2027-02-01"
    );

    let let_go = later.attribute("tbody form", "action").unwrap();
    let after = browser.post_and_follow(&let_go, &[]).await;
    assert!(after.one(".flash").contains("free for others again"));
    assert!(after.text().contains("still to be found"));
}

#[tokio::test]
async fn what_cannot_be_had_is_named_with_what_the_nearest_piece_lacks() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[("hard maple", 40, 9, 1), ("black walnut", 12, 9, 1)],
    )
    .await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board").await;
    let page = matched(&browser, &project).await;
    assert_eq!(page.all("section h2")[0], "7 of 13 strips can be had.");
    let missing = page.one(".note.wrong li");
    assert!(
        missing.starts_with("6 strips of black walnut, 17 1/2 in long:"),
        "{missing}"
    );
    assert!(
        missing.contains("A002"),
        "the nearest piece is named: {missing}"
    );
}

#[tokio::test]
async fn a_match_that_finds_nothing_leaves_the_project_where_it_was() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[("hard maple", 12, 9, 1), ("black walnut", 12, 9, 1)],
    )
    .await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board").await;
    let page = matched(&browser, &project).await;
    assert_eq!(page.all("section h2")[0], "0 of 13 strips can be had.");
    // Ada reads inches; the nearest piece lacks 5 1/2 in.
    let missing = page.all(".note.wrong li");
    assert!(missing[0].contains("5 1/2 in too short"), "{missing:?}");
    let overview = browser.get(&project).await;
    assert!(overview.one("p.kind .mark").contains("drawn"));

    let refused = browser.post(&format!("{project}/claims"), &[]).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    assert!(refused.text().contains("nothing to claim"));
}

#[tokio::test]
async fn whoever_is_slower_hears_who_was_quicker_and_keeps_the_rest() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[
            ("hard maple", 40, 9, 1),
            ("black walnut", 40, 9, 1),
            ("black walnut", 40, 10, 1),
        ],
    )
    .await;
    let ada = app.member("Ada").await;
    let bo = app.browser_of(app.add("Bo", Role::Member).await).await;
    let quick = board(&ada, "Quick board").await;
    let slow = board(&bo, "Slow board").await;
    matched(&ada, &quick).await;
    matched(&bo, &slow).await;
    ada.post_and_follow(&format!("{quick}/claims"), &[]).await;

    let refused = bo.post(&format!("{slow}/claims"), &[]).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    let why = refused.one(".note.wrong[role=alert]");
    assert!(
        why.contains("A001 is held by Ada for “Quick board”."),
        "{why}"
    );
    assert!(why.contains("nothing was claimed"), "{why}");
    assert!(
        bo.get(&format!("{slow}/match"))
            .await
            .all("tbody tr")
            .is_empty()
    );

    let again = bo
        .post_and_follow(&format!("{slow}/match"), &[("keep", "rest")])
        .await;
    assert_eq!(again.status, StatusCode::OK);
    // The maple is all gone, so seven strips are missing and walnut comes from the piece that is left.
    assert_eq!(again.all("section h2")[0], "6 of 13 strips can be had.");
}

#[tokio::test]
async fn a_cut_piece_leaves_remainders_with_new_tags_or_is_put_back_uncut() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[("hard maple", 40, 9, 1), ("black walnut", 40, 9, 1)],
    )
    .await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board").await;
    let before = browser.get(&format!("{project}/cuts")).await;
    assert!(before.one(".empty").contains("Nothing is claimed"));
    matched(&browser, &project).await;
    browser
        .post_and_follow(&format!("{project}/claims"), &[])
        .await;

    let page = browser.get(&format!("{project}/cuts")).await;
    assert_eq!(page.all("section.cut").len(), 2);
    let action = page.attribute("section.cut form", "action").unwrap();
    // Larger than the piece it is cut from: refused beside the field, and nothing is booked.
    let wrong = [
        ("copies", "1"),
        ("rows", "1"),
        ("length-0", "90 in"),
        ("width-0", "1 in"),
        ("thickness-0", "7/8"),
        ("count-0", "1"),
        ("bin-0", "1"),
    ];
    let refused = browser.post(&action, &wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let said = refused.all(".field .wrong").join(" ");
    assert!(said.contains("at most the piece's"), "{said}");
    assert!(refused.text().contains("value=\"90 in\""));
    let not_a_size = [
        wrong[0],
        wrong[1],
        ("length-0", "long"),
        wrong[3],
        wrong[4],
        wrong[5],
        wrong[6],
    ];
    let refused = browser.post(&action, &not_a_size).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        browser
            .get(&format!("{project}/cuts"))
            .await
            .all("section.cut")
            .len(),
        2
    );

    let right = [
        ("copies", "1"),
        ("rows", "1"),
        ("length-0", "20 in"),
        ("width-0", "1 in"),
        ("thickness-0", "7/8"),
        ("count-0", "1"),
        ("bin-0", "1"),
    ];
    let done = browser.post_and_follow(&action, &right).await;
    assert_eq!(done.one(".new-tags .tag"), "A003");
    assert!(
        done.one(".new-tags")
            .contains("20 in × 1 in × 7/8 in, into North wall")
    );
    assert_eq!(done.all("section.cut").len(), 1);
    let twice = browser.post(&action, &right).await;
    assert_eq!(twice.status, StatusCode::CONFLICT, "it is cut already");

    let back = done.attribute("form[action$=put-back]", "action").unwrap();
    let after = browser.post_and_follow(&back, &[("bin", "1")]).await;
    assert!(after.one(".flash").contains("back in its bin, uncut"));
    assert!(after.text().contains("strips are still to be found"));
}

#[tokio::test]
async fn the_bench_sheet_has_cuts_clamps_and_cautions_where_they_belong() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[("hard maple", 40, 9, 1), ("black walnut", 40, 9, 1)],
    )
    .await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board").await;
    let sheet = browser.get(&format!("{project}/bench-sheet")).await;
    assert!(sheet.text().contains("match and claim the wood first"));
    matched(&browser, &project).await;
    let sheet = browser.get(&format!("{project}/bench-sheet")).await;
    assert!(sheet.text().contains("Not claimed yet"));
    browser
        .post_and_follow(&format!("{project}/claims"), &[])
        .await;

    let sheet = browser.get(&format!("{project}/bench-sheet")).await;
    assert_eq!(sheet.all("h1").len(), 1);
    let steps = sheet.all("ol.steps > li");
    assert_eq!(steps.len(), sheet.all("ol.steps > li > h2").len());
    let of = |name: &str| {
        steps
            .iter()
            .find(|step| step.contains(name))
            .unwrap_or_else(|| panic!("no step {name}"))
    };
    // One fence setting rips both pieces, since all strips are 1 5/8 in wide.
    let settings = sheet.all("table.settings tr");
    let fence: Vec<&String> = settings
        .iter()
        .filter(|row| row.starts_with("1 5/8 in"))
        .collect();
    assert_eq!(fence.len(), 1, "{settings:?}");
    assert!(
        fence[0].contains("A001") && fence[0].contains("A002"),
        "{fence:?}"
    );
    assert!(of("Mill and rip").contains("guard and spreader"));
    assert!(of("Mill and rip").contains("Never use rip fence and mitre gauge together"));
    // What holds at every machine is said once, before the first step, and each step points to it.
    let text = sheet.text();
    assert_eq!(text.matches("Unplug the machine").count(), 1);
    assert!(!of("Mill and rip").contains("Unplug the machine"));
    assert!(of("Mill and rip").contains("any machine and wood dust (at the top)"));
    assert!(
        of("Unclamp").contains("clamping (at step 3)"),
        "{}",
        of("Unclamp")
    );
    assert!(of("Glue up").contains("12 glue lines"), "{}", of("Glue up"));
    assert!(
        of("Coat 1").contains("Rags with drying oil"),
        "{}",
        of("Coat 1")
    );
    assert!(!of("Dry fit").contains("Rags"));
    assert!(of("Round over and sand").contains("a bearing bit of 1/8 in radius"));
    assert!(sheet.all("ol.steps svg[role=img]").len() >= 3);
}

#[tokio::test]
async fn feet_bring_their_drilling_marks() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let script = app.script(ada, Scope::Write).await;
    let design = serde_json::json!({"kind": "striped-board", "length": "14 in", "width": "2 in", "thickness": "1 in",
        "surface": "face grain", "feet": 4, "strips": [{"species": "hard maple", "width": "1 in"},
        {"species": "black walnut", "width": "1 in"}]});
    let made = script
        .post(
            "/api/v1/projects",
            serde_json::json!({"name": "On feet", "design": design}),
        )
        .await;
    assert_eq!(made.status, StatusCode::CREATED, "{}", made.text());
    let api = made.location();
    let project = api.trim_start_matches("/api/v1").to_owned();
    let browser = app.member("Bea").await;
    let page = browser.get(&format!("{project}/templates")).await;
    assert!(page.text().contains("Drilling marks for the feet"));
    let svg = browser.get(&format!("{project}/templates/feet.svg")).await;
    // 1 1/4 in from the end, and a quarter of the width from the side.
    assert!(
        svg.text()
            .contains("foot of 1/8 in at 1 1/4 in along and 1/2 in across"),
        "{}",
        svg.text()
    );
    assert_eq!(svg.text().matches("class=\"hole\"").count(), 4);
    let sheet = browser.get(&format!("{project}/bench-sheet")).await;
    assert!(
        sheet
            .text()
            .contains("4 feet where the drilling template has its crosses")
    );
    assert!(sheet.text().contains("no deeper than 3/8 in"));
}

#[tokio::test]
async fn the_round_of_a_ring_goes_to_a_bin() {
    let app = TestApp::new().await;
    stocked(&app, &[("hard maple", 40, 9, 4)]).await;
    let browser = app.member("Ada").await;
    let fields = [("kind", "round-tray"), ("name", "Tray")];
    let answer = browser.post("/projects/new", &fields).await;
    let project = answer.location().trim_end_matches("/design").to_owned();
    matched(&browser, &project).await;
    let cuts = browser
        .post_and_follow(&format!("{project}/claims"), &[])
        .await;
    assert_eq!(cuts.status, StatusCode::OK);
    let cuts = browser.get(&format!("{project}/cuts")).await;
    assert!(
        cuts.text()
            .contains("the round that falls out of the ring, 12 1/2 in across and 3/4 in thick")
    );
    let field = |name: &str| {
        cuts.attribute(
            &format!("form[action^='/offcuts/new'] input[name={name}]"),
            "value",
        )
        .unwrap()
    };
    let asked = format!(
        "/offcuts/new?species=hard+maple&length={}&width={}&thickness=3/4+in",
        encoded(&field("length")),
        encoded(&field("width"))
    );
    assert_eq!(field("length"), "224 mm");
    let form = browser.get(&asked).await;
    assert_eq!(form.attribute("#f-length", "value").unwrap(), "224 mm");
    assert_eq!(form.attribute("#f-count", "value").unwrap(), "1");
}

#[tokio::test]
async fn templates_come_at_full_size_where_something_is_marked_out() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    for (kind, slugs) in [
        ("striped-board", vec![]),
        ("handle-board", vec!["outline"]),
        ("round-tray", vec!["circle", "jig"]),
    ] {
        let fields = [("kind", kind), ("name", "Thing")];
        let answer = browser.post("/projects/new", &fields).await;
        let project = answer.location().trim_end_matches("/design").to_owned();
        let page = browser.get(&format!("{project}/templates")).await;
        assert_eq!(page.status, StatusCode::OK);
        assert_eq!(page.all("ul.pieces > li").len(), slugs.len());
        for slug in slugs {
            let svg = browser
                .get(&format!("{project}/templates/{slug}.svg"))
                .await;
            assert_eq!(svg.header("content-type"), "image/svg+xml");
            assert!(svg.text().contains("mm\""), "its size is in millimetres");
            for paper in ["a4", "letter"] {
                let pdf = browser
                    .get(&format!("{project}/templates/{slug}-{paper}.pdf"))
                    .await;
                assert_eq!(pdf.header("content-type"), "application/pdf");
                assert!(pdf.bytes.starts_with(b"%PDF-"));
            }
        }
        let none = browser.get(&format!("{project}/templates/spoon.svg")).await;
        assert_eq!(none.status, StatusCode::NOT_FOUND);
    }
}

#[tokio::test]
async fn a_match_that_is_over_says_so_in_its_stream() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let project = board(&browser, "Board").await;
    let stream = browser.get(&format!("{project}/match/progress")).await;
    assert_eq!(stream.header("content-type"), "text/event-stream");
    assert!(stream.text().contains("event: done"));
    let stopped = browser.post(&format!("{project}/match/stop"), &[]).await;
    assert_eq!(stopped.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn two_designs_are_compared_and_several_projects_matched_together() {
    let app = TestApp::new().await;
    stocked(
        &app,
        &[("hard maple", 40, 9, 2), ("black walnut", 40, 9, 2)],
    )
    .await;
    let browser = app.member("Ada").await;
    let alone = browser.get("/projects/compare").await;
    assert!(alone.one(".empty").contains("There must be two projects"));
    board(&browser, "One").await;
    board(&browser, "Two").await;
    let compared = browser.get("/projects/compare?left=1&right=2").await;
    assert_eq!(compared.all(".pair > section").len(), 2);
    assert!(compared.all("tbody tr").len() > 8);

    let too_few = browser
        .post("/projects/together", &[("project", "1")])
        .await;
    assert_eq!(too_few.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(too_few.one("#e-project").contains("must be at least two"));
    let found = browser
        .post_and_follow("/projects/together", &[("project", "1"), ("project", "2")])
        .await;
    assert_eq!(found.all("h2")[0], "All 26 strips can be had.");
    assert!(found.one(".note.good").starts_with("The gain:"));
    let claim = found.attribute("form[action$=claims]", "action").unwrap();
    let claimed = browser.post_and_follow(&claim, &[]).await;
    assert!(claimed.one(".flash").contains("held for the projects"));
    assert!(
        browser
            .get("/projects/2")
            .await
            .one("p.kind .mark")
            .contains("claimed")
    );

    // A piece that serves both is cut once: by the one; the other hears where its strips come from.
    let mut said = (false, false);
    for (project, other) in [("1", "Two of Ada (P2)"), ("2", "One of Ada (P1)")] {
        let sheet = browser
            .get(&format!("/projects/{project}/bench-sheet"))
            .await;
        let sheet = sheet.text();
        let cuts = browser.get(&format!("/projects/{project}/cuts")).await;
        let gives = sheet.contains("Also gives") && sheet.contains(&format!("for {other}"));
        let takes = sheet.contains(&format!(
            "Not to be cut here:</strong> it is cut for {other}"
        ));
        assert_eq!(gives, cuts.text().contains("Also gives"));
        assert_eq!(
            takes,
            cuts.text().contains(&format!("it is cut for {other}"))
        );
        said = (said.0 || gives, said.1 || takes);
    }
    assert_eq!(said, (true, true));
}
