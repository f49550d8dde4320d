//! Signing in, and everything that hangs on it.

use axum::body::Body;
use axum::http::{Method, Request, StatusCode};
use scrapwright::app::{NewLink, PasswordCost, PasswordError, Passwords};
use scrapwright::store::api_token::Scope;
use scrapwright::store::{Role, TokenHash};

use crate::app::{PASSWORD, TestApp};

#[tokio::test]
async fn a_member_signs_in_and_comes_back_to_the_page_that_was_wanted() {
    let app = TestApp::new().await;
    app.add("Ada", Role::Member).await;
    let browser = app.guest();

    let sent_away = browser.get("/me?tab=units").await;
    assert_eq!(sent_away.status, StatusCode::SEE_OTHER);
    assert_eq!(sent_away.location(), "/sign-in?next=%2Fme%3Ftab%3Dunits");

    let page = browser.get(&sent_away.location()).await;
    assert_eq!(
        page.attribute("input[name=next]", "value").unwrap(),
        "/me?tab=units"
    );

    let fields = [
        ("name", "ada"),
        ("password", PASSWORD),
        ("next", "/me?tab=units"),
    ];
    let done = browser.post("/sign-in", &fields).await;
    assert_eq!(done.location(), "/me?tab=units");
    assert_eq!(browser.get("/me").await.status, StatusCode::OK);
}

#[tokio::test]
async fn an_unknown_name_and_a_wrong_password_look_the_same() {
    let app = TestApp::new().await;
    app.add("Ada", Role::Member).await;
    let wrong = app
        .guest()
        .post("/sign-in", &[("name", "Ada"), ("password", "no")])
        .await;
    let unknown = app
        .guest()
        .post("/sign-in", &[("name", "Bo"), ("password", "no")])
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(unknown.status, wrong.status);
    assert_eq!(unknown.one(".wrong"), wrong.one(".wrong"));
    assert_eq!(
        wrong.one(".wrong"),
        "Name and password do not belong together; try again."
    );
    assert_eq!(wrong.attribute("input[name=name]", "value").unwrap(), "Ada");
    assert!(
        !wrong.text().contains("value=\"no\""),
        "a password is never sent back"
    );
}

/// Both answers cost one hashing: an unknown name waits for a turn at it, and what it is compared with is as dear.
#[tokio::test(start_paused = true)]
async fn an_unknown_name_takes_a_turn_at_the_hashing_too() {
    let nobody_gets_a_turn = Passwords::new(PasswordCost::Least, 0);
    let known = Passwords::new(PasswordCost::Least, 1).hash(PASSWORD).await;
    for stored in [None, known.ok()] {
        for password in ["no", PASSWORD, "x".repeat(1000).as_str()] {
            let verified = nobody_gets_a_turn.verify(password, stored.clone()).await;
            assert!(matches!(verified, Err(PasswordError::Busy)), "{stored:?}");
        }
    }
}

#[tokio::test]
async fn the_cookie_is_out_of_reach_of_scripts_and_other_sites() {
    let app = TestApp::new().await;
    app.add("Ada", Role::Member).await;
    let done = app
        .guest()
        .post("/sign-in", &[("name", "Ada"), ("password", PASSWORD)])
        .await;
    let cookie = done.header("set-cookie");
    assert!(cookie.starts_with("scrapwright-session="), "{cookie}");
    for part in ["HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(cookie.contains(part), "{part} in {cookie}");
    }

    let behind_tls = TestApp::with(|config| config.is_secure = true).await;
    behind_tls.add("Ada", Role::Member).await;
    let done = behind_tls
        .guest()
        .post("/sign-in", &[("name", "Ada"), ("password", PASSWORD)])
        .await;
    let cookie = done.header("set-cookie");
    assert!(
        cookie.starts_with("__Host-scrapwright-session="),
        "{cookie}"
    );
    assert!(cookie.contains("Secure"), "{cookie}");
}

