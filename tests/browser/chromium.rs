//! A headless Chromium, and a page in it that is used by its words.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use axum::http::Method;
use fantoccini::elements::Element;
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};

use crate::workshop::Workshop;

/// How long a page may take to say what is waited for: solves take seconds in a debug build.
const PATIENCE: Duration = Duration::from_secs(30);

/// What is looked through, in CSS pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Screen {
    Phone,
    Desk,
}

impl Screen {
    pub fn size(self) -> (u32, u32) {
        match self {
            Screen::Phone => (390, 844),
            Screen::Desk => (1280, 900),
        }
    }
}

/// Whether the script of the pages runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Script {
    Runs,
    Disabled,
}

/// A driver with its browsers, which end with it.
pub struct Chromium {
    driver: Child,
    port: u16,
}

impl Chromium {
    /// Starts the driver; nothing where none is installed.
    pub fn start() -> Option<Chromium> {
        // The driver takes a free port of one kind of address and ends where another program has it of the other.
        for _ in 0..5 {
            let started = Command::new("chromedriver")
                .arg("--port=0")
                .stdout(Stdio::piped())
                .stderr(Stdio::null())
                .spawn();
            let mut driver = match started {
                Ok(driver) => driver,
                Err(error) => {
                    let is_required =
                        std::env::var("SCRAPWRIGHT_BROWSER").is_ok_and(|word| word == "required");
                    assert!(!is_required, "chromedriver cannot be started: {error}");
                    println!("skipped: chromedriver cannot be started ({error})");
                    return None;
                }
            };
            let said = BufReader::new(driver.stdout.take().unwrap());
            let port = said.lines().map_while(Result::ok).find_map(|line| {
                let (_, port) = line.split_once("started successfully on port ")?;
                port.trim_end_matches('.').parse().ok()
            });
            if let Some(port) = port {
                return Some(Chromium { driver, port });
            }
            driver.wait().unwrap();
        }
        panic!("chromedriver says its port")
    }

    /// An empty browser that looks at this workshop.
    pub async fn look_at(&self, workshop: &Workshop, screen: Screen, script: Script) -> Page {
        let (width, height) = screen.size();
        let scripts = match script {
            Script::Runs => 1,
            Script::Disabled => 2,
        };
        let wanted = json!({
            "goog:chromeOptions": {
                "args": [
                    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars",
                    "--force-color-profile=srgb", format!("--window-size={width},{height}"),
                ],
                "prefs": { "profile.managed_default_content_settings.javascript": scripts },
            },
        });
        let Value::Object(wanted) = wanted else {
            unreachable!("an object")
        };
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(wanted)
            .connect(&format!("http://127.0.0.1:{}", self.port))
            .await
            .expect("Chromium starts");
        let page = Page {
            client,
            base: workshop.base.clone(),
        };
        page.size(width, height, screen == Screen::Phone).await;
        page
    }
}

impl Drop for Chromium {
    fn drop(&mut self) {
        // The driver ends its browsers only when it is asked to.
        let asked = TcpStream::connect(("127.0.0.1", self.port)).and_then(|mut driver| {
            driver.set_read_timeout(Some(Duration::from_secs(5)))?;
            driver.write_all(
                b"GET /shutdown HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n",
            )?;
            driver.read_to_end(&mut Vec::new())
        });
        if asked.is_err() {
            let _ = self.driver.kill();
        }
        let _ = self.driver.wait();
    }
}

/// One window.
pub struct Page {
    pub client: Client,
    base: String,
}

impl Page {
    pub async fn open(&self, path: &str) {
        let url = format!("{}{path}", self.base);
        self.client.goto(&url).await.unwrap();
    }

    /// The path of the page that is shown.
    pub async fn path(&self) -> String {
        self.client.current_url().await.unwrap().path().to_owned()
    }

    pub async fn sign_in(&self, name: &str, password: &str) {
        self.open("/sign-in").await;
        self.fill("Name", name).await;
        self.fill("Password", password).await;
        self.press("Sign in").await;
        self.see("Sign out").await;
    }

    /// The text that is seen.
    pub async fn text(&self) -> String {
        // Between two pages there is none.
        match self.client.find(Locator::Css("body")).await {
            Ok(body) => body.text().await.unwrap_or_default(),
            Err(_) => String::new(),
        }
    }

    /// Waits until the page says this.
    #[track_caller]
    pub fn see(&self, words: &str) -> impl Future<Output = ()> {
        let at = std::panic::Location::caller();
        async move {
            let since = Instant::now();
            loop {
                let text = self.text().await;
                if text.contains(words) {
                    return;
                }
                assert!(
                    since.elapsed() < PATIENCE,
                    "{at}: {} never said {words:?}, but:\n{text}",
                    self.path().await
                );
                tokio::time::sleep(Duration::from_millis(50)).await;
            }
        }
    }

