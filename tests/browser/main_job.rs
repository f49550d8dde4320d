//! From the bins to a booked, cut board.

use scrapwright::app::demo::DEMO_PASSWORD;

use crate::chromium::{Chromium, Screen, Script};
use crate::workshop::Workshop;

async fn walk(screen: Screen, script: Script) {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::demo().await;
    let page = chromium.look_at(&workshop, screen, script).await;
    page.sign_in("bram", DEMO_PASSWORD).await;

    // Look into a bin, and add what one brings.
    page.open("/bins").await;
    page.leave_by("//main//a[contains(., 'Pale long')]".into())
        .await;
    page.see("To scale, the newest first").await;
    page.follow("Add a piece").await;
    page.fill("Pieces", "walnut 26 x 3 1/4 x 7/8").await;
    page.choose("Into the bin", "Dark long").await;
    page.press("Show me how you understand it").await;
    page.see("1 of black walnut").await;
    page.press("Save").await;
    page.see("Done:").await;

    // Start a board and arrange its strips.
    page.open("/projects").await;
    page.follow("Start a project").await;
    page.tick("Striped board").await;
    page.fill("Name", "Board for the ferryman").await;
    page.fill("Due", "2027-05-01").await;
    page.press("Start it").await;
    page.fill("Length", "14 in").await;
    page.fill("Width wanted", "6 in").await;
    page.tick("Face grain").await;
    page.press("Fill the width").await;
    page.choose("By rule", "mirrored about the centre").await;
    page.press("Arrange by the rule").await;
    page.press("Save the design").await;
    page.see("Next:").await;
    let project = page.path().await;

    // Find the pieces, see the cuts, claim.
    page.open(&format!("{project}/match")).await;
    page.press("Match the wood").await;
    if script == Script::Disabled {
        // Without the script a member looks again by hand.
        while page.text().await.contains("At work") {
            page.follow("Look again").await;
        }
    }
    page.see("Claim all these pieces").await;
    page.press("Claim all these pieces").await;
    page.see("Claimed for this project").await;

    // Book every step before the due date.
    page.follow("Plan the glue-up").await;
    page.press("Propose a plan").await;
    page.see("nothing is booked until you accept it").await;
    page.press("Book all of this").await;
    page.see("before it is due").await;

    // Take the sheet to the bench, and bring back what is left.
    page.follow("Bench sheet").await;
    page.see("The maker's instructions, local codes and trained people")
        .await;
    page.see("Booked:").await;
    page.open(&format!("{project}/cuts")).await;
    page.press("It is cut").await;
    page.see("Write these on what is left").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_board_comes_from_the_bins_to_the_bench_on_a_phone() {
    walk(Screen::Phone, Script::Runs).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_board_comes_from_the_bins_to_the_bench_at_a_desk() {
    walk(Screen::Desk, Script::Runs).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_board_comes_from_the_bins_to_the_bench_without_scripts() {
    walk(Screen::Phone, Script::Disabled).await;
}
