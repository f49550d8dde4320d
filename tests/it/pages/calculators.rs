use axum::http::StatusCode;
use scrapwright::wire::calculators::CALCULATORS;

use crate::app::{Answer, TestApp, encoded};

/// The address of a form that was filled in.
fn asked(name: &str, fields: &[(&str, &str)]) -> String {
    let query: Vec<String> = fields
        .iter()
        .map(|(name, value)| format!("&{}={}", encoded(name), encoded(value)))
        .collect();
    format!("/reference/calculators/{name}?asked=yes{}", query.concat())
}

/// The value beside a name in the answer.
fn figure(page: &Answer, what: &str) -> String {
    let names = page.all("#answer dt");
    let at = names.iter().position(|name| name == what);
    let at = at.unwrap_or_else(|| panic!("no {what} in {names:?}"));
    page.all("#answer dd")[at].clone()
}

#[tokio::test]
async fn every_calculator_opens_with_an_example_that_is_answered_with_its_sources() {
    let app = TestApp::new().await;
    let member = app.member("Nell Garrow").await;
    let list = member.get("/reference/calculators").await;
    assert_eq!(list.all("main a.whole").len(), CALCULATORS.len());
    for calculator in CALCULATORS {
        let page = member
            .get(&format!("/reference/calculators/{}", calculator.name))
            .await;
        let name = calculator.name;
        assert_eq!(page.status, StatusCode::OK, "{name}: {}", page.text());
        assert!(!page.all("#answer dd, #answer td").is_empty(), "{name}");
        assert!(!page.all("#answer .facts li").is_empty(), "{name}");
        // Every value that the example gives stands in the form, so that sending it gives the same answer.
        let inputs = page.all("main form input[id], main form select").len();
        assert_eq!(page.all("main form label").len(), inputs, "{name}");
        assert!(page.all("form .wrong").is_empty(), "{name}");
    }
}

#[tokio::test]
async fn lengths_are_read_and_answered_in_the_members_unit() {
    let app = TestApp::new().await;
    let member = app.member("Nell Garrow").await;
    let fields = [
        ("length", "96"),
        ("width", "152.4 mm"),
        ("thickness", "1"),
        ("count", ""),
    ];
    // 144 cubic inches are a board foot; 1 x 6 x 96 in are four.
    let page = member.get(&asked("board-feet", &fields)).await;
    assert_eq!(figure(&page, "By volume"), "4 board feet");
    // Wood Handbook, equation (13-2) and Table 13-5: 10 in x 0.00248 x 4 is 0.0992 in.
    let fields = [
        ("species", "black cherry"),
        ("width", "10"),
        ("growth_rings", "flat-sawn"),
        ("from_mc_percent", "6 %"),
        ("to_mc_percent", "10"),
    ];
    let page = member.get(&asked("movement", &fields)).await;
    assert_eq!(figure(&page, "It swells by"), "0.099 in (2.52 mm)");
    member
        .post(
            "/me",
            &[("name", "Nell Garrow"), ("units", "mm"), ("version", "1")],
        )
        .await;
    let page = member.get(&asked("movement", &fields)).await;
    assert_eq!(figure(&page, "It swells by"), "0.10 mm");
    // 70 °F are 21.1 °C; Wood Handbook, equation (4-5): 9.24 % at 50 %.
    let fields = [
        ("temperature_c", "70 F"),
        ("relative_humidity_percent", "50"),
    ];
    let page = member.get(&asked("emc", &fields)).await;
    assert_eq!(figure(&page, "It settles at"), "9.2 %");
}

#[tokio::test]
async fn the_air_of_the_workshop_is_filled_in_where_a_calculation_asks_for_air() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let reading = |row: usize, season: &'static str, percent: &'static str| {
        [
            (format!("air-{row}-place"), "workshop"),
            (format!("air-{row}-season"), season),
            (format!("air-{row}-temperature_c"), "21.1"),
            (format!("air-{row}-relative_humidity_percent"), percent),
        ]
    };
    let mut fields = vec![("version".to_owned(), "1")];
    fields.extend(reading(0, "summer", "65"));
    fields.extend(reading(1, "winter", "35"));
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(name, value)| (name.as_str(), *value))
        .collect();
    let saved = steward.post("/workshop/settings/air", &fields).await;
    assert_eq!(
        saved.status,
        axum::http::StatusCode::SEE_OTHER,
        "{}",
        saved.text()
    );
    // Both were read today: the later one counts as the air now. Wood Handbook, equation (4-5): 6.943 %.
    let page = steward.get("/reference/calculators/emc").await;
    assert_eq!(figure(&page, "It settles at"), "6.9 %");
    let page = steward.get("/reference/calculators/board-movement").await;
    let value = |name: &str| page.attribute(&format!("#f-{name}"), "value");
    assert_eq!(
        value("from_air-relative_humidity_percent").as_deref(),
        Some("35")
    );
    assert_eq!(
        value("to_air-relative_humidity_percent").as_deref(),
        Some("65")
    );
}

