//! A whole workshop in a temporary folder, and browsers and scripts that call it without a network.

use std::cell::RefCell;
use std::collections::BTreeMap;

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use axum::response::Response;
use http_body_util::BodyExt as _;
use jiff::{SignedDuration, Timestamp};
use scrapwright::app::{App, Clock, PasswordCost, Tokens};
use scrapwright::config::Config;
use scrapwright::store::api_token::Scope;
use scrapwright::store::member::NewMember;
use scrapwright::store::{self, MemberId, Role, Store};
use scrapwright::web;
use serde_json::Value;
use tower::ServiceExt as _;

use crate::audit::Sent;

/// The password of everybody in tests.
pub const PASSWORD: &str = "plane with the grain";

/// When tests begin: a Monday morning.
pub fn monday_morning() -> Timestamp {
    "2027-03-01T08:00:00Z".parse().unwrap()
}

/// A workshop of its own, with a clock that stands still and secrets that are always the same.
pub struct TestApp {
    pub app: App,
    router: Router,
    _folder: tempfile::TempDir,
}

impl TestApp {
    pub async fn new() -> TestApp {
        TestApp::with(|_| {}).await
    }

    /// With other settings.
    pub async fn with(change: impl FnOnce(&mut Config)) -> TestApp {
        TestApp::on(tempfile::tempdir().unwrap(), change).await
    }

    /// With the file `workshop.db` in this folder.
    pub async fn on(folder: tempfile::TempDir, change: impl FnOnce(&mut Config)) -> TestApp {
        // One reader: whoever holds it and asks for another waits in vain.
        let store = Store::open_with(&folder.path().join("workshop.db"), 1)
            .await
            .unwrap();
        let mut config = Config::for_tests();
        change(&mut config);
        let clock = Clock::standing_at(monday_morning());
        let app = App::with(config, store, clock, Tokens::counted(), PasswordCost::Least);
        TestApp {
            router: web::router(app.clone()),
            app,
            _folder: folder,
        }
    }

    /// Adds somebody whose sign-in name is their name and whose password is [`PASSWORD`].
    pub async fn add(&self, name: &str, role: Role) -> MemberId {
        let password_hash = &self.app.passwords.hash(PASSWORD).await.unwrap();
        let mut db = self.app.store.begin().await.unwrap();
        let new = NewMember {
            name,
            sign_in_name: name,
            password_hash,
            role,
        };
        let id = store::member::insert(&mut db, &new, self.app.clock.now())
            .await
            .unwrap();
        db.commit().await.unwrap();
        id
    }

    /// A browser in which nobody is signed in.
    pub fn guest(&self) -> Browser<'_> {
        Browser {
            app: self,
            cookies: RefCell::default(),
        }
    }

    /// A browser in which a new member is signed in.
    pub async fn member(&self, name: &str) -> Browser<'_> {
        let id = self.add(name, Role::Member).await;
        self.browser_of(id).await
    }

    /// A browser in which a new steward is signed in.
    pub async fn steward(&self) -> Browser<'_> {
        let id = self.add("Sten", Role::Steward).await;
        self.browser_of(id).await
    }

    /// A browser in which this member is signed in.
    pub async fn browser_of(&self, id: MemberId) -> Browser<'_> {
        let now = self.app.clock.now();
        let secret = self.app.tokens.secret();
        let mut db = self.app.store.begin().await.unwrap();
        let ends_at = now + SignedDuration::from_hours(24);
        store::session::insert(&mut db, secret.hash(), id, now, ends_at)
            .await
            .unwrap();
        db.commit().await.unwrap();
        let browser = self.guest();
        browser
            .cookies
            .borrow_mut()
            .insert("scrapwright-session".into(), secret.reveal().to_owned());
        browser
    }

    /// A script of this member, with a token of this scope.
    pub async fn script(&self, id: MemberId, scope: Scope) -> Script<'_> {
        let secret = self.app.tokens.secret();
        let mut db = self.app.store.begin().await.unwrap();
        store::api_token::insert(
            &mut db,
            secret.hash(),
            id,
            "test",
            scope,
            self.app.clock.now(),
        )
        .await
        .unwrap();
        db.commit().await.unwrap();
        Script {
            app: self,
            token: secret.reveal().to_owned(),
        }
    }

    /// Sends a request whose answer goes on.
    pub async fn open(&self, request: Request<Body>) -> Response {
        self.router.clone().oneshot(request).await.unwrap()
    }

    /// Sends any request. Whatever changes something must be in the audit trail, so every test looks for it.
    pub async fn send(&self, request: Request<Body>) -> Answer {
        let sent = Sent::new(self, &request).await;
        let response = self.router.clone().oneshot(request).await.unwrap();
        let (head, body) = response.into_parts();
        let body = body.collect().await.unwrap().to_bytes();
        let answer = Answer {
            status: head.status,
            headers: head.headers,
            bytes: body.to_vec(),
        };
        sent.assert_written_down(self, &answer).await;
        answer
    }
}