    /// The first element of this XPath, as soon as it is there.
    #[track_caller]
    pub fn at(&self, xpath: String) -> impl Future<Output = Element> {
        let at = std::panic::Location::caller();
        async move {
            let since = Instant::now();
            loop {
                if let Ok(element) = self.client.find(Locator::XPath(&xpath)).await {
                    return element;
                }
                assert!(
                    since.elapsed() < Duration::from_secs(10),
                    "{at}: {} has no {xpath}, but:\n{}",
                    self.path().await,
                    self.text().await
                );
                tokio::time::sleep(Duration::from_millis(50)).await;
            }
        }
    }

    /// Writes into the field with this label, over what was in it.
    #[track_caller]
    pub fn fill(&self, label: &str, text: &str) -> impl Future<Output = ()> {
        let field = self.at(field_of(label));
        async move {
            let field = field.await;
            // A day is typed by its parts in whatever order the browser's language has.
            if field.attr("type").await.unwrap().as_deref() == Some("date") {
                let set = "arguments[0].value = arguments[1]";
                let argument = serde_json::to_value(&field).unwrap();
                let done = self.client.execute(set, vec![argument, text.into()]).await;
                done.unwrap();
                return;
            }
            field.clear().await.unwrap();
            field.send_keys(text).await.unwrap();
        }
    }

    /// Chooses from the list with this label.
    #[track_caller]
    pub fn choose(&self, label: &str, option: &str) -> impl Future<Output = ()> {
        let field = self.at(field_of(label));
        async move {
            field.await.select_by_label(option).await.unwrap();
        }
    }

    /// Ticks the box, or takes the one of several, with this label.
    #[track_caller]
    pub fn tick(&self, label: &str) -> impl Future<Output = ()> {
        let label = quoted(label);
        let target = self.at(format!(
            "//label[contains(normalize-space(.), {label})]//input"
        ));
        async move { target.await.click().await.unwrap() }
    }

    /// Presses the first button that says just this, and waits until what it leads to is there.
    #[track_caller]
    pub fn press(&self, words: &str) -> impl Future<Output = ()> {
        let words = quoted(words);
        self.leave_by(format!(
            "//main//button[not(@aria-hidden)][normalize-space(.)={words}]"
        ))
    }

    /// Follows the first link that says just this.
    #[track_caller]
    pub fn follow(&self, words: &str) -> impl Future<Output = ()> {
        let words = quoted(words);
        self.leave_by(format!("//main//a[normalize-space(.)={words}]"))
    }

    /// Clicks on what leads to another page, or to another form in its place.
    #[track_caller]
    pub fn leave_by(&self, xpath: String) -> impl Future<Output = ()> {
        let at = std::panic::Location::caller();
        let target = self.at(xpath);
        async move {
            let target = target.await;
            target.click().await.unwrap();
            let since = Instant::now();
            while target.is_enabled().await.is_ok() {
                assert!(since.elapsed() < PATIENCE, "{at}: it led nowhere");
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
        }
    }

    /// Runs a script of the test, not of the page.
    pub async fn script(&self, script: &str) -> Value {
        self.client.execute(script, Vec::new()).await.unwrap()
    }

    /// Looks through a window of this size.
    pub async fn size(&self, width: u32, height: u32, is_phone: bool) {
        let metrics =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": is_phone });
        self.devtools("Emulation.setDeviceMetricsOverride", metrics)
            .await;
    }

    /// Asks for a colour scheme, and for no movement.
    pub async fn prefer(&self, scheme: &str) {
        let features = json!({ "features": [
            { "name": "prefers-color-scheme", "value": scheme },
            { "name": "prefers-reduced-motion", "value": "reduce" },
        ] });
        self.devtools("Emulation.setEmulatedMedia", features).await;
    }

    /// A command of the Chrome DevTools Protocol.
    pub async fn devtools(&self, command: &'static str, parameters: Value) -> Value {
        let command = DevTools {
            command,
            parameters,
        };
        self.client.issue_cmd(command).await.unwrap()
    }
}

fn quoted(text: &str) -> String {
    format!("\"{text}\"")
}

/// The field that a label names; `(optional)` is said after the label's own words.
fn field_of(label: &str) -> String {
    let (plain, optional) = (quoted(label), quoted(&format!("{label} (optional)")));
    format!("//*[@id=//label[normalize-space(.)={plain} or normalize-space(.)={optional}]/@for]")
}

#[derive(Debug)]
struct DevTools {
    command: &'static str,
    parameters: Value,
}

impl WebDriverCompatibleCommand for DevTools {
    fn endpoint(
        &self,
        base: &url::Url,
        session: Option<&str>,
    ) -> Result<url::Url, url::ParseError> {
        let session = session.unwrap_or_default();
        base.join(&format!("session/{session}/goog/cdp/execute"))
    }

    fn method_and_body(&self, _: &url::Url) -> (Method, Option<String>) {
        let body = json!({ "cmd": self.command, "params": self.parameters });
        (Method::POST, Some(body.to_string()))
    }
}
