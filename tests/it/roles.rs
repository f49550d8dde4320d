//! Every route and who may use it. A route that is not in this table fails, and so does a row without a route.

use std::collections::BTreeMap;

use axum::body::Body;
use axum::http::{Method, StatusCode};
use scrapwright::store::Role;
use scrapwright::store::api_token::Scope;
use scrapwright::web::{Route, Who, route_table};

use crate::app::TestApp;

/// What each of the callers below may do: `x` passes the gate, `-` does not.
/// guest, member, steward, token read, token write, token steward (tokens of a steward; they open no page).
fn may(who: Who, scope: Scope, is_call: bool) -> [bool; 6] {
    let people = match who {
        Who::Anyone => [true, true, true],
        // The workshop of these tests does not let guests look.
        Who::Visitor | Who::Member | Who::Owner => [false, true, true],
        Who::Steward => [false, false, true],
    };
    let with = |token: Scope| if is_call { token >= scope } else { people[0] };
    [
        people[0],
        people[1],
        people[2],
        with(Scope::Read),
        with(Scope::Write),
        with(Scope::Steward),
    ]
}

/// One row for each route: method, path, who.
const TABLE: &[(&str, &str, Who)] = &[
    ("GET", "/", Who::Visitor),
    ("GET", "/api/v1/bins", Who::Visitor),
    ("POST", "/api/v1/bins", Who::Steward),
    ("GET", "/api/v1/offcuts", Who::Visitor),
    ("POST", "/api/v1/offcuts", Who::Member),
    ("GET", "/api/v1/offcuts/for-strip", Who::Visitor),
    ("POST", "/api/v1/tables/ledger", Who::Steward),
    ("GET", "/api/v1/offcuts/{id}", Who::Visitor),
    ("PUT", "/api/v1/offcuts/{id}", Who::Member),
    ("POST", "/api/v1/offcuts/{id}/move", Who::Member),
    ("POST", "/api/v1/offcuts/{id}/used-up", Who::Member),
    ("GET", "/api/v1/today", Who::Visitor),
    ("GET", "/api/v1/wall", Who::Visitor),
    ("GET", "/api/v1/glue-ups", Who::Member),
    ("GET", "/api/v1/me", Who::Member),
    ("PATCH", "/api/v1/me", Who::Member),
    ("GET", "/api/v1/me/tokens", Who::Member),
    ("POST", "/api/v1/me/tokens", Who::Member),
    ("DELETE", "/api/v1/me/tokens/{id}", Who::Member),
    ("GET", "/api/v1/me/notices", Who::Member),
    ("POST", "/api/v1/me/notices", Who::Member),
    ("PATCH", "/api/v1/me/notices/{id}", Who::Member),
    ("DELETE", "/api/v1/me/notices/{id}", Who::Member),
    ("GET", "/api/v1/members", Who::Member),
    ("PATCH", "/api/v1/members/{id}", Who::Steward),
    ("POST", "/api/v1/members/{id}/reset-link", Who::Steward),
    ("POST", "/api/v1/invitations", Who::Steward),
    ("GET", "/api/v1/calculations", Who::Anyone),
    ("POST", "/api/v1/calculations/match", Who::Anyone),
    ("POST", "/api/v1/calculations/{name}", Who::Anyone),
    ("POST", "/api/v1/calculations/schedule", Who::Anyone),
    ("GET", "/api/v1/bins/{id}", Who::Visitor),
    ("PUT", "/api/v1/bins/{id}", Who::Steward),
    ("DELETE", "/api/v1/bins/{id}", Who::Steward),
    ("GET", "/api/v1/changes", Who::Member),
    ("GET", "/api/v1/labels", Who::Visitor),
    ("GET", "/api/v1/ledger", Who::Member),
    ("GET", "/api/v1/ledger/sums", Who::Member),
    ("GET", "/api/v1/ledger/sums-by", Who::Member),
    ("GET", "/api/v1/lumber", Who::Visitor),
    ("POST", "/api/v1/lumber", Who::Steward),
    ("GET", "/api/v1/lumber/{id}", Who::Visitor),
    ("PUT", "/api/v1/lumber/{id}", Who::Steward),
    ("DELETE", "/api/v1/lumber/{id}", Who::Steward),
    ("GET", "/api/v1/me/calendar", Who::Member),
    ("POST", "/api/v1/me/calendar", Who::Member),
    ("DELETE", "/api/v1/me/calendar", Who::Member),
    ("PUT", "/api/v1/me/password", Who::Member),
    ("DELETE", "/api/v1/me/sessions", Who::Member),
    ("GET", "/api/v1/invitations", Who::Steward),
    ("DELETE", "/api/v1/invitations/{id}", Who::Steward),
    ("POST", "/api/v1/offcuts/lines", Who::Member),
    ("GET", "/api/v1/offcuts/by-tag/{tag}", Who::Visitor),
    ("POST", "/api/v1/offcuts/{id}/claims", Who::Member),
    ("GET", "/api/v1/offcuts/{id}/drawing", Who::Visitor),
    ("GET", "/api/v1/offcuts/{id}/photo", Who::Visitor),
    ("PUT", "/api/v1/offcuts/{id}/photo", Who::Member),
    ("DELETE", "/api/v1/offcuts/{id}/photo", Who::Member),
    ("GET", "/api/v1/openapi.json", Who::Anyone),
    ("GET", "/api/v1/openings", Who::Visitor),
    ("GET", "/api/v1/openings/{kind}", Who::Visitor),
    ("POST", "/api/v1/openings/{kind}", Who::Steward),
    ("GET", "/api/v1/openings/{kind}/{id}", Who::Visitor),
    ("PUT", "/api/v1/openings/{kind}/{id}", Who::Steward),
    ("DELETE", "/api/v1/openings/{kind}/{id}", Who::Steward),
    ("GET", "/api/v1/projects/compare", Who::Member),
    ("GET", "/api/v1/projects/{id}/arrangements", Who::Member),
    ("POST", "/api/v1/projects/{id}/arrangements", Who::Owner),
    (
        "GET",
        "/api/v1/projects/{id}/cuts/{layout}/drawing",
        Who::Member,
    ),
    ("GET", "/api/v1/projects/{id}/drawing", Who::Member),
    ("POST", "/api/v1/projects/{id}/match/stop", Who::Owner),
    ("POST", "/api/v1/projects/{id}/needs", Who::Owner),
    ("GET", "/api/v1/projects/{id}/templates", Who::Member),
    ("GET", "/api/v1/projects/{id}/templates/{name}", Who::Member),
    ("GET", "/api/v1/reference/abrasives", Who::Visitor),
    ("GET", "/api/v1/reference/cautions", Who::Visitor),
    ("GET", "/api/v1/reference/defaults", Who::Visitor),
    ("GET", "/api/v1/reference/finishes", Who::Visitor),
    ("GET", "/api/v1/reference/glues", Who::Visitor),
    ("GET", "/api/v1/reference/gluing", Who::Visitor),
    ("GET", "/api/v1/reference/lumber-sizes", Who::Visitor),
    ("GET", "/api/v1/reference/machining", Who::Visitor),
    ("GET", "/api/v1/reference/words", Who::Visitor),
    ("GET", "/api/v1/resources", Who::Visitor),
    ("POST", "/api/v1/resources", Who::Steward),
    ("GET", "/api/v1/resources/{id}", Who::Visitor),
    ("PUT", "/api/v1/resources/{id}", Who::Steward),
    ("DELETE", "/api/v1/resources/{id}", Who::Steward),
    ("GET", "/api/v1/tables/ledger", Who::Member),
    ("GET", "/api/v1/tables/{table}", Who::Member),
    ("POST", "/api/v1/tables/{table}", Who::Steward),
    ("GET", "/api/v1/workshop", Who::Member),
    ("PATCH", "/api/v1/workshop", Who::Steward),
    ("GET", "/api/v1/audit-trail", Who::Steward),
    ("GET", "/workshop/changes", Who::Steward),
    ("GET", "/bins", Who::Visitor),
    ("POST", "/bins", Who::Steward),
    ("GET", "/bins/new", Who::Steward),
    ("GET", "/bins/strip", Who::Visitor),
    ("GET", "/bins/{id}", Who::Visitor),
    ("POST", "/bins/{id}", Who::Steward),
    ("GET", "/bins/{id}/edit", Who::Steward),
    ("POST", "/bins/{id}/remove", Who::Steward),
    ("GET", "/labels", Who::Visitor),
    ("GET", "/labels/print", Who::Visitor),
    ("POST", "/offcuts", Who::Member),
    ("POST", "/offcuts/lines", Who::Member),
    ("GET", "/offcuts/new", Who::Member),
    ("GET", "/offcuts/{id}", Who::Visitor),
    ("POST", "/offcuts/{id}", Who::Member),
    ("GET", "/offcuts/{id}/edit", Who::Member),
    ("POST", "/offcuts/{id}/claim", Who::Member),
    ("POST", "/offcuts/{id}/move", Who::Member),
    ("GET", "/offcuts/{id}/photo", Who::Visitor),
    ("POST", "/offcuts/{id}/photo", Who::Member),
    ("POST", "/offcuts/{id}/photo/remove", Who::Member),
    ("POST", "/offcuts/{id}/used-up", Who::Member),
    ("GET", "/t/{tag}", Who::Visitor),
    ("GET", "/api/v1/projects", Who::Member),
    ("POST", "/api/v1/projects", Who::Member),
    ("POST", "/api/v1/projects/together", Who::Owner),
    ("GET", "/api/v1/projects/together/{id}", Who::Member),
    ("POST", "/api/v1/projects/together/{id}/claims", Who::Owner),
    ("GET", "/api/v1/projects/{id}", Who::Member),
    ("PATCH", "/api/v1/projects/{id}", Who::Owner),
    ("DELETE", "/api/v1/projects/{id}", Who::Owner),
    ("GET", "/api/v1/projects/{id}/advice", Who::Member),
    ("GET", "/api/v1/projects/{id}/bench-sheet", Who::Member),
    (
        "DELETE",
        "/api/v1/projects/{id}/boards/{layout}",
        Who::Owner,
    ),
    ("GET", "/api/v1/projects/{id}/claims", Who::Member),
    ("POST", "/api/v1/projects/{id}/claims", Who::Owner),
    ("PATCH", "/api/v1/projects/{id}/claims", Who::Owner),
    ("DELETE", "/api/v1/projects/{id}/claims/{claim}", Who::Owner),
    ("GET", "/api/v1/projects/{id}/cuts", Who::Member),
    ("POST", "/api/v1/projects/{id}/cuts/{layout}", Who::Owner),
    ("GET", "/api/v1/projects/{id}/design", Who::Member),
    ("PUT", "/api/v1/projects/{id}/design", Who::Owner),
    ("GET", "/api/v1/projects/{id}/match", Who::Member),
    ("POST", "/api/v1/projects/{id}/match", Who::Owner),
    ("GET", "/api/v1/projects/{id}/needs", Who::Member),
    ("PUT", "/api/v1/projects/{id}/stage", Who::Owner),
    ("GET", "/api/v1/projects/{id}/plan", Who::Member),
    ("POST", "/api/v1/projects/{id}/plan", Who::Owner),
    ("DELETE", "/api/v1/projects/{id}/plan", Who::Owner),
    ("GET", "/api/v1/projects/{id}/plan/dates", Who::Member),
    ("POST", "/api/v1/projects/{id}/plan/what-if", Who::Member),
    ("POST", "/api/v1/plans", Who::Steward),
    ("POST", "/api/v1/plans/what-if", Who::Steward),
    ("GET", "/api/v1/plans/{id}", Who::Member),
    ("POST", "/api/v1/plans/{id}/accept", Who::Owner),
    (
        "GET",
        "/api/v1/plans/{id}/projects/{project}/steps/{step}/reasons",
        Who::Member,
    ),
    ("GET", "/api/v1/bookings", Who::Member),
    ("GET", "/api/v1/bookings/{id}", Who::Member),
    ("GET", "/api/v1/bookings/{id}/reasons", Who::Member),
    ("GET", "/api/v1/bookings/{id}/times", Who::Owner),
    ("POST", "/api/v1/bookings/{id}/begin", Who::Owner),
    ("POST", "/api/v1/bookings/{id}/done", Who::Owner),
    ("POST", "/api/v1/bookings/{id}/move", Who::Owner),
    ("PUT", "/api/v1/bookings/{id}/pin", Who::Steward),
    ("GET", "/healthz", Who::Anyone),
    ("GET", "/join/{token}", Who::Anyone),
    ("POST", "/join/{token}", Who::Anyone),
    ("GET", "/ledger", Who::Member),
    ("GET", "/ledger/export", Who::Member),
    ("GET", "/me", Who::Member),
    ("POST", "/me", Who::Member),
    ("POST", "/me/password", Who::Member),
    ("POST", "/me/tokens", Who::Member),
    ("POST", "/me/tokens/{id}/end", Who::Member),
    ("GET", "/me/notices", Who::Member),
    ("POST", "/me/notices", Who::Member),
    ("POST", "/me/notices/{id}/on", Who::Member),
    ("POST", "/me/notices/{id}/off", Who::Member),
    ("POST", "/me/notices/{id}/remove", Who::Member),
    ("GET", "/members", Who::Member),
    ("POST", "/members/invitations", Who::Steward),
    ("POST", "/members/invitations/{id}/withdraw", Who::Steward),
    ("POST", "/members/{id}/leave", Who::Steward),
    ("POST", "/members/{id}/reset-link", Who::Steward),
    ("POST", "/members/{id}/return", Who::Steward),
    ("POST", "/members/{id}/role", Who::Steward),
    ("GET", "/metrics", Who::Anyone),
    ("GET", "/projects", Who::Member),
    ("GET", "/projects/new", Who::Member),
    ("POST", "/projects/new", Who::Member),
    ("GET", "/projects/compare", Who::Member),
    ("GET", "/projects/together", Who::Member),
    ("POST", "/projects/together", Who::Owner),
    ("GET", "/projects/together/{id}", Who::Member),
    ("POST", "/projects/together/{id}/claims", Who::Owner),
    ("GET", "/projects/{id}", Who::Member),
    ("GET", "/projects/{id}/arrangements", Who::Member),
    ("POST", "/projects/{id}/arrangements", Who::Owner),
    ("GET", "/projects/{id}/design", Who::Member),
    ("GET", "/projects/{id}/bench-sheet", Who::Member),
    ("POST", "/projects/{id}/boards/{layout}/drop", Who::Owner),
    ("POST", "/projects/{id}/claims", Who::Owner),
    ("POST", "/projects/{id}/claims/extend", Who::Owner),
    ("POST", "/projects/{id}/claims/{claim}/let-go", Who::Owner),
    ("POST", "/projects/{id}/claims/{claim}/put-back", Who::Owner),
    ("GET", "/projects/{id}/cuts", Who::Member),
    ("POST", "/projects/{id}/cuts/{layout}", Who::Owner),
    ("GET", "/projects/{id}/match", Who::Member),
    ("POST", "/projects/{id}/match", Who::Owner),
    ("GET", "/projects/{id}/match/progress", Who::Member),
    ("POST", "/projects/{id}/match/stop", Who::Owner),
    ("GET", "/bookings/{id}", Who::Member),
    ("POST", "/bookings/{id}/begin", Who::Owner),
    ("POST", "/bookings/{id}/done", Who::Owner),
    ("POST", "/bookings/{id}/move", Who::Owner),
    ("POST", "/bookings/{id}/pin", Who::Steward),
    ("GET", "/calendar/{token}", Who::Anyone),
    ("GET", "/calendar/{token}/workshop", Who::Anyone),
    ("POST", "/me/calendar", Who::Member),
    ("POST", "/me/calendar/end", Who::Member),
    ("GET", "/glue-ups", Who::Member),
    ("GET", "/glue-ups/plan", Who::Steward),
    ("POST", "/glue-ups/plan", Who::Steward),
    ("GET", "/glue-ups/plan/what-if", Who::Steward),
    ("GET", "/glue-ups/plan/{id}", Who::Steward),
    ("POST", "/glue-ups/plan/{id}/accept", Who::Steward),
    ("GET", "/projects/{id}/plan/dates", Who::Member),
    ("GET", "/wall", Who::Visitor),
    ("GET", "/projects/{id}/plan", Who::Member),
    ("POST", "/projects/{id}/plan", Who::Owner),
    ("POST", "/projects/{id}/plan/accept", Who::Owner),
    ("POST", "/projects/{id}/plan/cancel", Who::Owner),
    ("GET", "/projects/{id}/templates", Who::Member),
    ("GET", "/projects/{id}/templates/{name}", Who::Member),
    ("POST", "/projects/{id}/design", Who::Owner),
    ("POST", "/projects/{id}/design/live", Who::Owner),
    ("POST", "/projects/{id}/give-up", Who::Owner),
    ("POST", "/projects/{id}/stage", Who::Owner),
    ("GET", "/readyz", Who::Anyone),
    ("GET", "/reference", Who::Visitor),
    ("GET", "/reference/abrasives", Who::Visitor),
    ("GET", "/reference/calls", Who::Visitor),
    ("GET", "/reference/calls/{group}", Who::Visitor),
    ("GET", "/reference/cautions", Who::Visitor),
    ("GET", "/reference/defaults", Who::Visitor),
    ("GET", "/reference/finishes", Who::Visitor),
    ("GET", "/reference/glues", Who::Visitor),
    ("GET", "/reference/lumber", Who::Visitor),
    ("GET", "/reference/machining", Who::Visitor),
    ("GET", "/reference/words", Who::Visitor),
    ("GET", "/reference/calculators", Who::Visitor),
    ("GET", "/reference/calculators/{name}", Who::Visitor),
    ("GET", "/reference/woods", Who::Visitor),
    ("POST", "/reference/woods", Who::Steward),
    ("GET", "/reference/woods/new", Who::Steward),
    ("GET", "/reference/woods/{name}", Who::Visitor),
    ("POST", "/reference/woods/{name}", Who::Steward),
    ("GET", "/reference/woods/{name}/edit", Who::Steward),
    ("POST", "/reference/woods/{name}/forget", Who::Steward),
    ("GET", "/api/v1/species", Who::Visitor),
    ("POST", "/api/v1/species", Who::Steward),
    ("GET", "/api/v1/species/{name}", Who::Visitor),
    ("PUT", "/api/v1/species/{name}", Who::Steward),
    ("DELETE", "/api/v1/species/{name}", Who::Steward),
    ("GET", "/sign-in", Who::Anyone),
    ("POST", "/sign-in", Who::Anyone),
    ("POST", "/sign-out", Who::Anyone),
    ("POST", "/sign-out-everywhere", Who::Member),
    ("GET", "/static/{name}", Who::Anyone),
    ("GET", "/workshop", Who::Visitor),
    ("GET", "/workshop/clamps", Who::Visitor),
    ("POST", "/workshop/clamps", Who::Steward),
    ("GET", "/workshop/clamps/new", Who::Steward),
    ("GET", "/workshop/clamps/{id}", Who::Steward),
    ("POST", "/workshop/clamps/{id}", Who::Steward),
    ("POST", "/workshop/clamps/{id}/remove", Who::Steward),
    ("GET", "/workshop/export/{table}", Who::Member),
    ("GET", "/workshop/import", Who::Steward),
    ("POST", "/workshop/import", Who::Steward),
    ("GET", "/workshop/lumber", Who::Visitor),
    ("POST", "/workshop/lumber", Who::Steward),
    ("GET", "/workshop/lumber/new", Who::Steward),
    ("GET", "/workshop/lumber/{id}", Who::Steward),
    ("POST", "/workshop/lumber/{id}", Who::Steward),
    ("POST", "/workshop/lumber/{id}/remove", Who::Steward),
    ("GET", "/workshop/openings", Who::Visitor),
    ("POST", "/workshop/openings/{kind}", Who::Steward),
    ("GET", "/workshop/openings/{kind}/new", Who::Steward),
    ("GET", "/workshop/openings/{kind}/{id}", Who::Steward),
    ("POST", "/workshop/openings/{kind}/{id}", Who::Steward),
    (
        "POST",
        "/workshop/openings/{kind}/{id}/remove",
        Who::Steward,
    ),
    ("GET", "/workshop/settings", Who::Steward),
    ("POST", "/workshop/settings", Who::Steward),
    ("GET", "/workshop/settings/{part}", Who::Steward),
    ("POST", "/workshop/settings/{part}", Who::Steward),
    ("GET", "/workshop/start", Who::Steward),
    ("POST", "/workshop/start/stations", Who::Steward),
];

