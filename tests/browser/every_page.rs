//! Every page in both widths and both colour schemes: reach, contrast, weight, and no scrolling sideways.

use std::collections::BTreeSet;
use std::path::Path;

use axum::http::Method;
use fantoccini::actions::{InputSource as _, KeyAction, KeyActions};
use fantoccini::key::Key;
use scrapwright::app::demo::DEMO_PASSWORD;
use scrapwright::web::route_table;
use serde_json::{Value, json};

use crate::chromium::{Chromium, Page, Screen, Script};
use crate::pictures;
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
        &[
            "/projects/1",
            "/projects/3",
            "/projects/5",
            "/projects/7",
            "/projects/8",
            "/projects/10",
        ],
    ),
    ("/projects/{id}/arrangements", &["/projects/7/arrangements"]),
    (
        "/projects/{id}/design",
        &[
            "/projects/5/design",
            "/projects/7/design",
            "/projects/9/design",
            "/projects/10/design",
        ],
    ),
    (
        "/projects/{id}/bench-sheet",
        &[
            "/projects/5/bench-sheet",
            "/projects/7/bench-sheet",
            "/projects/9/bench-sheet",
        ],
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
    (
        "/projects/{id}/templates",
        &["/projects/5/templates", "/projects/10/templates"],
    ),
    ("/bookings/{id}", &["/bookings/1", "/bookings/40"]),
    (
        "/glue-ups/plan/what-if",
        &["/glue-ups/plan/what-if?project=6&project=8&seconds=5&coats=1"],
    ),
    ("/glue-ups/plan/{id}", &[]),
    ("/reference/calls/{group}", &["/reference/calls/workshop"]),
    (
        "/reference/calls/{group}",
        &["/reference/calls/projects", "/reference/calls/bins"],
    ),
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
            "/workshop/settings/air",
            "/workshop/settings/cutting",
            "/workshop/settings/practice",
            "/workshop/settings/minutes",
        ],
    ),
];

/// The routes of pages.
fn pages(workshop: &Workshop) -> Vec<String> {
    let routes = route_table(&workshop.app).into_iter();
    let pages = routes.filter(|route| {
        let path = route.path.as_str();
        route.method == Method::GET && !path.starts_with("/api/") && !NOT_PAGES.contains(&path)
    });
    pages.map(|route| route.path).collect()
}

/// The addresses of the demo to look at.
fn addresses(workshop: &Workshop) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for path in pages(workshop) {
        match EXAMPLES.iter().find(|(pattern, _)| *pattern == path) {
            Some((_, examples)) => found.extend(examples.iter().map(|path| (*path).to_owned())),
            None => {
                assert!(
                    !path.contains('{'),
                    "{path}: give it a row in EXAMPLES, or in NOT_PAGES"
                );
                found.insert(path);
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

/// The most that a first view may weigh.
const MOST_BYTES: u64 = 60_000;

fn lines(found: Value) -> Vec<String> {
    serde_json::from_value(found).unwrap()
}

/// A walk over pages, with what is wrong with them.
struct Walk {
    page: Page,
    screen: Screen,
    /// What the names of the pictures begin with.
    prefix: &'static str,
    has_axe: bool,
    /// Bytes, and the page that weighs them.
    heaviest: (u64, String),
    wrong: Vec<String>,
}

impl Walk {
    async fn begin(
        chromium: &Chromium,
        workshop: &Workshop,
        screen: Screen,
        prefix: &'static str,
    ) -> Walk {
        let page = chromium.look_at(workshop, screen, Script::Runs).await;
        page.devtools("Network.enable", json!({})).await;
        let uncached = json!({ "cacheDisabled": true });
        page.devtools("Network.setCacheDisabled", uncached).await;
        let axe = axe();
        if let Some(script) = &axe {
            page.devtools("Page.enable", json!({})).await;
            let always = json!({ "source": script });
            page.devtools("Page.addScriptToEvaluateOnNewDocument", always)
                .await;
        }
        Walk {
            page,
            screen,
            prefix,
            has_axe: axe.is_some(),
            heaviest: (0, String::new()),
            wrong: Vec::new(),
        }
    }

    /// Looks at one page in every way.
    async fn look(&mut self, path: &str) {
        let page = &self.page;
        let (width, height) = self.screen.size();
        let is_phone = self.screen == Screen::Phone;
        page.open(path).await;
        let mut wrong = Vec::new();
        let weight = page.script(WEIGHT).await.as_u64().unwrap_or(u64::MAX);
        if weight > MOST_BYTES {
            wrong.push(format!("weighs {weight} bytes"));
        }
        for (scheme, is_whole) in [("light", is_phone), ("dark", !is_phone)] {
            page.prefer(scheme).await;
            if self.has_axe {
                let look = if is_whole { Look::Whole } else { Look::Colours };
                let found = audit(page, look).await;
                wrong.extend(found.iter().map(|flaw| format!("{scheme}: {flaw}")));
            }
            pictures::keep(page, &format!("{}{path}", self.prefix), self.screen, scheme).await;
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
        if weight > self.heaviest.0 {
            self.heaviest = (weight, path.to_owned());
        }
        self.wrong
            .extend(wrong.into_iter().map(|flaw| format!("{path} {flaw}")));
    }

    #[track_caller]
    fn end(self) {
        let (weight, path) = self.heaviest;
        println!("the heaviest page is {path} with {weight} bytes");
        let wrong = self.wrong;
        assert!(
            wrong.is_empty(),
            "{} flaws\n{}",
            wrong.len(),
            wrong.join("\n")
        );
    }
}

/// Every page of the demo.
async fn walk(screen: Screen) {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::demo().await;
    let mut walk = Walk::begin(&chromium, &workshop, screen, "").await;
    walk.look("/sign-in").await;
    walk.look("/join/0000").await;
    walk.page.sign_in("odile", DEMO_PASSWORD).await;
    for path in addresses(&workshop) {
        walk.look(&path).await;
    }
    walk.end();
}

/// Where every list is empty.
#[tokio::test(flavor = "multi_thread")]
async fn every_page_of_a_new_workshop_can_be_used() {
    let Some(chromium) = Chromium::start() else {
        return;
    };
    let workshop = Workshop::empty().await;
    let link = workshop.app.first_steward_link().await.unwrap().unwrap();
    let joined = workshop
        .app
        .join(link.reveal(), "Wren", "wren", DEMO_PASSWORD);
    joined.await.unwrap();
    let mut walk = Walk::begin(&chromium, &workshop, Screen::Phone, "/new").await;
    walk.page.sign_in("wren", DEMO_PASSWORD).await;
    for path in pages(&workshop) {
        if !path.contains('{') {
            walk.look(&path).await;
        }
    }
    walk.end();
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
