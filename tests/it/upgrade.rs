//! From the first released form of the file to today's.

use std::path::Path;

use scrapwright::store::resource::{self, NewResource};
use scrapwright::store::settings::Season;
use scrapwright::store::{By, MemberId, OpenError, Store, copy, workshop};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{Connection as _, SqliteConnection};

use crate::app::TestApp;

/// What a workshop had in its file after a first board was matched, claimed, cut in part and planned, with the first release.
const FIRST_FORM: &str = include_str!("upgrade/first_form.sql");

async fn run(path: &Path, sql: &'static str) {
    let options = SqliteConnectOptions::new()
        .filename(path)
        .create_if_missing(true)
        // Tables are filled by name, not parents first.
        .foreign_keys(false);
    let mut db = SqliteConnection::connect_with(&options).await.unwrap();
    sqlx::raw_sql(sql).execute(&mut db).await.unwrap();
    db.close().await.unwrap();
}

async fn write_first_form(path: &Path) {
    run(path, FIRST_FORM).await;
    run(path, "pragma application_id = 1396920919").await;
}

#[tokio::test]
async fn a_file_of_the_first_form_is_brought_to_todays_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("workshop.db");
    write_first_form(&path).await;
    let before = copy::inspect(&path).await.unwrap();
    assert_eq!(before.breaches, []);
    assert_eq!(
        (
            before.totals.members,
            before.totals.offcuts,
            before.totals.pieces,
            before.totals.ledger_rows
        ),
        (2, 5, 7, 6)
    );
    assert_eq!(
        (
            before.totals.claims,
            before.totals.bookings,
            before.totals.changes
        ),
        (2, 13, 43)
    );

    let app = TestApp::on(folder, |_| {}).await;
    let after = copy::inspect(&path).await.unwrap();
    assert_eq!(after.breaches, []);
    assert_eq!(after.totals, before.totals);

    let bram = app.guest();
    let signed_in = bram
        .post(
            "/sign-in",
            &[("name", "bram"), ("password", "shavings on the floor")],
        )
        .await;
    assert_eq!(signed_in.location(), "/");
    let bins = bram.get("/bins").await;
    assert!(bins.text().contains("Pale maple"), "{}", bins.text());
    assert!(
        bins.text().contains("5 pieces, 2.6 board feet"),
        "{}",
        bins.text()
    );
    let board = bram.get("/projects/1").await;
    assert_eq!(board.one("h1"), "Board for the fair");
}

#[tokio::test]
async fn the_one_reading_of_the_air_becomes_the_first_of_several() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("workshop.db");
    write_first_form(&path).await;
    // Read on 14 July 2026.
    run(
        &path,
        r#"update workshop set settings = '{"claim_days": 9, "climate": {"temperature_c": 23.5,
            "relative_humidity_percent": 58.0, "read_at": 1784020000}}'"#,
    )
    .await;
    let app = TestApp::on(folder, |_| {}).await;
    let settings = workshop::get(app.app.store.read()).await.unwrap().settings;
    assert_eq!(settings.claim_days, 9);
    let [reading] = settings.air.as_slice() else {
        panic!("{:?}", settings.air)
    };
    assert_eq!(
        (reading.place.as_str(), reading.season),
        ("workshop", Season::Summer)
    );
    assert_eq!(
        (reading.temperature_c, reading.relative_humidity_percent),
        (23.5, 58.0)
    );
    assert_eq!(reading.read_on.to_string(), "2026-07-14");
}

#[tokio::test]
async fn clamps_that_were_booked_long_ago_can_be_taken_away_after_the_upgrade() {
    let folder = tempfile::tempdir().unwrap();
    write_first_form(&folder.path().join("workshop.db")).await;
    let app = TestApp::on(folder, |_| {}).await;
    let mut db = app.app.store.begin().await.unwrap();
    let clamps = resource::list(&mut *db).await.unwrap().remove(0);
    assert_eq!(
        (clamps.about.name.as_str(), clamps.about.capacity),
        ("long clamps", 9)
    );
    let fewer = NewResource {
        capacity: 0,
        ..clamps.about.clone()
    };
    let by = |at: &str| By::member(MemberId(1), at.parse().unwrap());
    let too_early = resource::update(
        &mut db,
        by("2026-11-27T00:00:00Z"),
        clamps.id,
        clamps.version,
        &fewer,
    )
    .await;
    assert!(too_early.is_err(), "the panel is still to be glued");
    resource::update(
        &mut db,
        by("2027-03-01T08:00:00Z"),
        clamps.id,
        clamps.version,
        &fewer,
    )
    .await
    .unwrap();
    db.commit().await.unwrap();
    let found = copy::inspect(app.app.store.path()).await.unwrap();
    assert_eq!(found.breaches, []);
}

#[tokio::test]
async fn a_backup_of_the_first_form_is_checked_and_restored_by_todays_program() {
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup.db");
    let to = folder.path().join("workshop.db");
    write_first_form(&backup).await;
    let restored = copy::restore(&backup, &to, false).await.unwrap();
    assert_eq!(restored.totals.bookings, 13);
    Store::open(&to).await.unwrap().close().await;
    // The backup is as it was.
    let kept = copy::inspect(&backup).await.unwrap();
    assert_eq!(kept.totals, restored.totals);
}

#[tokio::test]
async fn an_upgrade_that_fails_leaves_the_file_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("workshop.db");
    write_first_form(&path).await;
    let before = copy::inspect(&path).await.unwrap();
    // Something of that name is in the way of the second migration, half through.
    run(&path, "create table stock (other integer)").await;
    let failed = Store::open(&path).await;
    assert!(
        matches!(
            failed,
            Err(OpenError::Migration { .. } | OpenError::Other { .. })
        ),
        "{failed:?}"
    );
    let after = copy::inspect(&path).await.unwrap();
    assert_eq!(after.totals, before.totals);
    assert_eq!(after.breaches, []);
    run(&path, "drop table stock").await;
    Store::open(&path).await.unwrap().close().await;
    assert_eq!(copy::inspect(&path).await.unwrap().totals, before.totals);
}