#[tokio::test]
async fn the_table_names_every_route_and_no_other() {
    let app = TestApp::new().await;
    let routed: BTreeMap<_, _> = route_table(&app.app)
        .into_iter()
        .map(|route| ((route.path, route.method.to_string()), route.who))
        .collect();
    let mut written = BTreeMap::new();
    for (method, path, who) in TABLE {
        let before = written.insert(((*path).to_owned(), (*method).to_owned()), *who);
        assert!(before.is_none(), "{method} {path} is written twice");
    }
    for (key, who) in &routed {
        assert_eq!(
            written.get(key),
            Some(who),
            "{} {}: write its row in TABLE",
            key.1,
            key.0
        );
    }
    for key in written.keys() {
        assert!(
            routed.contains_key(key),
            "{} {} is in TABLE, but not served",
            key.1,
            key.0
        );
    }
}

/// Whether an answer came from behind the gate: whatever the handler then said of a made-up id or an empty form.
fn passed(status: StatusCode, location: &str, detail: &str) -> bool {
    let was_sent_to_sign_in =
        status == StatusCode::SEE_OTHER && location.starts_with("/sign-in?next=");
    let was_refused = status == StatusCode::UNAUTHORIZED
        || (status == StatusCode::FORBIDDEN
            && (detail.contains("Only stewards") || detail.contains("scope does not reach")));
    let was_sent_away = status == StatusCode::SEE_OTHER && location == "/sign-in";
    !(was_sent_to_sign_in || was_refused || was_sent_away)
}

