//! Projects: started, designed, refused with the reason beside the field.

use axum::http::StatusCode;
use scrapwright::store::Role;

use crate::app::{Browser, TestApp};

const KINDS: [&str; 4] = [
    "striped-board",
    "end-grain-board",
    "handle-board",
    "round-tray",
];

/// Starts a project of the kind and gives its address.
async fn started(browser: &Browser<'_>, kind: &str) -> String {
    let fields = [
        ("kind", kind),
        ("name", "Board for Ines"),
        ("due_day", "2027-03-20"),
    ];
    let answer = browser.post("/projects/new", &fields).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
    let design = answer.location();
    design.trim_end_matches("/design").to_owned()
}

/// Every field of the design form as the page shows it, in its order.
async fn form(browser: &Browser<'_>, project: &str) -> Vec<(String, String)> {
    let page = browser.get(&format!("{project}/design")).await;
    let html = scraper::Html::parse_document(page.text());
    let selector =
        scraper::Selector::parse("form#design input, form#design select, form#design textarea")
            .unwrap();
    let selected = scraper::Selector::parse("option[selected]").unwrap();
    let mut fields = Vec::new();
    for field in html.select(&selector) {
        let name = field.value().attr("name").unwrap().to_owned();
        let is_box = matches!(field.value().attr("type"), Some("checkbox" | "radio"));
        if is_box && field.value().attr("checked").is_none() {
            continue;
        }
        let value = match field.value().name() {
            "select" => field
                .select(&selected)
                .next()
                .map_or("", |option| option.value().attr("value").unwrap())
                .to_owned(),
            "textarea" => field.text().collect::<String>().trim().to_owned(),
            _ => field.value().attr("value").unwrap_or_default().to_owned(),
        };
        fields.push((name, value));
    }
    fields
}

fn with(fields: &[(String, String)], changes: &[(&str, &str)]) -> Vec<(String, String)> {
    let mut changed = fields.to_vec();
    for (name, value) in changes {
        match changed.iter_mut().find(|(key, _)| key == name) {
            Some((_, old)) => *old = (*value).to_owned(),
            None => changed.push(((*name).to_owned(), (*value).to_owned())),
        }
    }
    changed
}

async fn send(
    browser: &Browser<'_>,
    path: &str,
    fields: &[(String, String)],
) -> crate::app::Answer {
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    browser.post(path, &fields).await
}

#[tokio::test]
async fn an_empty_list_says_how_to_start() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let page = browser.get("/projects").await;
    assert_eq!(page.one("h1"), "Projects");
    assert!(page.one(".empty").contains("no project under way"));
    assert_eq!(
        page.attribute("a.button", "href").as_deref(),
        Some("/projects/new")
    );
}

#[tokio::test]
async fn every_kind_is_started_shown_and_saved_as_it_stands() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    for kind in KINDS {
        let project = started(&browser, kind).await;
        let page = browser.get(&project).await;
        assert_eq!(page.status, StatusCode::OK, "{kind}: {}", page.text());
        assert_eq!(page.one("h1"), "Board for Ines");
        assert!(
            page.text()
                .contains("due Saturday 20 March 2027, in 19 days")
        );
        assert_eq!(page.one(".path .next a"), "Match (next)");
        assert!(
            page.all(".source").len() > 5,
            "{kind}: figures name their sources"
        );
        let design = browser.get(&format!("{project}/design")).await;
        assert_eq!(design.all("h1").len(), 1);
        let fields = form(&browser, &project).await;
        let saved = send(&browser, &format!("{project}/design"), &fields).await;
        assert_eq!(
            saved.status,
            StatusCode::SEE_OTHER,
            "{kind}: {}",
            saved.text()
        );
    }
    let list = browser.get("/projects").await;
    assert_eq!(list.all("ul.cards li").len(), KINDS.len());
}