#[tokio::test]
async fn what_is_refused_stands_beside_its_field_and_nothing_typed_is_lost() {
    let app = TestApp::new().await;
    let member = app.member("Nell Garrow").await;
    let fields = [
        ("species", "black cherry"),
        ("width", "7 furlongs"),
        ("growth_rings", "flat-sawn"),
        ("from_mc_percent", "-1"),
        ("to_mc_percent", "damp"),
    ];
    let page = member.get(&asked("movement", &fields)).await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    for (name, value) in [("width", "7 furlongs"), ("to_mc_percent", "damp")] {
        let input = format!("#f-{name}");
        assert_eq!(page.attribute(&input, "value").as_deref(), Some(value));
        assert_eq!(
            page.attribute(&input, "aria-describedby")
                .map(|ids| ids.contains(&format!("e-{name}"))),
            Some(true)
        );
    }
    assert!(page.one("#e-from_mc_percent").contains("is -1; must be"));
    assert!(page.all("#answer").is_empty());
    let empty = member.get(&asked("emc", &[])).await;
    assert!(
        empty
            .one("#e-temperature_c")
            .contains("is empty; must be filled in")
    );
}

#[tokio::test]
async fn a_flaw_in_a_row_stands_in_that_row_and_blank_rows_do_not_count() {
    let app = TestApp::new().await;
    let member = app.member("Nell Garrow").await;
    let fields = [
        ("use", "cutting"),
        ("woods-0-species", ""),
        ("woods-0-share", ""),
        ("woods-1-species", "hard maple"),
        ("woods-1-share", "0.9"),
        ("woods-2-species", "black walnut"),
        ("woods-2-share", "9"),
    ];
    let page = member.get(&asked("food-check", &fields)).await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.one("#e-woods-1-share").contains("is 9; must be"));
    let mut fields = fields;
    fields[6].1 = "0.1";
    let page = member.get(&asked("food-check", &fields)).await;
    assert!(page.one("#answer .note").contains("fit for it"));
    assert_eq!(page.all("#answer tbody tr").len(), 2);
    let none = member
        .get(&asked("board-movement", &[("thickness", "1")]))
        .await;
    assert!(
        none.one("#e-strips")
            .contains("must hold at least one strip")
    );
}

#[tokio::test]
async fn an_address_can_say_a_thing_beforehand_but_no_made_up_rows() {
    let app = TestApp::new().await;
    let member = app.member("Nell Garrow").await;
    let page = member
        .get("/reference/calculators/movement?species=red+oak&strips-99999999-width=1")
        .await;
    assert_eq!(
        page.attribute("#f-species option[selected]", "value")
            .as_deref(),
        Some("red oak")
    );
    assert!(page.all("#answer dd").len() >= 2);
    let unknown = member.get("/reference/calculators/horoscope").await;
    assert_eq!(unknown.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn air_woods_glues_and_clamps_that_cannot_be_are_refused_beside_their_fields() {
    let app = TestApp::new().await;
    let member = app.member("Nell Garrow").await;
    let glue_up = |glue: &'static str| {
        vec![
            ("length", "18"),
            ("height", "1 1/2"),
            ("glue", glue),
            ("for_food", "yes"),
            ("strips-0-width", "3/4"),
            ("strips-0-count", "14"),
        ]
    };
    let clamping = |force: &'static str| {
        vec![
            ("length", "18"),
            ("width", "10"),
            ("height", "1 1/2"),
            ("species", "hard maple"),
            ("clamp_force_n", force),
            ("clamp_reach", "24"),
            ("caul_depth", "2"),
        ]
    };
    let cases = [
        (
            "emc",
            vec![
                ("temperature_c", "21.1"),
                ("relative_humidity_percent", "101"),
            ],
            "#e-relative_humidity_percent",
            "is 101; must be a number from 0 to 100",
        ),
        (
            "clamping",
            clamping(""),
            "#e-clamp_force_n",
            "is empty; must be filled in",
        ),
        (
            "clamping",
            clamping("0"),
            "#e-clamp_force_n",
            "is 0; must be",
        ),
        (
            "glue-up",
            glue_up("casein"),
            "#e-glue",
            "Nobody gives casein a class for water",
        ),
    ];
    for (name, fields, place, words) in cases {
        let page = member.get(&asked(name, &fields)).await;
        assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY, "{name}");
        assert!(
            page.one(place).contains(words),
            "{name}: {}",
            page.one(place)
        );
        assert!(page.all("#answer").is_empty(), "{name}");
    }
    // Whoever says so may use the glue all the same, and still reads what speaks against it.
    let mut accepted = glue_up("casein");
    accepted.push(("accept_glue", "yes"));
    let page = member.get(&asked("glue-up", &accepted)).await;
    assert_eq!(page.status, StatusCode::OK, "{}", page.text());
    assert!(
        page.one("#answer")
            .contains("Nobody gives casein a class for water"),
        "{}",
        page.one("#answer")
    );
}
