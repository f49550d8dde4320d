//! The first hour, and tables as files.

use axum::body::Body;
use axum::http::{Method, StatusCode};

use crate::app::{Answer, Browser, TestApp};

/// Sends a form with a file, as a browser does (RFC 7578).
async fn upload(browser: &Browser<'_>, fields: &[(&str, &str)], file: &[u8]) -> Answer {
    let mut body = Vec::new();
    for (name, value) in fields {
        let part =
            format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
        body.extend_from_slice(part.as_bytes());
    }
    if !file.is_empty() {
        body.extend_from_slice(
            b"--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"table.csv\"\r\nContent-Type: text/csv\r\n\r\n",
        );
        body.extend_from_slice(file);
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(b"--edge--\r\n");
    let form = [("content-type", "multipart/form-data; boundary=edge")];
    browser
        .send(Method::POST, "/workshop/import", &form, Body::from(body))
        .await
}

/// Looks at a file and then stores it, as the two pages lead.
async fn look_and_store(browser: &Browser<'_>, fields: &[(&str, &str)], file: &[u8]) -> Answer {
    let looked = upload(browser, fields, file).await;
    assert_eq!(looked.status, StatusCode::OK, "{}", looked.text());
    let content = looked
        .text()
        .split("<textarea name=\"content\" hidden>\n")
        .nth(1)
        .unwrap();
    let content = content.split("</textarea>").next().unwrap();
    let content = content
        .replace("&#34;", "\"")
        .replace("&#39;", "'")
        .replace("&#60;", "<")
        .replace("&#62;", ">")
        .replace("&#38;", "&")
        // Browsers write line ends anew.
        .replace('\n', "\r\n");
    let mut fields = fields.to_vec();
    fields.push(("confirmed", "yes"));
    fields.push(("content", &content));
    upload(browser, &fields, b"").await
}

async fn table(browser: &Browser<'_>, name: &str) -> String {
    let file = browser.get(&format!("/workshop/export/{name}")).await;
    assert!(file.header("content-type").starts_with("text/csv"));
    file.text().to_owned()
}

#[tokio::test]
async fn what_is_saved_reads_back_the_same_in_another_workshop() {
    let first = TestApp::new().await;
    let steward = first.steward().await;
    steward
        .post("/bins", &[("name", "Dark, \"long\""), ("place", "")])
        .await;
    for (species, note) in [
        ("black walnut", "from the old bench\nsecond line"),
        ("hard maple", "=1+1"),
    ] {
        let added = steward
            .post(
                "/offcuts",
                &[
                    ("species", species),
                    ("length", "24 1/2"),
                    ("width", "89 mm"),
                    ("thickness", "3/4"),
                    ("count", "2"),
                    ("bin", "1"),
                    ("growth_rings", "quarter-sawn"),
                    ("moisture", "7.5"),
                    ("unusable", "0 to 1 1/2 in: split; deep"),
                    ("straight_edges", "yes"),
                    ("note", note),
                ],
            )
            .await;
        assert_eq!(added.status, StatusCode::SEE_OTHER, "{}", added.text());
    }
    steward
        .post(
            "/workshop/clamps",
            &[
                ("name", "Bars"),
                ("capacity", "8"),
                ("reach", "24"),
                ("force", "4500"),
            ],
        )
        .await;
    steward
        .post(
            "/workshop/openings/weekly",
            &[
                ("weekday", "2"),
                ("weekday", "6"),
                ("from", "18:00"),
                ("to", "24:00"),
                ("machines", "yes"),
            ],
        )
        .await;
    steward
        .post(
            "/workshop/openings/closures",
            &[
                ("first_day", "2027-03-09"),
                ("last_day", "2027-03-10"),
                ("reason", "oil, \"wet\""),
            ],
        )
        .await;
    let second = TestApp::new().await;
    let other = second.steward().await;
    for name in ["offcuts", "clamps", "openings"] {
        let saved = table(&steward, name).await;
        let fields = [("what", name), ("make_bins", "yes")];
        let stored = look_and_store(&other, &fields, saved.as_bytes()).await;
        assert_eq!(
            stored.status,
            StatusCode::SEE_OTHER,
            "{name}: {}",
            stored.text()
        );
        assert_eq!(table(&other, name).await, saved, "{name}");
    }
    // Once more it is all there already.
    for (name, what) in [("offcuts", "tag"), ("clamps", "name"), ("openings", "what")] {
        let saved = table(&steward, name).await;
        let again = upload(&other, &[("what", name)], saved.as_bytes()).await;
        assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY, "{name}");
        assert!(again.all("tbody td").contains(&what.to_owned()), "{name}");
    }
}

