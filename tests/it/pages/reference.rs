use axum::http::StatusCode;

use crate::app::TestApp;

/// The names in the table of woods.
fn names(page: &crate::app::Answer) -> Vec<String> {
    page.all("tbody th a")
}

#[tokio::test]
async fn woods_come_hardwoods_first_and_can_be_sorted_filtered_and_searched() {
    let app = TestApp::new().await;
    let member = app.member("Nell Garrow").await;
    let page = member.get("/reference/woods").await;
    assert_eq!(page.status, StatusCode::OK);
    let kinds = page.all("td[data-label=Kind]");
    let n_hardwoods = kinds.iter().filter(|kind| *kind == "hardwood").count();
    assert!(n_hardwoods > 30);
    assert!(kinds[..n_hardwoods].iter().all(|kind| kind == "hardwood"));

    let found = member.get("/reference/woods?text=Juglans+nigra").await;
    assert_eq!(names(&found), ["black walnut"]);
    // A name that people say for it.
    let found = member.get("/reference/woods?text=rock").await;
    assert_eq!(names(&found), ["hard maple"]);
    let cutting = member.get("/reference/woods?food=cutting").await;
    assert!(names(&cutting).contains(&"hard maple".to_owned()));
    assert!(!names(&cutting).contains(&"red oak".to_owned()));
    // Wood Handbook, Table 13-5: 0.00248 for black cherry, 0.00353 for sugar maple.
    let still = names(
        &member
            .get("/reference/woods?order=still&kind=hardwood")
            .await,
    );
    let at = |name: &str| still.iter().position(|wood| wood == name).unwrap();
    assert!(at("black cherry") < at("hard maple"));
    let none = member.get("/reference/woods?text=unobtainium").await;
    assert!(none.one(".empty").contains("No wood fits"));
    assert_eq!(
        none.attribute("#f-text", "value").as_deref(),
        Some("unobtainium")
    );
}

#[tokio::test]
async fn a_wood_shows_each_figure_with_its_source_and_what_the_bins_hold() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let page = steward.get("/reference/woods/hard%20maple").await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(page.one("h1"), "hard maple");
    let figures = page.all(".figures > div");
    assert_eq!(figures.len(), page.all(".figures .source").len());
    // Wood Handbook, Table 13-5: 0.00353 tangential for sugar maple.
    assert!(
        figures
            .iter()
            .any(|figure| figure.contains("0.00353") && figure.contains("13-5"))
    );
    assert!(page.text().contains("The bins hold no hard maple now"));

    let bin = steward
        .post("/bins", &[("name", "Long"), ("place", "")])
        .await;
    let bin = bin.location().trim_start_matches("/bins/").to_owned();
    let text = "hard maple 24 x 6 x 1 x2";
    steward
        .post(
            "/offcuts/lines",
            &[("lines", text), ("shown", text), ("bin", &bin)],
        )
        .await;
    let page = steward.get("/reference/woods/hard%20maple").await;
    // 24 x 6 x 1 in is a board foot.
    assert!(
        page.text().contains("2 pieces, 2.0 board feet"),
        "{}",
        page.text()
    );
    assert_eq!(page.all(".pieces .tag").len(), 1);
    let here = steward.get("/reference/woods?here=yes").await;
    assert_eq!(names(&here), ["hard maple"]);
}

#[tokio::test]
async fn another_name_leads_to_the_wood_and_an_unknown_one_to_the_nearest() {
    let app = TestApp::new().await;
    let member = app.member("Nell Garrow").await;
    let other = member.get("/reference/woods/Sugar%20Maple").await;
    assert_eq!(other.location(), "/reference/woods/hard%20maple");
    let unknown = member.get("/reference/woods/blak%20chery").await;
    assert_eq!(unknown.status, StatusCode::NOT_FOUND);
    assert!(unknown.text().contains("black cherry"));
}

/// The form of a wood as the page fills it, with some fields typed anew.
fn typed<'a>(page: &crate::app::Answer, changes: &[(&'a str, &'a str)]) -> Vec<(String, String)> {
    let mut fields = Vec::new();
    let document = scraper::Html::parse_document(page.text());
    let inputs = scraper::Selector::parse("main form:not(.actions) input[name]").unwrap();
    for input in document.select(&inputs) {
        let value = input.value().attr("value").unwrap_or_default();
        fields.push((
            input.value().attr("name").unwrap().to_owned(),
            value.to_owned(),
        ));
    }
    let selects = scraper::Selector::parse("main form select").unwrap();
    let chosen = scraper::Selector::parse("option[selected]").unwrap();
    for select in document.select(&selects) {
        let value = select
            .select(&chosen)
            .next()
            .and_then(|option| option.value().attr("value"));
        let name = select.value().attr("name").unwrap().to_owned();
        fields.push((name, value.unwrap_or_default().to_owned()));
    }
    for (name, value) in changes {
        fields.retain(|(known, _)| known != name);
        fields.push(((*name).to_owned(), (*value).to_owned()));
    }
    fields
}

