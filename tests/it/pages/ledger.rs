//! The wood ledger as members see it.

use axum::http::StatusCode;
use scrapwright::store::Role;

use crate::app::{Browser, TestApp};

/// A bin, and walnut of 144 cubic inches, which is one board foot (NHLA), three times.
async fn three_board_feet(steward: &Browser<'_>) {
    steward
        .post("/bins", &[("name", "Dark"), ("place", "")])
        .await;
    let text = "walnut 24 x 6 x 1 x3";
    let added = steward
        .post(
            "/offcuts/lines",
            &[("lines", text), ("shown", text), ("bin", "1")],
        )
        .await;
    assert_eq!(added.status, StatusCode::SEE_OTHER, "{}", added.text());
}

#[tokio::test]
async fn what_came_and_went_is_summed_drawn_and_listed() {
    let app = TestApp::new().await;
    let sten = app.add("Sten", Role::Steward).await;
    let steward = app.browser_of(sten).await;
    let empty = steward.get("/ledger").await;
    assert!(empty.one(".empty").contains("Nothing came or went yet"));
    assert!(empty.all("figure svg").is_empty());
    three_board_feet(&steward).await;
    app.app.clock.advance(40 * 86_400);
    let steward = app.browser_of(sten).await;
    let gone = steward
        .post("/offcuts/1/used-up", &[("pieces", "1"), ("why", "split")])
        .await;
    assert_eq!(gone.status, StatusCode::SEE_OTHER, "{}", gone.text());
    let page = steward.get("/ledger").await;
    let sums = page.all("main > .figures dd");
    assert_eq!(sums[0], "3.0 board feet");
    assert_eq!(sums[5], "1.0 board feet");
    let rows = page.all("#rows ~ .table tbody tr");
    assert_eq!(rows.len(), 2);
    assert!(rows[0].contains("gone"), "{}", rows[0]);
    assert!(rows[0].contains("−1"), "{}", rows[0]);
    assert!(rows[0].contains("split"), "{}", rows[0]);
    assert!(rows[1].contains("+3.00"), "{}", rows[1]);
    // Every picture has its figures as a table, and a name for those who do not see it.
    assert_eq!(page.all("figure svg title").len(), 2);
    let ages = page.all("section:nth-of-type(3) tbody tr");
    assert_eq!(ages[1], "30 to 90 days22.0", "{ages:?}");
}

#[tokio::test]
async fn rows_are_found_by_what_day_and_piece() {
    let app = TestApp::new().await;
    let sten = app.add("Sten", Role::Steward).await;
    let steward = app.browser_of(sten).await;
    three_board_feet(&steward).await;
    app.app.clock.advance(86_400);
    let steward = app.browser_of(sten).await;
    steward
        .post("/offcuts/1/used-up", &[("pieces", "2"), ("why", "lost")])
        .await;
    let rows = async |query: &str| {
        let page = steward.get(&format!("/ledger?{query}")).await;
        assert_eq!(page.status, StatusCode::OK, "{query}");
        page.all("#rows ~ .table tbody tr").len()
    };
    assert_eq!(rows("what=gone").await, 1);
    assert_eq!(rows("species=black+walnut").await, 2);
    assert_eq!(rows("species=hard+maple").await, 0);
    assert_eq!(rows("from=2027-03-02").await, 1);
    assert_eq!(rows("to=2027-03-01").await, 1);
    assert_eq!(rows("from=2027-03-03").await, 0);
    let found = steward.get("/ledger?what=gone").await;
    assert_eq!(found.all("#rows ~ .figures dd")[5], "2.0 board feet");
    let wrong = steward.get("/ledger?what=burnt&from=soon&tag=ZZZ").await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["what", "from", "tag"] {
        assert_eq!(wrong.all(&format!("#e-{field}")).len(), 1, "{field}");
    }
}

#[tokio::test]
async fn older_rows_come_on_further_pages_and_none_is_shown_twice() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    three_board_feet(&steward).await;
    for _ in 0..60 {
        let text = "walnut 12 x 3 x 1";
        steward
            .post(
                "/offcuts/lines",
                &[("lines", text), ("shown", text), ("bin", "1")],
            )
            .await;
    }
    let mut tags = Vec::new();
    let mut address = "/ledger?what=added".to_owned();
    loop {
        let page = steward.get(&address).await;
        tags.extend(page.all("#rows ~ .table tbody .tag"));
        match page.attribute("a[href*='before=']", "href") {
            Some(next) => address = next.replace("#rows", ""),
            None => break,
        }
    }
    assert_eq!(tags.len(), 61);
    tags.sort();
    tags.dedup();
    assert_eq!(tags.len(), 61);
}

#[tokio::test]
async fn the_file_holds_the_rows_and_reads_back() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    three_board_feet(&steward).await;
    let file = steward.get("/ledger/export?what=added").await;
    assert!(file.header("content-type").starts_with("text/csv"));
    assert!(file.header("content-disposition").contains("ledger.csv"));
    let rows = scrapwright::export::csv::read_ledger(&file.bytes).unwrap();
    assert_eq!(rows.len(), 1);
    assert_eq!(rows[0].row.pieces, 3);
    assert_eq!(rows[0].row.member, "Sten");
    // 144 cubic inches are 2 359 737 cubic millimetres, from 25.4 mm to the inch.
    assert_eq!(rows[0].row.volume_mm3, 3 * 2_359_737);
}

#[tokio::test]
async fn names_are_shown_as_the_workshop_decides() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    three_board_feet(&steward).await;
    let member = app.member("Ada").await;
    let page = member.get("/ledger").await;
    assert!(page.text().contains("Who uses shared wood"));
    assert!(page.one("#rows ~ .table tbody tr").contains("Sten"));
    let workshop = scrapwright::store::workshop::get(app.app.store.read())
        .await
        .unwrap();
    let mut settings = workshop.settings.clone();
    settings.members_see_users = false;
    let by = scrapwright::store::By {
        member: None,
        at: app.app.clock.now(),
    };
    let mut db = app.app.store.begin().await.unwrap();
    scrapwright::store::workshop::update(&mut db, by, workshop.version, "Ours", "UTC", &settings)
        .await
        .unwrap();
    db.commit().await.unwrap();
    let page = member.get("/ledger").await;
    assert!(!page.text().contains("Who uses shared wood"));
    assert!(!page.one("#rows ~ .table tbody tr").contains("Sten"));
    let file = member.get("/ledger/export").await;
    assert!(!file.text().contains("Sten"));
    let asked = member.get("/ledger?member=1").await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        steward
            .get("/ledger")
            .await
            .text()
            .contains("Who uses shared wood")
    );
}
