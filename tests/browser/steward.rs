//! What stewards do for everybody: plan several projects at once, and read tables from files.

use scrapwright::app::demo::DEMO_PASSWORD;

use crate::chromium::{Chromium, Screen, Script};
use crate::workshop::Workshop;

async fn batch_of_glue_ups(screen: Screen) {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::demo().await;
    let page = chromium.look_at(&workshop, screen, Script::Runs).await;
    page.sign_in("odile", DEMO_PASSWORD).await;
    page.open("/glue-ups").await;
    page.follow("Plan several together").await;
    page.press("Propose a plan").await;
    page.see("nothing is booked until you accept it").await;
    page.see("Before and after").await;
    page.press("Book all of this").await;
    page.see("The steps of 3 projects are booked.").await;
}

async fn import_with_errors(screen: Screen) {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::demo().await;
    let page = chromium.look_at(&workshop, screen, Script::Runs).await;
    page.sign_in("odile", DEMO_PASSWORD).await;
    let folder = tempfile::tempdir().unwrap();
    let choose = async |name: &str, text: &str| {
        let file = folder.path().join(name);
        std::fs::write(&file, text).unwrap();
        let field = page.at("//input[@id='f-file']".into()).await;
        field.send_keys(file.to_str().unwrap()).await.unwrap();
        page.press("Look at it").await;
    };
    page.open("/workshop/import?what=offcuts").await;
    let head = "species,length,width,thickness,count,bin\n";
    let flawed = format!(
        "{head}hard maple,24 in,3 in,3/4 in,2,Pale long\nhard maple,long,3 in,3/4 in,1,Attic\n"
    );
    choose("flawed.csv", &flawed).await;
    page.see("Nothing was stored.").await;
    page.see("line 3").await;
    page.open("/workshop/import?what=offcuts").await;
    let right = format!("{head}hard maple,24 in,3 in,3/4 in,2,Pale long\n");
    choose("right.csv", &right).await;
    page.see("Nothing is stored yet").await;
    page.press("Store all of it").await;
    page.see("Done:").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_steward_plans_for_everybody_on_a_phone() {
    batch_of_glue_ups(Screen::Phone).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_steward_plans_for_everybody_at_a_desk() {
    batch_of_glue_ups(Screen::Desk).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_flawed_file_is_told_and_a_right_one_is_stored_on_a_phone() {
    import_with_errors(Screen::Phone).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_flawed_file_is_told_and_a_right_one_is_stored_at_a_desk() {
    import_with_errors(Screen::Desk).await;
}