#[tokio::test]
async fn a_file_with_flaws_is_told_line_by_line_and_stores_nothing() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    steward
        .post("/bins", &[("name", "Dark"), ("place", "")])
        .await;
    let file = "species,length,width,thickness,bin,count\r\n\
        black walnut,24 in,3 in,3/4 in,Dark,2\r\n\
        walnutt,24 in,3 in,3/4 in,Dark,2\r\n\
        hard maple,seven,3 in,3/4 in,Dark,0\r\n\
        hard maple,24 in,3 in,3/4 in,Attic,1\r\n";
    let refused = upload(&steward, &[("what", "offcuts")], file.as_bytes()).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    // What cannot be read is told first, since nothing else can be said of such a line.
    let rows = refused.all("tbody tr");
    assert_eq!(rows.len(), 2, "{rows:?}");
    assert!(rows[0].starts_with("line 4length"), "{rows:?}");
    assert!(rows[1].starts_with("line 4count"), "{rows:?}");
    let file = file.replace("seven", "7 in").replace("Dark,0", "Dark,1");
    let refused = upload(&steward, &[("what", "offcuts")], file.as_bytes()).await;
    let rows = refused.all("tbody tr");
    assert!(rows[0].starts_with("line 3species"), "{rows:?}");
    assert!(rows[1].starts_with("line 5bin"), "{rows:?}");
    assert!(rows[1].contains("is \"Attic\""), "{rows:?}");
    assert!(
        steward
            .get("/bins?show=all")
            .await
            .all(".pieces .tag")
            .is_empty()
    );
    assert_eq!(
        refused.attribute("option[selected]", "value").as_deref(),
        Some("offcuts")
    );
    let nothing = upload(&steward, &[("what", "offcuts")], b"").await;
    assert_eq!(nothing.all("#e-file").len(), 1);
    let no_text = upload(&steward, &[("what", "clamps")], &[0xff, 0xfe, 0x00]).await;
    assert_eq!(no_text.status, StatusCode::UNPROCESSABLE_ENTITY);
    let wrong_table = upload(&steward, &[("what", "boards")], b"at").await;
    assert_eq!(wrong_table.all("#e-what").len(), 1);
}

