//! The audit trail: whoever changes something is written down, whichever page or call it goes through.

use axum::body::Body;
use axum::http::{Method, Request, StatusCode};
use scrapwright::store::api_token::Scope;
use scrapwright::store::change::{self, Search};
use scrapwright::store::{ChangeId, Role};
use serde_json::json;

use crate::app::{Answer, TestApp};

/// What is sent and done without a change of what the workshop keeps.
const CHANGES_NOTHING: &[(&str, &str)] = &[
    ("/sign-in", "begins a session"),
    ("/sign-out", "ends a session"),
    ("/api/v1/me/session", "ends a session"),
    ("/api/v1/calculations/{name}", "only calculates"),
    ("/api/v1/quick-entry", "only reads what was typed"),
    ("/api/v1/projects/{id}/arrangements", "only proposes"),
    ("/projects/{id}/arrangements", "only proposes"),
    ("/api/v1/projects/{id}/needs", "only calculates"),
    ("/projects/{id}/design/live", "only calculates"),
    (
        "/projects/{id}/match/stop",
        "ends a search, which then keeps what it has",
    ),
    (
        "/api/v1/projects/{id}/match/stop",
        "ends a search, which then keeps what it has",
    ),
    ("/projects/{id}/plan", "only proposes until it is accepted"),
    (
        "/api/v1/projects/{id}/plan",
        "only proposes until it is accepted",
    ),
    ("/api/v1/projects/{id}/plan/what-if", "only asks"),
    (
        "/offcuts/{id}/claim",
        "may only say why the piece gives nothing",
    ),
    (
        "/projects/{id}/plan/accept",
        "pressed twice, it is booked once",
    ),
    ("/glue-ups/plan", "only proposes until it is accepted"),
    ("/api/v1/plans", "only proposes until it is accepted"),
    ("/api/v1/plans/what-if", "only asks"),
    ("/projects/together", "only proposes until it is claimed"),
    (
        "/api/v1/projects/together",
        "only proposes until it is claimed",
    ),
];

/// What answers 200 where it only shows back what was sent, or says why nothing came of it.
const SHOWN_BACK: &[&str] = &[
    "/offcuts/lines",
    "/api/v1/offcuts/lines",
    "/api/v1/offcuts/{id}/claims",
    "/workshop/import",
    "/api/v1/tables/{table}",
    "/projects/{id}/design",
];

/// A request that was sent.
pub struct Sent {
    method: Method,
    path: String,
    has_key: bool,
    newest: ChangeId,
}

impl Sent {
    pub async fn new(app: &TestApp, request: &Request<Body>) -> Sent {
        Sent {
            method: request.method().clone(),
            path: request.uri().path().to_owned(),
            // An answer that is given again changes nothing again.
            has_key: request.headers().contains_key("idempotency-key"),
            newest: change::newest(app.app.store.read())
                .await
                .unwrap_or(ChangeId(0)),
        }
    }

    pub async fn assert_written_down(&self, app: &TestApp, answer: &Answer) {
        let only_reads = matches!(self.method, Method::GET | Method::HEAD | Method::OPTIONS);
        let was_sent_to_sign_in = answer.location().starts_with("/sign-in");
        let is_done = answer.status.is_success() || answer.status == StatusCode::SEE_OTHER;
        if only_reads || self.has_key || !is_done || was_sent_to_sign_in {
            return;
        }
        let is_shown_back = SHOWN_BACK.iter().any(|route| is_of(route, &self.path));
        if answer.status == StatusCode::OK && is_shown_back {
            return;
        }
        if CHANGES_NOTHING
            .iter()
            .any(|(route, _)| is_of(route, &self.path))
        {
            return;
        }
        let rows = change::list_after(app.app.store.read(), self.newest, 100)
            .await
            .unwrap();
        assert!(
            rows.iter().any(|row| row.member.is_some()),
            "{} {} was done ({}), but nobody is written down for it",
            self.method,
            self.path,
            answer.status
        );
    }
}

fn is_of(route: &str, path: &str) -> bool {
    route.split('/').count() == path.split('/').count()
        && route
            .split('/')
            .zip(path.split('/'))
            .all(|(of_route, of_path)| of_route.starts_with('{') || of_route == of_path)
}

