//! From an empty workshop to the first match.

use crate::chromium::{Chromium, Screen, Script};
use crate::workshop::Workshop;

async fn walk(screen: Screen) {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::empty().await;
    let page = chromium.look_at(&workshop, screen, Script::Runs).await;
    let link = workshop.app.first_steward_link().await.unwrap().unwrap();
    page.open(&format!("/join/{}", link.reveal())).await;
    page.fill("Your name", "Wren Alder").await;
    page.fill("Name to sign in with", "wren").await;
    page.fill("Password", "three coats of oil").await;
    page.fill("The same once more", "three coats of oil").await;
    page.press("Come in").await;
    page.see("Sign out").await;

    page.open("/").await;
    page.follow("Go through the first hour").await;
    page.follow("Name the workshop").await;
    page.fill("Name of the workshop", "Shed behind the mill")
        .await;
    page.fill("Time zone", "Europe/London").await;
    page.press("Save").await;
    page.see("Done:").await;

    page.open("/workshop/start").await;
    page.follow("Make a bin").await;
    page.fill("Name", "Long shelf").await;
    page.press("Save").await;
    page.see("Long shelf").await;

    page.open("/workshop/start").await;
    page.follow("Add a clamp set").await;
    page.fill("Name", "Bar clamps").await;
    page.fill("How many", "8").await;
    page.fill("Reach", "24 in").await;
    page.fill("Rated force of one", "4500").await;
    page.press("Save").await;
    page.see("Bar clamps").await;

    page.open("/workshop/start").await;
    page.press("Add the usual ones").await;
    page.see("stations are added").await;

    page.follow("Say when you are open").await;
    page.tick("Tuesday").await;
    page.tick("Saturday").await;
    page.fill("Opens at", "10:00").await;
    page.fill("Shuts at", "18:00").await;
    page.tick("A steward is on duty").await;
    page.press("Save").await;
    page.see("Saturday").await;

    page.open("/workshop/start").await;
    page.follow("Add pieces").await;
    let pieces = "walnut 26 x 3 1/4 x 7/8 x5\nhard maple 26 x 3 1/4 x 7/8 x5";
    page.fill("Pieces", pieces).await;
    page.press("Show me how you understand it").await;
    page.see("5 of black walnut").await;
    page.press("Save").await;
    page.see("Done:").await;

    page.open("/workshop/start").await;
    page.see("Everything that a first project needs is there")
        .await;
    page.follow("Start a project").await;
    page.tick("Striped board").await;
    page.fill("Name", "The first board").await;
    page.press("Start it").await;
    page.press("Save the design").await;
    page.see("Next:").await;
    page.open(&format!("{}/match", page.path().await)).await;
    page.press("Match the wood").await;
    page.see("Claim all these pieces").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_first_hour_leads_to_a_match_on_a_phone() {
    walk(Screen::Phone).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_first_hour_leads_to_a_match_at_a_desk() {
    walk(Screen::Desk).await;
}