fn as_form(fields: &[(String, String)]) -> Vec<(&str, &str)> {
    fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect()
}

const MAPLE: &str = "/reference/woods/hard%20maple";

#[tokio::test]
async fn a_steward_corrects_a_figure_whose_source_is_then_this_workshop() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let form = steward.get(&format!("{MAPLE}/edit")).await;
    let fields = typed(
        &form,
        &[("density_kg_m3", "690"), ("source", "weighed ten pieces")],
    );
    let page = steward.post_and_follow(MAPLE, &as_form(&fields)).await;
    let figures = page.all(".figures > div");
    let density = figures
        .iter()
        .find(|figure| figure.contains("690 kg/m³"))
        .unwrap();
    assert!(
        density.contains("this workshop: weighed ten pieces"),
        "{density}"
    );
    // What stayed as it was keeps its printed source.
    assert!(
        figures
            .iter()
            .any(|figure| figure.contains("0.00353") && figure.contains("13-5"))
    );

    // Somebody who began before is told, and sees both.
    let late = typed(&form, &[("density_kg_m3", "720")]);
    let told = steward.post(MAPLE, &as_form(&late)).await;
    assert_eq!(told.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        told.one("[role=alert]")
            .contains("Somebody else changed this")
    );
    assert_eq!(
        told.attribute("#f-density_kg_m3", "value").as_deref(),
        Some("720")
    );
    assert!(
        told.all("td[data-label='Theirs, saved']")
            .contains(&"690".to_owned())
    );

    let again = steward
        .post_and_follow(&format!("{MAPLE}/forget"), &[("version", "1")])
        .await;
    assert!(
        again
            .one(".flash")
            .contains("printed figures of hard maple hold again")
    );
    assert!(!again.text().contains("this workshop:"));
}

#[tokio::test]
async fn figures_that_cannot_be_right_are_refused_all_at_once_and_change_nothing() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let form = steward.get(&format!("{MAPLE}/edit")).await;
    let changes = [
        ("specific_gravity", "6.3"),
        ("shrinkage_radial", "-4"),
        ("food", "delicious"),
        ("food_reason", ""),
    ];
    let refused = steward.post(MAPLE, &as_form(&typed(&form, &changes))).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    for (field, _) in changes {
        assert_eq!(refused.all(&format!("#e-{field}")).len(), 1, "{field}");
    }
    assert_eq!(
        refused.attribute("#f-specific_gravity", "value").as_deref(),
        Some("6.3")
    );
    let changes = [("density_kg_m3", "heavy"), ("hardness_n", "1450 lbf")];
    let refused = steward.post(MAPLE, &as_form(&typed(&form, &changes))).await;
    assert!(
        refused
            .one("#e-density_kg_m3")
            .contains("is \"heavy\"; must be a number")
    );
    assert!(!steward.get(MAPLE).await.text().contains("this workshop"));
}

#[tokio::test]
async fn a_wood_that_was_added_is_known_everywhere_and_stays_while_pieces_of_it_lie_in_the_bins() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let form = steward.get("/reference/woods/new").await;
    let known = typed(&form, &[("name", "Rock Maple")]);
    let refused = steward.post("/reference/woods", &as_form(&known)).await;
    assert!(refused.one("#e-specific_gravity").contains("is empty"));
    let changes = [
        ("name", "Rock Maple"),
        ("specific_gravity", "0.66"),
        ("density_kg_m3", "48 lb/ft3"),
        ("hardness_n", "7500"),
        ("food_reason", "poisonous bark"),
    ];
    let refused = steward
        .post("/reference/woods", &as_form(&typed(&form, &changes)))
        .await;
    assert!(
        refused
            .one("#e-name")
            .contains("known already, as hard maple")
    );
    let mut changes = changes;
    changes[0].1 = "osage  orange";
    let page = steward
        .post_and_follow("/reference/woods", &as_form(&typed(&form, &changes)))
        .await;
    assert_eq!(page.one("h1"), "osage orange");
    // NIST SP 811: 48 lb/ft³ are 768.9 kg/m³.
    assert!(
        page.all(".figures > div")[0].contains("769 kg/m³"),
        "{:?}",
        page.all(".figures > div")
    );
    let bin = steward
        .post("/bins", &[("name", "Long"), ("place", "")])
        .await;
    let bin = bin.location().trim_start_matches("/bins/").to_owned();
    let text = "osage orange 24 x 6 x 1";
    steward
        .post(
            "/offcuts/lines",
            &[("lines", text), ("shown", text), ("bin", &bin)],
        )
        .await;
    let kept = steward
        .post(
            "/reference/woods/osage%20orange/forget",
            &[("version", "1")],
        )
        .await;
    assert_eq!(kept.status, StatusCode::CONFLICT, "{}", kept.text());
    let member = app.member("Nell Garrow").await;
    let edit = member.get("/reference/woods/osage%20orange/edit").await;
    assert_eq!(edit.status, StatusCode::FORBIDDEN);
}