#[tokio::test]
async fn stewards_read_who_changed_what_and_members_do_not() {
    let app = TestApp::new().await;
    let ada = app.add("Ada", Role::Member).await;
    let sten = app.add("Sten", Role::Steward).await;
    let steward = app.browser_of(sten).await;
    let member = app.browser_of(ada).await;
    steward
        .post("/bins", &[("name", "Pale"), ("place", "")])
        .await;
    steward
        .post("/bins", &[("name", "Dark"), ("place", "")])
        .await;
    let piece = [
        ("species", "hard maple"),
        ("length", "24"),
        ("width", "3"),
        ("thickness", "7/8"),
        ("count", "1"),
        ("bin", "1"),
    ];
    let added = member.post("/offcuts", &piece).await;
    assert_eq!(added.status, StatusCode::SEE_OTHER, "{}", added.text());

    let all = steward.get("/workshop/changes").await;
    assert_eq!(all.all("tbody td[data-label=Who]"), ["Ada", "Sten", "Sten"]);
    assert_eq!(
        all.all("tbody td[data-label=What]"),
        ["created offcut 1", "created bin 2", "created bin 1"]
    );
    let of_bin = steward.get("/workshop/changes?noun=bin&noun_id=2").await;
    assert_eq!(of_bin.all("tbody td[data-label=What]"), ["created bin 2"]);
    let of_ada = steward
        .get(&format!("/workshop/changes?member={ada}"))
        .await;
    assert_eq!(
        of_ada.all("tbody td[data-label=What]"),
        ["created offcut 1"]
    );
    let unclear = steward.get("/workshop/changes?noun_id=2").await;
    assert_eq!(unclear.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        unclear
            .one("#e-noun")
            .contains("the number alone could be of any thing")
    );
    assert_eq!(
        member.get("/workshop/changes").await.status,
        StatusCode::FORBIDDEN
    );

    let script = app.script(sten, Scope::Steward).await;
    let first = script.get("/api/v1/audit-trail?noun=bin&limit=1").await;
    assert_eq!(first.json()["items"][0]["noun_id"], "2");
    assert_eq!(first.json()["items"][0]["member_name"], "Sten");
    let next = first.json()["next"].as_str().unwrap().to_owned();
    let second = script
        .get(&format!(
            "/api/v1/audit-trail?noun=bin&limit=1&after={next}"
        ))
        .await;
    assert_eq!(second.json()["items"][0]["noun_id"], "1");
    assert_eq!(second.json()["next"], json!(null));
    let wrong = script.get("/api/v1/audit-trail?member=nobody").await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn what_concerns_sign_in_is_written_down_without_secrets() {
    let app = TestApp::new().await;
    let sten = app.add("Sten", Role::Steward).await;
    let script = app.script(sten, Scope::Steward).await;
    let invited = script
        .post(
            "/api/v1/invitations",
            json!({"role": "member", "name": "Ada"}),
        )
        .await;
    let url = invited.json()["url"].as_str().unwrap().to_owned();
    let secret = url.rsplit('/').next().unwrap().to_owned();
    let password = "rake the shavings";
    let guest = app.guest();
    let joined = guest
        .post(
            &format!("/join/{secret}"),
            &[
                ("name", "Ada"),
                ("sign_in_name", "ada"),
                ("password", password),
                ("password_again", password),
            ],
        )
        .await;
    assert_eq!(joined.status, StatusCode::SEE_OTHER, "{}", joined.text());
    guest
        .post("/me/tokens", &[("token_name", "walk"), ("scope", "read")])
        .await;
    guest.post("/me/calendar", &[]).await;
    guest.post("/sign-out-everywhere", &[]).await;

    let search = Search {
        limit: 20,
        ..Search::default()
    };
    let rows = change::list_newest(app.app.store.read(), &search)
        .await
        .unwrap();
    let told: Vec<String> = rows
        .iter()
        .map(|row| {
            let who = row.member_name.as_deref().unwrap_or("nobody");
            format!("{who} {} {}", row.change.verb, row.change.noun)
        })
        .collect();
    assert_eq!(
        told,
        [
            "Ada ended sessions",
            "Ada created calendar link",
            "Ada created token",
            "Ada joined member",
            "Sten created invitation",
            // The script's own.
            "Sten created token",
        ]
    );
    for row in &rows {
        assert!(!row.change.detail.contains(&secret), "{row:?}");
        assert!(!row.change.detail.contains(password), "{row:?}");
    }
}
