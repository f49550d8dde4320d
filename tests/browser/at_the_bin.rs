//! Standing at the bin with a phone, or at the desk with a list.

use scrapwright::app::demo::DEMO_PASSWORD;

use crate::chromium::{Chromium, Screen, Script};
use crate::workshop::Workshop;

/// Many lines at once; one of them is unclear, is marked, and loses nothing.
async fn quick_entry(screen: Screen) {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::demo().await;
    let page = chromium.look_at(&workshop, screen, Script::Runs).await;
    page.sign_in("bram", DEMO_PASSWORD).await;
    page.open("/offcuts/new").await;
    let unclear = "walnut 24 x 3 1/2 x 3/4 x4\nhard maple 610x89x19 mm\nmapel 20 x 3";
    page.fill("Pieces", unclear).await;
    page.press("Show me how you understand it").await;
    page.see("Not saved yet:").await;
    page.see("4 of black walnut, 24 in × 3 1/2 in × 3/4 in")
        .await;
    let marked = page.at("//mark".into()).await.text().await.unwrap();
    assert!(
        unclear.contains(&marked) && !marked.is_empty(),
        "{marked:?} is marked"
    );
    let kept = page.at("//textarea[@id='f-lines']".into()).await;
    assert_eq!(kept.prop("value").await.unwrap().unwrap(), unclear);
    page.fill(
        "Pieces",
        "walnut 24 x 3 1/2 x 3/4 x4\nhard maple 610x89x19 mm",
    )
    .await;
    page.press("Show me how you understand it").await;
    page.see("Are all 2 right?").await;
    page.press("Save").await;
    page.see("Done:").await;
    page.open("/bins?text=walnut&length=24+in&width=3+1%2F2+in&thickness=3%2F4+in")
        .await;
    page.see("24 in × 3 1/2 in × 3/4 in, 4 pieces").await;
}

/// The code on a label opens the piece's page; there it is claimed, corrected and moved.
async fn scan_and_claim(screen: Screen) {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::demo().await;
    let page = chromium.look_at(&workshop, screen, Script::Runs).await;
    // Whoever scans without being signed in comes to the piece after signing in.
    page.open("/t/A119").await;
    page.follow("Sign in to use it").await;
    page.fill("Name", "ines").await;
    page.fill("Password", DEMO_PASSWORD).await;
    page.press("Sign in").await;
    page.see("A119 hard maple").await;
    page.choose("For my project", "Cheese board").await;
    page.press("Claim it").await;
    page.see("A119 is claimed for Cheese board").await;
    page.open("/t/A119").await;
    page.see("1 by Ines Sorrel for Cheese board").await;
    page.press("Put it back").await;
    page.see("is back in its bin, uncut").await;
    page.open("/t/A012").await;
    page.choose("Lies in", "Dark short").await;
    page.press("Moved to this bin").await;
    // Said aloud by a screen reader, too.
    page.at("//*[@role='status'][contains(., 'Done:')]".into())
        .await;
    page.fill("Pieces used up or gone", "3").await;
    page.press("Used up").await;
    page.see("Not saved yet:").await;
    page.fill("Pieces used up or gone", "1").await;
    page.press("Used up").await;
    page.see("gone").await;
    page.open("/t/Z999").await;
    page.see("Z999").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn many_pieces_are_written_down_at_once_on_a_phone() {
    quick_entry(Screen::Phone).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn many_pieces_are_written_down_at_once_at_a_desk() {
    quick_entry(Screen::Desk).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_scanned_piece_is_claimed_on_a_phone() {
    scan_and_claim(Screen::Phone).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_scanned_piece_is_claimed_at_a_desk() {
    scan_and_claim(Screen::Desk).await;
}
