//! What the program writes to its log, and what it must never write there.

use std::fs::File;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;

use serde_json::{Value, json};

use crate::server::{Server, maple, program};

/// One line for each request with the number that the caller sees, and nothing that a person typed or keeps secret.
#[test]
fn the_log_has_a_line_for_each_request_and_no_secrets() {
    let folder = tempfile::tempdir().unwrap();
    let log = folder.path().join("log.txt");
    let mut logging = program();
    logging
        .args(["serve", "--log", "debug,sqlx=info", "--log-json"])
        .stderr(File::create(&log).unwrap());
    let mut server = Server::spawn(&mut logging, &folder.path().join("workshop.db"));
    let link = server.link.clone().unwrap();
    let odile = server.first_steward();

    let mut secrets = vec![
        link.trim_start_matches("/join/").to_owned(),
        odile.token.clone(),
    ];
    let mut secret = |text: &str| {
        secrets.push(text.to_owned());
        text.to_owned()
    };
    // Words that were typed: a name, two passwords, a note, a search, a tag, a page to come back to.
    secret("Odile");
    secret("odile");
    secret("shavings");
    let signed_in = server.form(
        "/sign-in",
        "",
        "name=odile&password=shavings+on+the+floor&next=%2Fme%3Fwhence%3Dquietroom",
    );
    secret("quietroom");
    let cookie = signed_in
        .lines()
        .find_map(|line| line.strip_prefix("set-cookie: "))
        .and_then(|cookie| cookie.split(';').next())
        .unwrap()
        .to_owned();
    secret(cookie.split_once('=').unwrap().1);
    server.form(
        "/sign-in",
        "",
        &format!(
            "name={}&password={}",
            secret("Mallory"),
            secret("letmein-letmein")
        ),
    );
    let added = odile
        .post("/api/v1/bins", &json!({"name": secret("Underthestairs")}))
        .unwrap();
    assert_eq!(added.status, 201, "{added:?}");
    let added = odile
        .post("/api/v1/offcuts", &maple("3 in", &secret("hiddennote")))
        .unwrap();
    assert_eq!(added.status, 201, "{added:?}");
    let invited = odile
        .post(
            "/api/v1/invitations",
            &json!({"name": secret("Isolde"), "role": "member"}),
        )
        .unwrap();
    assert_eq!(invited.status, 201, "{invited:?}");
    let invitation = secret_in(&invited.body);
    secret(&invitation);
    server.guest().get(&format!("/join/{invitation}"));
    let calendar = odile.post("/api/v1/me/calendar", &Value::Null).unwrap();
    let calendar = secret(&secret_in(&calendar.body));
    assert_eq!(
        server
            .guest()
            .get(&format!("/calendar/{calendar}.ics"))
            .unwrap()
            .status,
        200
    );
    let wrong = secret(&"5e".repeat(32));
    server.guest().get(&format!("/calendar/{wrong}.ics"));
    odile.get(&format!("/t/{}", secret("SCANNED9")));
    odile.get(&format!("/api/v1/offcuts?text={}", secret("lookedfor")));
    let address = format!("http://localhost:9/{}", secret("hearme"));
    let told = odile
        .post("/api/v1/me/notices", &json!({"url": address}))
        .unwrap();
    assert_eq!(told.status, 201, "{told:?}");
    secret(&secret_in(&told.body));
    odile.post(
        "/api/v1/offcuts",
        &json!({"species": secret("moonwood"), "bin": secret("nowhere")}),
    );
    server.guest().get(&format!("/{}", secret("nosuchpage")));
    // A token that is not known, and one in the address.
    let mut stream = TcpStream::connect(&server.address).unwrap();
    write!(
        stream,
        "GET /api/v1/me?token={} HTTP/1.1\r\nhost: workshop.test\r\nconnection: close\r\nauthorization: Bearer {}\r\nreferer: http://{}/\r\n\
         x-forwarded-for: 198.51.100.77\r\n\r\n",
        secret("inaddress"),
        secret(&"4d".repeat(32)),
        secret("whence.example")
    )
    .unwrap();
    let mut unknown = String::new();
    stream.read_to_string(&mut unknown).unwrap();
    assert!(unknown.starts_with("HTTP/1.1 401"), "{unknown}");
    server.terminate();
    server.child.wait().unwrap();

    let text = std::fs::read_to_string(&log).unwrap();
    for secret in &secrets {
        assert!(
            !text.contains(secret.as_str()),
            "{secret:?} is in the log:\n{text}"
        );
    }
    let lines: Vec<Value> = text
        .lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{error}: {line}")))
        .collect();
    let answered: Vec<&Value> = lines
        .iter()
        .filter(|line| line["message"] == "answered")
        .collect();
    // All that was asked above, and the three requests of the first steward.
    assert_eq!(answered.len(), 17, "{text}");
    for line in &answered {
        for field in ["method", "route", "status", "elapsed_ms", "timestamp"] {
            assert!(!line[field].is_null(), "{field} in {line}");
        }
    }
    // The number in the answer finds the line.
    let id = unknown
        .lines()
        .find_map(|line| line.strip_prefix("x-request-id: "))
        .unwrap();
    let of_it: Vec<_> = answered
        .iter()
        .filter(|line| line["span"]["id"] == id)
        .collect();
    assert_eq!(of_it.len(), 1, "{id} in {text}");
    assert_eq!(of_it[0]["status"], 401);
    assert_eq!(of_it[0]["route"], "/api/v1/me");
    assert!(
        unknown.contains(&format!("\"request_id\":\"{id}\"")) || unknown.matches(id).count() > 1,
        "{unknown}"
    );
}

/// The one secret of 64 digits in a text.
fn secret_in(text: &str) -> String {
    text.split(|letter: char| !letter.is_ascii_hexdigit())
        .find(|word| word.len() == 64)
        .unwrap_or_else(|| panic!("no secret in {text}"))
        .to_owned()
}
