//! Every page in both widths and both colour schemes: reach, contrast, weight, and no scrolling sideways.
//!
//! `SCRAPWRIGHT_SCREENSHOTS=FOLDER` keeps a picture of each.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use axum::http::Method;
use fantoccini::actions::{InputSource as _, KeyAction, KeyActions};
use fantoccini::key::Key;
use fantoccini::wd::{PrintConfiguration, PrintMargins, PrintSize};
use scrapwright::app::demo::DEMO_PASSWORD;
use scrapwright::web::route_table;
use serde_json::{Value, json};

use crate::chromium::{Chromium, Page, Screen, Script};
use crate::workshop::Workshop;

/// What is read by something other than an eye.
const NOT_PAGES: &[&str] = &[
    "/healthz",
    "/readyz",
    "/metrics",
    "/labels/print",
    "/ledger/export",
    "/workshop/export/{table}",
    "/offcuts/{id}/photo",
    "/static/{name}",
    "/calendar/{token}",
    "/calendar/{token}/workshop",
    "/projects/{id}/match/progress",
    "/projects/{id}/templates/{name}",
];

/// Addresses of the demo for routes with a blank, and for pages that show something only when asked.
const EXAMPLES: &[(&str, &[&str])] = &[
    (
        "/bins",
        &[
            "/bins",
            "/bins?species=hard+maple&length=12+in",
            "/bins?length=9+ft",
            "/bins?length=long",
        ],
    ),
    (
        "/bins/strip",
        &["/bins/strip?wood=hard+maple&strip_length=14+in&rip=1+in&stock=3%2F4+in"],
    ),
    ("/bins/{id}", &["/bins/1"]),
    ("/bins/{id}/edit", &["/bins/1/edit"]),
    ("/offcuts/{id}", &["/offcuts/1"]),
    ("/offcuts/{id}/edit", &["/offcuts/1/edit"]),
    ("/t/{tag}", &["/t/A001"]),
    ("/join/{token}", &["/join/0000"]),
    (
        "/projects/compare",
        &["/projects/compare", "/projects/compare?left=4&right=5"],
    ),
    ("/projects/together/{id}", &[]),
    (
        "/projects/{id}",
        &["/projects/1", "/projects/3", "/projects/5", "/projects/7"],
    ),
    ("/projects/{id}/arrangements", &["/projects/7/arrangements"]),
    (
        "/projects/{id}/design",
        &["/projects/5/design", "/projects/7/design"],
    ),
    (
        "/projects/{id}/bench-sheet",
        &["/projects/5/bench-sheet", "/projects/7/bench-sheet"],
    ),
    (
        "/projects/{id}/cuts",
        &["/projects/3/cuts", "/projects/5/cuts", "/projects/7/cuts"],
    ),
    (
        "/projects/{id}/match",
        &[
            "/projects/5/match",
            "/projects/6/match",
            "/projects/7/match",
        ],
    ),
    (
        "/projects/{id}/plan",
        &["/projects/3/plan", "/projects/5/plan", "/projects/6/plan"],
    ),
    ("/projects/{id}/plan/dates", &["/projects/6/plan/dates"]),
    ("/projects/{id}/templates", &["/projects/5/templates"]),
    ("/bookings/{id}", &["/bookings/1", "/bookings/40"]),
    ("/glue-ups/plan/{id}", &[]),
    ("/reference/calls/{group}", &["/reference/calls/workshop"]),
    (
        "/reference/calculators/{name}",
        &[
            "/reference/calculators/board-feet",
            "/reference/calculators/clamping",
            "/reference/calculators/movement",
            "/reference/calculators/circle",
        ],
    ),
    (
        "/reference/woods/{name}",
        &[
            "/reference/woods/hard%20maple",
            "/reference/woods/red%20oak",
        ],
    ),
    (
        "/reference/woods/{name}/edit",
        &["/reference/woods/hard%20maple/edit"],
    ),
    ("/workshop/clamps/{id}", &["/workshop/clamps/1"]),
    ("/workshop/lumber/{id}", &["/workshop/lumber/1"]),
    (
        "/workshop/openings/{kind}/new",
        &["/workshop/openings/weekly/new"],
    ),
    (
        "/workshop/openings/{kind}/{id}",
        &["/workshop/openings/weekly/1"],
    ),
    (
        "/workshop/settings/{part}",
        &[
            "/workshop/settings/cutting",
            "/workshop/settings/practice",
            "/workshop/settings/minutes",
        ],
    ),
];

/// The addresses to look at, from the routes that are served.
fn addresses(workshop: &Workshop) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for route in route_table(&workshop.app) {
        let path = route.path.as_str();
        if route.method != Method::GET || path.starts_with("/api/") || NOT_PAGES.contains(&path) {
            continue;
        }
        let examples = EXAMPLES.iter().find(|(pattern, _)| *pattern == path);
        match examples {
            Some((_, examples)) => found.extend(examples.iter().map(|path| (*path).to_owned())),
            None => {
                assert!(!path.contains('{'), "{path}: give it a row in EXAMPLES");
                found.insert(path.to_owned());
            }
        }
    }
    found
}

