//! What a running workshop does for itself.

use std::time::Duration;

use scrapwright::config::Backups;
use scrapwright::store::{Role, copy, session};

use crate::app::{PASSWORD, TestApp};

#[tokio::test]
async fn backups_are_made_when_due_and_the_oldest_go() {
    let folder = tempfile::tempdir().unwrap();
    let backups = Backups {
        folder: folder.path().to_path_buf(),
        every: Duration::from_hours(24),
        keep: 2,
    };
    let app = TestApp::with(|config| config.backups = Some(backups)).await;
    app.add("Ada", Role::Member).await;
    std::fs::write(folder.path().join("notes.txt"), "not a backup").unwrap();

    let names = || {
        let mut names: Vec<String> = std::fs::read_dir(folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    };
    let first = app
        .app
        .back_up_if_due()
        .await
        .unwrap()
        .expect("none was made before");
    assert_eq!(copy::inspect(&first).await.unwrap().totals.members, 1);
    app.app.clock.advance(23 * 3600);
    assert_eq!(app.app.back_up_if_due().await.unwrap(), None);
    for _ in 0..2 {
        app.app.clock.advance(24 * 3600);
        assert!(app.app.back_up_if_due().await.unwrap().is_some());
    }
    assert_eq!(
        names(),
        [
            "notes.txt",
            "workshop-20270303T070000Z.db",
            "workshop-20270304T070000Z.db"
        ]
    );
}

#[tokio::test]
async fn sessions_that_have_ended_are_forgotten() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let browser = app.guest();
    browser
        .post("/sign-in", &[("name", "Ada"), ("password", PASSWORD)])
        .await;
    let token = browser.cookies.borrow()["scrapwright-session"].clone();
    let hash = scrapwright::store::TokenHash::of(&token);
    app.app.sweep().await.unwrap();
    assert!(
        session::find(app.app.store.read(), hash)
            .await
            .unwrap()
            .is_some()
    );
    app.app.clock.advance(14 * 24 * 3600);
    app.app.sweep().await.unwrap();
    assert!(
        session::find(app.app.store.read(), hash)
            .await
            .unwrap()
            .is_none()
    );
    assert_eq!(
        session::count(app.app.store.read(), id, app.app.clock.now())
            .await
            .unwrap(),
        0
    );
}