#[tokio::test]
async fn a_project_needs_a_name_a_kind_and_a_day_to_come() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    for (fields, field, said) in [
        (
            vec![("kind", "striped-board"), ("name", " ")],
            "name",
            "Name is empty; must be filled in.",
        ),
        (
            vec![("kind", "spoon"), ("name", "A spoon")],
            "kind",
            "The kind is none of the kinds; choose one.",
        ),
        (
            vec![
                ("kind", "striped-board"),
                ("name", "Late"),
                ("due_day", "2027-02-20"),
            ],
            "due_day",
            "Due is 2027-02-20; must be 2027-03-01 or later.",
        ),
        (
            vec![
                ("kind", "striped-board"),
                ("name", "Odd"),
                ("due_day", "soon"),
            ],
            "due_day",
            "Due is \"soon\"; must be a day such as 2027-03-05.",
        ),
    ] {
        let page = browser.post("/projects/new", &fields).await;
        assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!(page.one(&format!("#e-{field}")), said);
        let described = page.attribute(&format!("#f-{field}"), "aria-describedby");
        assert!(described.is_some_and(|ids| ids.contains(&format!("e-{field}"))));
    }
    assert!(browser.get("/projects").await.all("ul.cards li").is_empty());
}

#[tokio::test]
async fn wrong_entries_of_a_design_stand_beside_their_fields_and_lose_nothing() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let project = started(&browser, "striped-board").await;
    let path = format!("{project}/design");
    let fields = form(&browser, &project).await;
    for (name, typed, error, said) in [
        ("length", "7 furlongs", "e-length", "furlongs"),
        ("thickness", "", "e-thickness", "must be"),
        (
            "length",
            "9 ft",
            "e-length",
            "Length is 108 in; must be from 4 in to 60 in.",
        ),
        (
            "strip_species",
            "mapel",
            "e-strip_species-0",
            "is \"mapel\"; must be a species that the workshop knows",
        ),
        (
            "strip_width",
            "wide",
            "e-strip_width-0",
            "The width of strip 1",
        ),
        ("coats", "many", "e-coats", "must be a whole number"),
        ("glue", "PVA", "e-glue", "must be of class D3"),
        (
            "finish",
            "boiled linseed oil",
            "e-finish",
            "not offered for food ware",
        ),
        (
            "due_day",
            "2027-01-01",
            "e-due_day",
            "must be 2027-03-01 or later",
        ),
    ] {
        let answer = send(&browser, &path, &with(&fields, &[(name, typed)])).await;
        assert_eq!(
            answer.status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{name} = {typed}"
        );
        let beside = answer.one(&format!("#{error}"));
        assert!(beside.contains(said), "{name} = {typed}: {beside}");
        // What was typed is still there, and nothing was stored.
        let again = with(&form(&browser, &project).await, &[]);
        assert_eq!(again, fields);
        assert!(answer.text().contains(&format!("value=\"{typed}\"")) || typed.is_empty());
    }
}

#[tokio::test]
async fn thirteen_strips_or_fourteen_are_offered_for_ten_inches() {
    // Common practice, no single source: 10 in from 3/4 in strips asks 13.33 strips, so 13 give 9 3/4 in and 14 give 10 1/2 in.
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let project = started(&browser, "striped-board").await;
    let fields = with(&form(&browser, &project).await, &[("width", "10 in")]);
    let live = send(&browser, &format!("{project}/design/live"), &fields).await;
    assert_eq!(live.status, StatusCode::OK);
    let said = live.all(".note").join(" ");
    assert!(
        said.contains("13.33 strips of 3/4 in: 13 give 9 3/4 in, 14 give 10 1/2 in."),
        "{said}"
    );
    let button = live.attribute("button[value=count-14]", "form");
    assert_eq!(button.as_deref(), Some("design"));

    let pressed = with(&fields, &[("change", "count-14")]);
    let page = send(&browser, &format!("{project}/design"), &pressed).await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(page.all("ol.strips > li").len(), 14);
    assert!(page.one("p[role=status]").starts_with("Not saved yet."));
    // The fourteenth goes on with the order.
    let species = page.attribute("#f-strip_species-13", "value");
    assert_eq!(species.as_deref(), Some("black walnut"));
}