/// The auditing script, which is fetched once into the build's folder and is not part of the project.
fn axe() -> Option<String> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/axe-core/package/axe.min.js");
    if let Ok(script) = std::fs::read_to_string(&file) {
        return Some(script);
    }
    let is_required = std::env::var("SCRAPWRIGHT_BROWSER").is_ok_and(|word| word == "required");
    assert!(
        !is_required,
        "{} is missing; .ci/run fetches it",
        file.display()
    );
    println!(
        "no audit of access: {} is missing; .ci/run fetches it",
        file.display()
    );
    None
}

/// What an audit looks for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Look {
    /// All of WCAG 2.2, A and AA.
    Whole,
    /// What depends on colours: the same page in another scheme.
    Colours,
}

/// What the audit found on the page as it is now, one line for each kind of flaw.
async fn audit(page: &Page, look: Look) -> Vec<String> {
    let only = match look {
        Look::Whole => {
            json!({ "type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] })
        }
        Look::Colours => {
            json!({ "type": "rule", "values": ["color-contrast", "link-in-text-block"] })
        }
    };
    let run = "
        const done = arguments[arguments.length - 1];
        axe.run(document, { runOnly: arguments[0], resultTypes: ['violations'] }).then(
            (found) => done(found.violations.map((flaw) => flaw.id + ': ' + flaw.help + ': ' + flaw.nodes.length + ' times, first '
                + flaw.nodes[0].target.join(' ') + ' ' + flaw.nodes[0].html.slice(0, 160)
                + ' ' + flaw.nodes[0].any.map((check) => check.message).join('; '))),
            (error) => done(['the audit failed: ' + error]));";
    let found = page.client.execute_async(run, vec![only]).await.unwrap();
    serde_json::from_value(found).unwrap()
}

/// What the audit cannot know: one heading, names of drawings, large targets, a visible focus, and rest for who asks for it.
const OWN_RULES: &str = r"
    const wrong = [];
    const shown = (one) => one.checkVisibility({ visibilityProperty: true }) && one.getClientRects().length > 0;
    const words = (one) => one.outerHTML.slice(0, 120);
    if (document.querySelectorAll('h1').length !== 1) wrong.push('there is not one h1');
    if (!document.title.includes(' · ')) wrong.push('the title is ' + document.title);
    for (const drawing of document.querySelectorAll('svg')) {
        const has_role = ['img', 'group'].includes(drawing.getAttribute('role'));
        const is_named = has_role && (drawing.getAttribute('aria-label') || drawing.querySelector(':scope > title')?.textContent);
        if (!is_named && !drawing.closest('[aria-hidden=true]')) wrong.push('a drawing without words: ' + words(drawing));
    }
    for (const one of document.querySelectorAll('.button, button, select, textarea, summary, input:not([type=hidden], [type=radio], [type=checkbox])')) {
        if (one.closest('.unseen') || !shown(one)) continue;
        const box = one.getBoundingClientRect();
        if (box.height < 43.5) wrong.push('a target ' + box.height + ' high: ' + words(one));
    }
    for (const one of document.querySelectorAll('a[href], button, select, textarea, summary, input:not([type=hidden])')) {
        if (one.tabIndex < 0 || one.disabled || !shown(one)) continue;
        one.focus({ focusVisible: true, preventScroll: true });
        const style = getComputedStyle(one);
        if (document.activeElement !== one) wrong.push('the keyboard cannot reach ' + words(one));
        else if (style.outlineStyle === 'none' || parseFloat(style.outlineWidth) < 2) wrong.push('no visible focus: ' + words(one));
    }
    document.activeElement?.blur();
    for (const one of document.querySelectorAll('*')) {
        const style = getComputedStyle(one);
        if (style.transitionDuration !== '0s' || style.animationName !== 'none') { wrong.push('it moves: ' + words(one)); break; }
    }
    return [...new Set(wrong)];";

/// What lies wider than the window and cannot scroll by itself.
const WIDE: &str = r"
    const width = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth <= width) return [];
    const wide = [...document.querySelectorAll('main *, header *, footer *')].filter((one) => !one.closest('.unseen') && one.getBoundingClientRect().right > width + 1);
    return ['scrolls sideways at ' + width + ': ' + (wide.at(-1)?.outerHTML.slice(0, 160) ?? 'something')];";

/// Bytes over the wire for the page with style, script and pictures.
const WEIGHT: &str = r"
    const parts = [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')];
    return parts.reduce((sum, part) => sum + part.transferSize, 0);";

/// A match that is not claimed yet: the picture in the README.
const MATCHED: &str = "/projects/6/match";

/// The most that a first view may weigh.
const MOST_BYTES: u64 = 60_000;

fn lines(found: Value) -> Vec<String> {
    serde_json::from_value(found).unwrap()
}

/// Looks at one page in every way and tells what is wrong with it.
async fn look(page: &Page, path: &str, screen: Screen, has_axe: bool) -> Vec<String> {
    let (width, height) = screen.size();
    let is_phone = screen == Screen::Phone;
    page.open(path).await;
    let mut wrong = Vec::new();
    let weight = page.script(WEIGHT).await;
    let weight = weight.as_u64().unwrap_or(u64::MAX);
    if weight > MOST_BYTES {
        wrong.push(format!("weighs {weight} bytes"));
    }
    let schemes = [("light", is_phone), ("dark", !is_phone)];
    for (scheme, is_whole) in schemes {
        page.prefer(scheme).await;
        if has_axe {
            let look = if is_whole { Look::Whole } else { Look::Colours };
            let found = audit(page, look).await;
            wrong.extend(found.iter().map(|flaw| format!("{scheme}: {flaw}")));
        }
        keep_picture(page, path, screen, scheme).await;
    }
    wrong.extend(lines(page.script(OWN_RULES).await));
    wrong.extend(lines(page.script(WIDE).await));
    // 1280 pixels at 400 % are 320, and at 200 % 640.
    let others: &[u32] = if is_phone { &[320] } else { &[640, 1024] };
    for other in others {
        page.size(*other, height, is_phone).await;
        wrong.extend(lines(page.script(WIDE).await));
    }
    page.size(width, height, is_phone).await;
    wrong
}

async fn walk(screen: Screen) {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::demo().await;
    let page = chromium.look_at(&workshop, screen, Script::Runs).await;
    page.devtools("Network.enable", json!({})).await;
    page.devtools("Network.setCacheDisabled", json!({ "cacheDisabled": true }))
        .await;
    let axe = axe();
    if let Some(script) = &axe {
        page.devtools("Page.enable", json!({})).await;
        let always = json!({ "source": script });
        page.devtools("Page.addScriptToEvaluateOnNewDocument", always)
            .await;
    }
    let has_axe = axe.is_some();
    let mut wrong = Vec::new();
    let mut note = |path: &str, found: Vec<String>| {
        wrong.extend(found.into_iter().map(|flaw| format!("{path} {flaw}")));
    };
    note("/sign-in", look(&page, "/sign-in", screen, has_axe).await);
    note(
        "/join/0000",
        look(&page, "/join/0000", screen, has_axe).await,
    );
    page.sign_in("odile", DEMO_PASSWORD).await;
    for path in addresses(&workshop) {
        note(&path, look(&page, &path, screen, has_axe).await);
    }
    assert!(
        wrong.is_empty(),
        "{} flaws\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_can_be_used_on_a_phone() {
    walk(Screen::Phone).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_can_be_used_at_a_desk() {
    walk(Screen::Desk).await;
}

/// What has the focus now: its words, or its name where it is a field.
const FOCUSED: &str =
    "return document.activeElement.name || document.activeElement.textContent.trim()";

#[tokio::test(flavor = "multi_thread")]
async fn the_keyboard_alone_skips_to_the_content_and_signs_in() {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::demo().await;
    let page = chromium
        .look_at(&workshop, Screen::Desk, Script::Runs)
        .await;
    let send = async |keys: &str| {
        let mut pressed = KeyActions::new("keyboard".into());
        for value in keys.chars() {
            pressed = pressed.then(KeyAction::Down { value });
            pressed = pressed.then(KeyAction::Up { value });
        }
        page.client.perform_actions(pressed).await.unwrap();
    };
    let [tab, enter] = [Key::Tab, Key::Enter].map(|key| char::from(key).to_string());
    page.open("/sign-in").await;
    send(&tab).await;
    assert_eq!(page.script(FOCUSED).await, "Skip to the content");
    let seen = "return document.activeElement.getBoundingClientRect().top >= 0";
    assert_eq!(page.script(seen).await, true);
    send(&enter).await;
    send(&tab).await;
    assert_eq!(page.script(FOCUSED).await, "name");
    send("bram").await;
    send(&tab).await;
    assert_eq!(page.script(FOCUSED).await, "password");
    send(DEMO_PASSWORD).await;
    send(&tab).await;
    assert_eq!(page.script(FOCUSED).await, "Sign in");
    send(&enter).await;
    page.see("Sign out").await;
}

fn pictures() -> Option<PathBuf> {
    let folder = std::env::var_os("SCRAPWRIGHT_SCREENSHOTS").filter(|name| !name.is_empty())?;
    let folder = PathBuf::from(folder);
    std::fs::create_dir_all(&folder).unwrap();
    Some(folder)
}

/// Keeps the whole page as a picture, where pictures are wanted.
async fn keep_picture(page: &Page, path: &str, screen: Screen, scheme: &str) {
    let Some(folder) = pictures() else {
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
