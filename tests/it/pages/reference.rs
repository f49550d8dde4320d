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