#[tokio::test]
async fn every_route_lets_in_whom_the_table_names() {
    let app = TestApp::new().await;
    let member = app.add("Ada", Role::Member).await;
    let steward = app.add("Sten", Role::Steward).await;
    let tokens = [
        app.script(steward, Scope::Read).await,
        app.script(steward, Scope::Write).await,
        app.script(steward, Scope::Steward).await,
    ];
    for Route {
        method,
        path,
        who,
        scope,
    } in route_table(&app.app)
    {
        // Signing out always leads to the sign-in page.
        if path.starts_with("/sign-out") {
            continue;
        }
        let is_call = path.starts_with("/api/");
        let concrete = filled(&path);
        let may = may(who, scope, is_call);
        let mut got = Vec::new();
        for browser in [
            app.guest(),
            app.browser_of(member).await,
            app.browser_of(steward).await,
        ] {
            let answer = browser
                .send(method.clone(), &concrete, &[], Body::empty())
                .await;
            got.push(passed(
                answer.status,
                &answer.location(),
                &String::from_utf8_lossy(&answer.bytes),
            ));
        }
        for token in &tokens {
            let answer = token.send(method.clone(), &concrete, &[], None).await;
            got.push(passed(
                answer.status,
                &answer.location(),
                &String::from_utf8_lossy(&answer.bytes),
            ));
        }
        assert_eq!(
            got, may,
            "{method} {path} for guest, member, steward, and tokens read, write, steward"
        );
    }
}

