//! Pictures of pages, kept where `SCRAPWRIGHT_SCREENSHOTS` names a folder.

use std::path::PathBuf;

use fantoccini::wd::{PrintConfiguration, PrintMargins, PrintSize};

use crate::chromium::{Page, Screen};

/// A match that is not claimed yet: the picture in the README.
const MATCHED: &str = "/projects/6/match";

fn folder() -> Option<PathBuf> {
    let folder = std::env::var_os("SCRAPWRIGHT_SCREENSHOTS").filter(|name| !name.is_empty())?;
    let folder = PathBuf::from(folder);
    std::fs::create_dir_all(&folder).unwrap();
    Some(folder)
}

/// Keeps the whole page as a picture, where pictures are wanted.
pub async fn keep(page: &Page, path: &str, screen: Screen, scheme: &str) {
    let Some(folder) = folder() else {
        return;
    };
    let (width, height) = screen.size();
    let is_phone = screen == Screen::Phone;
    let whole = page
        .script("return document.documentElement.scrollHeight")
        .await;
    let whole = u32::try_from(whole.as_u64().unwrap()).unwrap().min(12_000);
    page.size(width, whole.max(height), is_phone).await;
    let png = page.client.screenshot().await.unwrap();
    page.size(width, height, is_phone).await;
    let name: String = path
        .trim_matches('/')
        .chars()
        .map(|letter| {
            if letter.is_alphanumeric() {
                letter
            } else {
                '-'
            }
        })
        .collect();
    let name = if name.is_empty() { "today" } else { &name };
    std::fs::write(folder.join(format!("{name}.{width}.{scheme}.png")), png).unwrap();
    if path == MATCHED && screen == Screen::Desk && scheme == "light" {
        page.size(1280, 1020, false).await;
        let png = page.client.screenshot().await.unwrap();
        std::fs::write(folder.join("match.png"), png).unwrap();
        page.size(width, height, is_phone).await;
    }
    if path.ends_with("/bench-sheet") && screen == Screen::Desk && scheme == "light" {
        for (paper, size) in [("a4", PrintSize::A4), ("letter", PrintSize::US_LETTER)] {
            let margins = PrintMargins {
                top: 1.2,
                bottom: 1.2,
                left: 1.2,
                right: 1.2,
            };
            let how = PrintConfiguration::builder().size(size).margins(margins);
            let pdf = page.client.print(how.build().unwrap()).await.unwrap();
            std::fs::write(folder.join(format!("{name}.{paper}.pdf")), pdf).unwrap();
        }
    }
}