#[tokio::test]
async fn signing_in_ends_the_session_that_the_browser_had_before() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let old = browser.cookies.borrow().clone();
    browser
        .post("/sign-in", &[("name", "Ada"), ("password", PASSWORD)])
        .await;
    assert_eq!(browser.get("/me").await.status, StatusCode::OK);
    let thief = app.guest();
    *thief.cookies.borrow_mut() = old;
    assert_eq!(thief.get("/me").await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_session_ends_when_it_is_not_used_and_in_any_case_at_last() {
    let day = 24 * 3600;
    let app = TestApp::new().await;
    app.add("Ada", Role::Member).await;
    let browser = app.guest();
    browser
        .post("/sign-in", &[("name", "Ada"), ("password", PASSWORD)])
        .await;

    for _ in 0..6 {
        app.app.clock.advance(13 * day);
        assert_eq!(browser.get("/me").await.status, StatusCode::OK);
    }
    app.app.clock.advance(13 * day);
    assert_eq!(
        browser.get("/me").await.status,
        StatusCode::SEE_OTHER,
        "after 91 days"
    );

    browser
        .post("/sign-in", &[("name", "Ada"), ("password", PASSWORD)])
        .await;
    app.app.clock.advance(15 * day);
    assert_eq!(
        browser.get("/me").await.status,
        StatusCode::SEE_OTHER,
        "after 15 idle days"
    );
}

#[tokio::test]
async fn signing_out_ends_this_browser_or_all_of_them() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let (phone, desk, laptop) = (
        app.browser_of(id).await,
        app.browser_of(id).await,
        app.browser_of(id).await,
    );
    let stolen = phone.cookies.borrow().clone();
    assert_eq!(
        phone.post_and_follow("/sign-out", &[]).await.one(".flash"),
        "Done: You are signed out."
    );
    *phone.cookies.borrow_mut() = stolen;
    assert_eq!(
        phone.get("/me").await.status,
        StatusCode::SEE_OTHER,
        "the server forgot it too"
    );
    assert_eq!(desk.get("/me").await.status, StatusCode::OK);

    desk.post_and_follow("/sign-out-everywhere", &[]).await;
    assert_eq!(laptop.get("/me").await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn too_many_tries_under_one_name_must_wait() {
    let app = TestApp::new().await;
    let browser = app.guest();
    for _ in 0..10 {
        let answer = browser
            .post("/sign-in", &[("name", "Ada"), ("password", "no")])
            .await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    }
    let answer = browser
        .post("/sign-in", &[("name", "ADA "), ("password", "no")])
        .await;
    assert_eq!(answer.status, StatusCode::TOO_MANY_REQUESTS);
    let wait: u64 = answer.header("retry-after").parse().unwrap();
    assert!((1..=30).contains(&wait), "{wait}");
    let other = browser
        .post("/sign-in", &[("name", "Bo"), ("password", "no")])
        .await;
    assert_eq!(
        other.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "other names are not held up"
    );
}

#[tokio::test]
async fn too_many_tries_from_one_address_must_wait() {
    let app = TestApp::new().await;
    let browser = app.guest();
    for n in 0..30 {
        let name = format!("name {n}");
        let answer = browser
            .post("/sign-in", &[("name", &name), ("password", "no")])
            .await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{n}");
    }
    let answer = browser
        .post("/sign-in", &[("name", "name 30"), ("password", "no")])
        .await;
    assert_eq!(answer.status, StatusCode::TOO_MANY_REQUESTS);
    let wait: u64 = answer.header("retry-after").parse().unwrap();
    assert!((1..=6).contains(&wait), "{wait}");
}

#[tokio::test]
async fn the_first_steward_comes_in_by_a_link_that_works_once() {
    let app = TestApp::new().await;
    let secret = app.app.first_steward_link().await.unwrap().unwrap();
    let path = format!("/join/{}", secret.reveal());
    let browser = app.guest();
    assert_eq!(browser.get(&path).await.one("h1"), "Open the workshop");
    let short = [
        ("name", "Sten"),
        ("sign_in_name", "sten"),
        ("password", "short"),
        ("password_again", "short"),
    ];
    let again = browser.post(&path, &short).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        again.one(".field .wrong"),
        "Password is 5 characters long; must be at least 12."
    );
    assert_eq!(
        again.attribute("#f-password", "aria-describedby").unwrap(),
        "e-password h-password"
    );
    assert_eq!(again.attribute("#f-name", "value").unwrap(), "Sten");

    let right = [
        ("name", "Sten"),
        ("sign_in_name", "sten"),
        ("password", PASSWORD),
        ("password_again", PASSWORD),
    ];
    let today = browser.post_and_follow(&path, &right).await;
    assert_eq!(today.status, StatusCode::OK);
    assert_eq!(browser.get("/members").await.status, StatusCode::OK);
    assert_eq!(app.guest().get(&path).await.status, StatusCode::NOT_FOUND);
    assert!(
        app.app.first_steward_link().await.unwrap().is_none(),
        "there is a steward now"
    );
}

#[tokio::test]
async fn an_invitation_ends_after_a_week() {
    let app = TestApp::new().await;
    let by = app.add("Sten", Role::Steward).await;
    let link = NewLink::Invitation {
        role: Role::Member,
        name: "Ada",
        by,
    };
    let (secret, _) = app.app.make_link(link).await.unwrap();
    let path = format!("/join/{}", secret.reveal());
    assert_eq!(
        app.guest()
            .get(&path)
            .await
            .attribute("#f-name", "value")
            .unwrap(),
        "Ada"
    );
    app.app.clock.advance(7 * 24 * 3600);
    assert_eq!(app.guest().get(&path).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_sign_in_name_belongs_to_one_member() {
    let app = TestApp::new().await;
    let by = app.add("Sten", Role::Steward).await;
    let link = NewLink::Invitation {
        role: Role::Member,
        name: "",
        by,
    };
    let (secret, _) = app.app.make_link(link).await.unwrap();
    let fields = [
        ("name", "Sten the younger"),
        ("sign_in_name", "STEN"),
        ("password", PASSWORD),
        ("password_again", PASSWORD),
    ];
    let answer = app
        .guest()
        .post(&format!("/join/{}", secret.reveal()), &fields)
        .await;
    assert_eq!(
        answer.one(".field .wrong"),
        "Name to sign in with is taken; choose another."
    );
}

#[tokio::test]
async fn a_reset_link_ends_every_session_and_token() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let by = app.add("Sten", Role::Steward).await;
    let old = app.browser_of(id).await;
    let script = app.script(id, Scope::Read).await;
    let (secret, _) = app
        .app
        .make_link(NewLink::Reset { member_id: id, by })
        .await
        .unwrap();
    let path = format!("/join/{}", secret.reveal());
    let new = "chisel and mallet";
    let browser = app.guest();
    browser
        .post_and_follow(&path, &[("password", new), ("password_again", new)])
        .await;
    assert_eq!(browser.get("/me").await.status, StatusCode::OK);
    assert_eq!(old.get("/me").await.status, StatusCode::SEE_OTHER);
    assert_eq!(
        script.get("/api/v1/me").await.status,
        StatusCode::UNAUTHORIZED
    );
    let before = app
        .guest()
        .post("/sign-in", &[("name", "Ada"), ("password", PASSWORD)])
        .await;
    assert_eq!(before.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        app.guest().get(&path).await.status,
        StatusCode::NOT_FOUND,
        "it works once"
    );
}

#[tokio::test]
async fn a_reset_link_ends_after_two_hours() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let by = app.add("Sten", Role::Steward).await;
    let link = NewLink::Reset { member_id: id, by };
    let (secret, _) = app.app.make_link(link).await.unwrap();
    let path = format!("/join/{}", secret.reveal());
    app.app.clock.advance(2 * 3600 - 1);
    assert_eq!(app.guest().get(&path).await.status, StatusCode::OK);
    app.app.clock.advance(1);
    assert_eq!(app.guest().get(&path).await.status, StatusCode::NOT_FOUND);
    let new = [
        ("password", "chisel and mallet"),
        ("password_again", "chisel and mallet"),
    ];
    assert_eq!(
        app.guest().post(&path, &new).await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn a_new_password_needs_the_present_one_and_ends_other_browsers() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let (here, elsewhere) = (app.browser_of(id).await, app.browser_of(id).await);
    let new = "chisel and mallet";
    let wrong = [
        ("present", "not it at all"),
        ("password", new),
        ("password_again", new),
    ];
    let answer = here.post("/me/password", &wrong).await;
    assert_eq!(
        answer.one(".field .wrong"),
        "Present password is not the present password."
    );
    let right = [
        ("present", PASSWORD),
        ("password", new),
        ("password_again", new),
    ];
    here.post_and_follow("/me/password", &right).await;
    assert_eq!(here.get("/me").await.status, StatusCode::OK);
    assert_eq!(elsewhere.get("/me").await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_token_reaches_the_json_interface_as_far_as_its_scope() {
    let app = TestApp::new().await;
    let id = app.add("Sten", Role::Steward).await;
    let read = app.script(id, Scope::Read).await;
    let write = app.script(id, Scope::Write).await;
    assert_eq!(read.get("/api/v1/me").await.json()["name"], "Sten");
    let new = serde_json::json!({"name": "second", "scope": "read"});
    assert_eq!(
        read.post("/api/v1/me/tokens", new.clone()).await.status,
        StatusCode::FORBIDDEN
    );
    assert_eq!(
        write.post("/api/v1/me/tokens", new).await.status,
        StatusCode::CREATED
    );
    let listed = read.get("/api/v1/me/tokens").await.json();
    assert_eq!(listed["items"].as_array().unwrap().len(), 3);
    assert!(listed["items"][2]["used_at"].is_string());
}

#[tokio::test]
async fn a_token_cannot_make_a_stronger_one() {
    let app = TestApp::new().await;
    let id = app.add("Sten", Role::Steward).await;
    let write = app.script(id, Scope::Write).await;
    let stronger = serde_json::json!({"name": "stronger", "scope": "steward"});
    assert_eq!(
        write.post("/api/v1/me/tokens", stronger).await.status,
        StatusCode::FORBIDDEN
    );
}

#[tokio::test]
async fn a_token_opens_no_page() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let script = app.script(id, Scope::Steward).await;
    assert_eq!(script.get("/me").await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_form_from_another_site_is_refused() {
    let app = TestApp::new().await;
    let browser = app.member("Ada").await;
    let cookie = format!(
        "scrapwright-session={}",
        browser.cookies.borrow()["scrapwright-session"]
    );
    let cases = [
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
        ("origin", "https://elsewhere.example"),
        ("origin", "null"),
    ];
    for (name, value) in cases {
        let request = Request::builder()
            .method(Method::POST)
            .uri("/sign-out-everywhere")
            .header("host", "workshop.test")
            .header("cookie", &cookie)
            .header(name, value)
            .body(Body::empty())
            .unwrap();
        assert_eq!(
            app.send(request).await.status,
            StatusCode::FORBIDDEN,
            "{name}: {value}"
        );
    }
    assert_eq!(
        browser.get("/me").await.status,
        StatusCode::OK,
        "still signed in"
    );
}

#[tokio::test]
async fn only_hashes_of_secrets_are_stored() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let browser = app.guest();
    browser
        .post("/sign-in", &[("name", "Ada"), ("password", PASSWORD)])
        .await;
    let session = browser.cookies.borrow()["scrapwright-session"].clone();
    let script = app.script(id, Scope::Read).await;
    assert_eq!(session.len(), 64, "256 bits in hexadecimal");
    app.app.store.close().await;
    let file = std::fs::read(app.app.store.path()).unwrap();
    for secret in [session.as_str(), script.token.as_str(), PASSWORD] {
        let found = file
            .windows(secret.len())
            .any(|window| window == secret.as_bytes());
        assert!(!found, "a secret lies in the file");
    }
    assert_ne!(TokenHash::of(&session), TokenHash::of(&script.token));
}

#[tokio::test]
async fn who_left_is_out_at_once() {
    let app = TestApp::new().await;
    let id = app.add("Ada", Role::Member).await;
    let browser = app.browser_of(id).await;
    let script = app.script(id, Scope::Read).await;
    let steward = app.steward().await;
    let page = steward.get("/members").await;
    assert_eq!(page.status, StatusCode::OK);
    steward
        .post_and_follow(&format!("/members/{id}/leave"), &[("version", "1")])
        .await;
    assert_eq!(browser.get("/me").await.status, StatusCode::SEE_OTHER);
    assert_eq!(
        script.get("/api/v1/me").await.status,
        StatusCode::UNAUTHORIZED
    );
}