#[tokio::test]
async fn the_ledger_of_an_earlier_book_reads_back_the_same_and_counts_nothing_twice() {
    let first = TestApp::new().await;
    let steward = first.steward().await;
    steward
        .post("/bins", &[("name", "Dark"), ("place", "")])
        .await;
    let text = "hard maple 24 x 3 x 3/4 x2\nblack walnut 12 x 2 x 1";
    steward
        .post(
            "/offcuts/lines",
            &[("lines", text), ("shown", text), ("bin", "1")],
        )
        .await;
    first.app.clock.advance(3600);
    steward
        .post(
            "/offcuts/2/used-up",
            &[("pieces", "1"), ("why", "=burnt, \"wet\"")],
        )
        .await;
    first.app.clock.advance(3600);
    let second = TestApp::new().await;
    second.app.clock.advance(30 * 24 * 3600);
    let other = second.steward().await;
    let pieces = table(&steward, "offcuts").await;
    let fields = [("what", "offcuts"), ("make_bins", "yes")];
    look_and_store(&other, &fields, pieces.as_bytes()).await;
    let saved = table(&steward, "ledger").await;
    assert_eq!(saved.lines().count(), 4, "{saved}");
    let stored = look_and_store(&other, &[("what", "ledger")], saved.as_bytes()).await;
    assert_eq!(stored.status, StatusCode::SEE_OTHER, "{}", stored.text());
    // Every line is there as it was; the two pieces that lie there still are added here and carried over from there.
    let there = table(&other, "ledger").await;
    let (kept, new): (Vec<&str>, Vec<&str>) = there
        .lines()
        .partition(|line| saved.lines().any(|before| before == *line));
    assert_eq!(kept.join("\r\n"), saved.trim_end());
    let carried: Vec<&str> = new
        .iter()
        .filter(|line| line.ends_with("carried over from an earlier book"))
        .map(|line| line.split_once(',').unwrap().1)
        .collect();
    assert_eq!(
        carried,
        [",corrected,A001,,hard maple,-2,-1769802,0,0,carried over from an earlier book"]
    );
    let sums = other.get("/api/v1/ledger/sums").await.json();
    let was = steward.get("/api/v1/ledger/sums").await.json();
    assert_eq!(sums, was);
    let page = other.get("/ledger?tag=A002").await;
    assert_eq!(page.all("tbody .tag").len(), 2, "{}", page.text());
    assert_eq!(page.all("tbody .mark"), ["earlier book"; 2]);
    // Once more it is all there already, line by line, and so it is in the workshop that it came from.
    for browser in [&other, &steward] {
        let again = upload(browser, &[("what", "ledger")], saved.as_bytes()).await;
        assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!(again.all("tbody tr").len(), 3, "{}", again.text());
    }
    let breaches = scrapwright::store::invariants::list_breaches(
        &mut second.app.store.begin().await.unwrap(),
        10,
    )
    .await
    .unwrap();
    assert_eq!(breaches, []);
}

#[tokio::test]
async fn a_ledger_that_cannot_be_is_told_line_by_line_and_stores_nothing() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let heading = "at (utc),what,tag,species,pieces,volume (mm³),in strips (mm³)\n";
    let file = format!(
        "{heading}2026-02-30T10:00:00Z,added,A1,hard maple,1,1000,\n\
         2026-02-01T10:00:00Z,burnt,A1,hard maple,-1,-1000,\n"
    );
    let refused = upload(&steward, &[("what", "ledger")], file.as_bytes()).await;
    let rows = refused.all("tbody tr");
    assert!(rows[0].starts_with("line 2at (utc)"), "{rows:?}");
    assert!(rows[1].starts_with("line 3what"), "{rows:?}");
    let file = format!(
        "{heading}2026-02-01T10:00:00Z,added,A1,hard maple,1,1000,\n\
         2031-02-01T10:00:00Z,gone,A1,hard maple,-1,-1000,\n\
         2026-02-02T10:00:00Z,cut,A1,hard maple,1,-1000,1001\n\
         2026-02-02T10:00:00Z,gone,A234567890123456789012,hard maple,-1,-1000,7\n"
    );
    let script = steward
        .send(
            Method::POST,
            "/api/v1/tables/ledger",
            &[("content-type", "text/csv")],
            Body::from(file),
        )
        .await;
    assert_eq!(script.status, StatusCode::UNPROCESSABLE_ENTITY);
    let pointers: Vec<String> = script.json()["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|error| error["pointer"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(
        pointers,
        [
            "/3/at (utc)",
            "/4/pieces",
            "/4/volume (mm³)",
            "/5/tag",
            "/5/in strips (mm³)"
        ]
    );
    let none = steward.get("/api/v1/ledger").await.json();
    assert_eq!(none["items"].as_array().map(Vec::len), Some(0));
}