#[tokio::test]
async fn buttons_change_the_strips_without_saving() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let project = started(&browser, "striped-board").await;
    let path = format!("{project}/design");
    let fields = form(&browser, &project).await;
    let species = |page: &crate::app::Answer| {
        let html = scraper::Html::parse_document(page.text());
        let selector = scraper::Selector::parse("input[name=strip_species]").unwrap();
        html.select(&selector)
            .map(|input| input.value().attr("value").unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    for (changes, expected) in [
        (
            vec![("change", "remove"), ("chosen", "0")],
            vec!["black walnut", "hard maple"],
        ),
        (
            vec![
                ("change", "add"),
                ("chosen", "0"),
                ("new_species", "black cherry"),
                ("new_width", "1/2"),
            ],
            vec!["hard maple", "black cherry", "black walnut"],
        ),
        (
            vec![("change", "later"), ("chosen", "0")],
            vec!["black walnut", "hard maple", "hard maple"],
        ),
        (
            vec![("change", "arrange"), ("rule", "dark to light")],
            vec!["black walnut", "black walnut"],
        ),
        (
            vec![
                ("change", "arrange"),
                ("rule", "accent"),
                ("chosen", "1"),
                ("new_species", "padauk"),
                ("new_width", "3/4"),
            ],
            vec!["hard maple", "padauk", "hard maple"],
        ),
    ] {
        let page = send(&browser, &path, &with(&fields, &changes)).await;
        assert_eq!(page.status, StatusCode::OK, "{changes:?}: {}", page.text());
        assert_eq!(species(&page)[..expected.len()], expected, "{changes:?}");
    }
    assert_eq!(form(&browser, &project).await, fields);
    // What a button needs is missing: said, and nothing lost.
    let nothing = send(&browser, &path, &with(&fields, &[("change", "add")])).await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        nothing
            .one("#e-new_species")
            .contains("must be the name of a species")
    );
}

#[tokio::test]
async fn only_the_owner_and_stewards_change_a_project() {
    let app = TestApp::new().await;
    let ada = app.member("Ada").await;
    let project = started(&ada, "striped-board").await;
    let fields = form(&ada, &project).await;
    let bo = app.browser_of(app.add("Bo", Role::Member).await).await;
    assert_eq!(bo.get(&project).await.status, StatusCode::OK);
    for path in ["design", "design/live", "stage", "give-up"] {
        let answer = send(&bo, &format!("{project}/{path}"), &fields).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{path}");
    }
    let steward = app.steward().await;
    let saved = send(&steward, &format!("{project}/design"), &fields).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_design_that_was_changed_meanwhile_is_not_overwritten_unseen() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let project = started(&browser, "striped-board").await;
    let fields = form(&browser, &project).await;
    let path = format!("{project}/design");
    let first = send(&browser, &path, &with(&fields, &[("length", "18 in")])).await;
    assert_eq!(first.status, StatusCode::SEE_OTHER);
    let second = send(&browser, &path, &with(&fields, &[("length", "16 in")])).await;
    assert_eq!(second.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        second
            .one("#f-version")
            .contains("changed by somebody else")
    );
    assert_eq!(
        second.attribute("#f-length", "value").as_deref(),
        Some("16 in")
    );
    let shown = browser.get(&path).await;
    assert_eq!(
        shown.attribute("#f-length", "value").as_deref(),
        Some("18 in")
    );
}

#[tokio::test]
async fn a_project_that_is_not_there_is_not_found() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    for path in ["/projects/77", "/projects/77/design", "/projects/x"] {
        assert_eq!(
            browser.get(path).await.status,
            StatusCode::NOT_FOUND,
            "{path}"
        );
    }
}

#[tokio::test]
async fn a_project_has_minutes_of_its_own_for_its_steps() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let project = started(&browser, "striped-board").await;
    let path = format!("{project}/design");
    let fields = form(&browser, &project).await;
    let names: Vec<&str> = fields.iter().map(|(name, _)| name.as_str()).collect();
    assert!(names.contains(&"minutes-glue-up"), "{names:?}");
    assert!(
        !names.contains(&"minutes-route-disc"),
        "a board has no disc to route"
    );
    let wrong = with(&fields, &[("minutes-glue-up", "an hour")]);
    let refused = send(&browser, &path, &wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        refused.one("#e-minutes-glue-up"),
        "Glue up is \"an hour\"; must be a whole number from 0 to 1440."
    );
    let right = with(&fields, &[("minutes-glue-up", "75")]);
    let saved = send(&browser, &path, &right).await;
    assert_eq!(saved.status, StatusCode::SEE_OTHER, "{}", saved.text());
    let again = form(&browser, &project).await;
    let kept = again.iter().find(|(name, _)| name == "minutes-glue-up");
    assert_eq!(kept.unwrap().1, "75");
}