/// A path with a made-up value for each variable part.
fn filled(path: &str) -> String {
    path.split('/')
        .map(|part| if part.starts_with('{') { "99999" } else { part })
        .collect::<Vec<_>>()
        .join("/")
}

#[tokio::test]
async fn a_steward_scope_is_worth_nothing_in_the_hands_of_a_member() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let script = app.script(id, Scope::Steward).await;
    let answer = script
        .send(Method::POST, "/api/v1/invitations", &[], None)
        .await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn guests_look_only_where_the_workshop_lets_them() {
    let app = TestApp::new().await;
    assert_eq!(app.guest().get("/").await.status, StatusCode::SEE_OTHER);
    let workshop = scrapwright::store::workshop::get(app.app.store.read())
        .await
        .unwrap();
    let mut settings = workshop.settings.clone();
    settings.guests_may_look = true;
    let by = scrapwright::store::By {
        member: None,
        at: app.app.clock.now(),
    };
    let mut db = app.app.store.begin().await.unwrap();
    scrapwright::store::workshop::update(&mut db, by, workshop.version, "Ours", "UTC", &settings)
        .await
        .unwrap();
    db.commit().await.unwrap();
    assert_eq!(app.guest().get("/").await.status, StatusCode::OK);
    assert_eq!(
        app.guest().get("/members").await.status,
        StatusCode::SEE_OTHER
    );
}