#[tokio::test]
async fn looking_at_a_file_stores_nothing() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    let file = "species,length (mm),width (mm),thickness (mm),bin\nwalnut,600,90,19,New shelf\n";
    let fields = [("what", "offcuts"), ("make_bins", "yes")];
    let looked = upload(&steward, &fields, file.as_bytes()).await;
    assert_eq!(looked.status, StatusCode::OK, "{}", looked.text());
    assert!(looked.one(".lead").contains("it would add 1 offcut"));
    assert!(looked.one(".note").contains("New shelf"));
    assert!(
        steward
            .get("/bins")
            .await
            .one(".empty")
            .contains("no bin yet")
    );
    let stored = look_and_store(&steward, &fields, file.as_bytes()).await;
    assert_eq!(stored.location(), "/bins");
    let there = steward.get("/bins?show=all").await;
    assert_eq!(there.all(".pieces .tag").len(), 1, "{}", there.text());
    let member = app.member("Ada").await;
    assert_eq!(
        upload(&member, &fields, file.as_bytes()).await.status,
        StatusCode::FORBIDDEN
    );
}

#[tokio::test]
async fn the_first_hour_leads_from_nothing_to_a_first_match() {
    let app = TestApp::new().await;
    let steward = app.steward().await;
    assert!(
        steward
            .get("/workshop")
            .await
            .one(".note")
            .contains("Not ready yet")
    );
    let n_done = async || {
        let page = steward.get("/workshop/start").await;
        page.all(".mark.good").len()
    };
    assert_eq!(n_done().await, 0);
    let page = steward.get("/workshop/start").await;
    for link in page.all("ol.steps a") {
        assert!(!link.is_empty());
    }
    // Every way that the list names leads somewhere.
    let document = scraper::Html::parse_document(page.text());
    let links = scraper::Selector::parse("ol.steps a").unwrap();
    let ways: Vec<String> = document
        .select(&links)
        .map(|link| link.value().attr("href").unwrap().to_owned())
        .collect();
    drop(document);
    for way in ways {
        assert_eq!(steward.get(&way).await.status, StatusCode::OK, "{way}");
    }
    steward
        .post(
            "/workshop/settings",
            &[
                ("version", "1"),
                ("name", "Our shed"),
                ("time_zone", "Europe/Paris"),
                ("claim_days", "14"),
                ("labels", "0"),
            ],
        )
        .await;
    steward
        .post("/bins", &[("name", "Crate"), ("place", "")])
        .await;
    steward
        .post(
            "/workshop/settings/prices",
            &[("version", "2"), ("price", "2.50")],
        )
        .await;
    steward
        .post(
            "/workshop/clamps",
            &[("name", "Bars"), ("capacity", "8"), ("reach", "24")],
        )
        .await;
    let stations = steward
        .post_and_follow("/workshop/start/stations", &[])
        .await;
    assert!(stations.one(".flash").contains("10 stations are added"));
    steward
        .post(
            "/workshop/openings/weekly",
            &[
                ("weekday", "6"),
                ("from", "10"),
                ("to", "17"),
                ("machines", "yes"),
            ],
        )
        .await;
    assert_eq!(n_done().await, 6);
    let lines = ["hard maple 24 x 3 x 1 1/16"; 9].join("\n");
    let add = async |lines: &str| {
        steward
            .post(
                "/offcuts/lines",
                &[("lines", lines), ("shown", lines), ("bin", "1")],
            )
            .await
    };
    add(&lines).await;
    let page = steward.get("/workshop/start").await;
    assert_eq!(page.one(".mark.busy"), "9 of 10");
    add("black walnut 24 x 3 x 1 1/16").await;
    let over = steward.get("/workshop/start").await;
    assert!(
        over.one(".lead")
            .contains("Everything that a first project needs is there")
    );
    assert!(steward.get("/workshop").await.all(".note").is_empty());
}