/// A browser: it keeps cookies, and sends forms from our own pages.
pub struct Browser<'a> {
    app: &'a TestApp,
    pub cookies: RefCell<BTreeMap<String, String>>,
}

impl Browser<'_> {
    pub async fn get(&self, path: &str) -> Answer {
        self.send(Method::GET, path, &[], Body::empty()).await
    }

    /// Sends a form.
    pub async fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let body: Vec<String> = fields
            .iter()
            .map(|(name, value)| format!("{}={}", encoded(name), encoded(value)))
            .collect();
        let form = [("content-type", "application/x-www-form-urlencoded")];
        self.send(Method::POST, path, &form, body.join("&").into())
            .await
    }

    /// Sends a form and opens the page to which the answer leads.
    pub async fn post_and_follow(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let answer = self.post(path, fields).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
        self.get(&answer.location()).await
    }

    /// Calls the JSON interface as a page's script does.
    pub async fn call(&self, method: Method, path: &str, body: Value) -> Answer {
        let json = [("content-type", "application/json")];
        self.send(method, path, &json, body.to_string().into())
            .await
    }

    pub async fn send(
        &self,
        method: Method,
        path: &str,
        headers: &[(&str, &str)],
        body: Body,
    ) -> Answer {
        let mut request = Request::builder()
            .method(method)
            .uri(path)
            .header("host", "workshop.test")
            .header("sec-fetch-site", "same-origin");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let cookies: Vec<String> = self
            .cookies
            .borrow()
            .iter()
            .map(|(name, value)| format!("{name}={value}"))
            .collect();
        if !cookies.is_empty() {
            request = request.header("cookie", cookies.join("; "));
        }
        let answer = self.app.send(request.body(body).unwrap()).await;
        for cookie in answer.headers.get_all(header::SET_COOKIE) {
            let cookie = cookie.to_str().unwrap();
            let (name, value) = cookie.split(';').next().unwrap().split_once('=').unwrap();
            let mut cookies = self.cookies.borrow_mut();
            if cookie.contains("Max-Age=0") {
                cookies.remove(name);
            } else {
                cookies.insert(name.to_owned(), value.to_owned());
            }
        }
        answer
    }
}

/// A script that calls the JSON interface with a token.
pub struct Script<'a> {
    app: &'a TestApp,
    pub token: String,
}

impl Script<'_> {
    pub async fn get(&self, path: &str) -> Answer {
        self.send(Method::GET, path, &[], None).await
    }

    pub async fn post(&self, path: &str, body: Value) -> Answer {
        self.send(Method::POST, path, &[], Some(body)).await
    }

    pub async fn send(
        &self,
        method: Method,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<Value>,
    ) -> Answer {
        let mut request = Request::builder()
            .method(method)
            .uri(path)
            .header("host", "workshop.test")
            .header("authorization", format!("Bearer {}", self.token));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let body = match body {
            Some(body) => {
                request = request.header("content-type", "application/json");
                body.to_string().into()
            }
            None => Body::empty(),
        };
        self.app.send(request.body(body).unwrap()).await
    }
}

/// What came back.
#[derive(Debug)]
pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub bytes: Vec<u8>,
}

impl Answer {
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.bytes).unwrap()
    }

    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes).unwrap_or_else(|_| panic!("no JSON: {}", self.text()))
    }

    pub fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .map_or("", |value| value.to_str().unwrap())
    }

    pub fn location(&self) -> String {
        self.header("location").to_owned()
    }

    /// The text of every element that matches, with single spaces.
    pub fn all(&self, selector: &str) -> Vec<String> {
        let selector = scraper::Selector::parse(selector).unwrap();
        scraper::Html::parse_document(self.text())
            .select(&selector)
            .map(|found| {
                let text: String = found.text().collect();
                text.split_whitespace().collect::<Vec<_>>().join(" ")
            })
            .collect()
    }

    /// The text of the only element that matches.
    #[track_caller]
    pub fn one(&self, selector: &str) -> String {
        let mut found = self.all(selector);
        assert_eq!(found.len(), 1, "{selector} in {}", self.text());
        found.remove(0)
    }

    /// An attribute of the first element that matches.
    pub fn attribute(&self, selector: &str, name: &str) -> Option<String> {
        let selector = scraper::Selector::parse(selector).unwrap();
        let page = scraper::Html::parse_document(self.text());
        page.select(&selector)
            .next()?
            .value()
            .attr(name)
            .map(str::to_owned)
    }
}

/// A text as it stands in a form's body.
pub fn encoded(text: &str) -> String {
    text.bytes()
        .map(|byte| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' => {
                char::from(byte).to_string()
            }
            _ => format!("%{byte:02X}"),
        })
        .collect()
}
