//! Notices to members' own programs: signed, told once, never into the workshop's own network.

use std::net::IpAddr;

use scrapwright::app::notices::{self, NoticeError, SIGNATURE_HEADER, TIME_HEADER};
use scrapwright::store::notice_address::{self, NoticeAddress};
use scrapwright::store::{NoticeAddressId, workshop};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpListener;

use super::bench::{Bench, inches};

#[test]
fn addresses_that_are_not_of_the_public_internet_are_inside() {
    // IANA IPv4 and IPv6 Special-Purpose Address Registries.
    for inside in [
        "127.0.0.1",
        "10.1.2.3",
        "172.16.0.1",
        "172.31.255.255",
        "192.168.1.1",
        "169.254.169.254",
        "100.64.0.1",
        "0.0.0.0",
        "192.0.0.8",
        "198.18.0.1",
        "203.0.113.7",
        "224.0.0.1",
        "255.255.255.255",
        "240.0.0.1",
        "::1",
        "::",
        "fe80::1",
        "fc00::1",
        "fd12:3456::1",
        "ff02::1",
        "::ffff:127.0.0.1",
        "::ffff:10.0.0.1",
        "64:ff9b::a00:1",
        "2002:7f00:1::",
        "2001:db8::1",
        "2001::1",
        "3fff::1",
    ] {
        assert!(
            notices::is_inside(inside.parse::<IpAddr>().unwrap()),
            "{inside}"
        );
    }
    for outside in [
        "1.1.1.1",
        "172.32.0.1",
        "100.128.0.1",
        "192.0.1.1",
        "2606:4700::1111",
        "2a00::1",
    ] {
        assert!(
            !notices::is_inside(outside.parse::<IpAddr>().unwrap()),
            "{outside}"
        );
    }
}

#[test]
fn only_plain_addresses_are_taken() {
    assert!(notices::read_url(" https://shop.example/notices ").is_ok());
    for wrong in [
        "",
        "shop.example",
        "ftp://shop.example",
        "file:///etc/passwd",
        "https://a:b@shop.example",
    ] {
        assert!(
            matches!(notices::read_url(wrong), Err(NoticeError::NoUrl)),
            "{wrong}"
        );
    }
    let long = format!("https://shop.example/{}", "a".repeat(500));
    assert!(matches!(
        notices::read_url(&long),
        Err(NoticeError::TooLong)
    ));
}

#[test]
fn a_signature_is_the_one_that_another_library_makes() {
    // Made with the hmac module of Python's standard library over "7.what do ya want for nothing?", the key and text
    // of RFC 4231, test case 2, behind the time.
    assert_eq!(
        notices::sign("Jefe", 7, b"what do ya want for nothing?"),
        "sha256=239f4b39fd23f4376db46b239fae471e7c6824b3931bc60f4c0b745bef8de34f"
    );
}

async fn address(bench: &Bench, id: NoticeAddressId) -> NoticeAddress {
    notice_address::find(bench.app.store.read(), id)
        .await
        .unwrap()
        .unwrap()
}

async fn allow_inside(bench: &Bench) {
    let mut db = bench.app.store.begin().await.unwrap();
    let mut known = workshop::get(&mut *db).await.unwrap();
    known.settings.notices_inside = true;
    workshop::update(
        &mut db,
        bench.by(),
        known.version,
        &known.name,
        "UTC",
        &known.settings,
    )
    .await
    .unwrap();
    db.commit().await.unwrap();
}

/// Takes one post, answers with `status`, and gives its head and body.
async fn take_post(listener: TcpListener, status: &'static str) -> (String, String) {
    let (mut stream, _) = listener.accept().await.unwrap();
    let mut read = Vec::new();
    let mut buffer = [0; 4096];
    loop {
        let n_bytes = stream.read(&mut buffer).await.unwrap();
        read.extend(&buffer[..n_bytes]);
        let text = String::from_utf8(read.clone()).unwrap();
        let Some((head, body)) = text.split_once("\r\n\r\n") else {
            continue;
        };
        let length = head.to_lowercase();
        let length = length.split("content-length: ").nth(1).and_then(|rest| {
            rest.lines()
                .next()
                .and_then(|line| line.trim().parse::<usize>().ok())
        });
        if body.len() >= length.unwrap() {
            let answer =
                format!("HTTP/1.1 {status}\r\ncontent-length: 0\r\nconnection: close\r\n\r\n");
            stream.write_all(answer.as_bytes()).await.unwrap();
            return (head.to_lowercase(), body.to_owned());
        }
    }
}

#[tokio::test]
async fn a_change_is_posted_once_and_signed() {
    let bench = Bench::new().await;
    allow_inside(&bench).await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let url = format!(
        "http://127.0.0.1:{}/hear",
        listener.local_addr().unwrap().port()
    );
    let mut db = bench.app.store.begin().await.unwrap();
    let id = notice_address::create(&mut db, bench.by(), bench.ada, &url, "key")
        .await
        .unwrap();
    db.commit().await.unwrap();
    bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 1))
        .await;
    let taken = tokio::spawn(take_post(listener, "204 No Content"));
    assert_eq!(notices::tell(&bench.app).await.unwrap(), 1);
    let (head, body) = taken.await.unwrap();
    let header = |name: &str| {
        let line = head
            .lines()
            .find(|line| line.starts_with(&format!("{name}: ")))
            .unwrap();
        line.split_once(": ").unwrap().1.to_owned()
    };
    let time: i64 = header(TIME_HEADER).parse().unwrap();
    assert_eq!(
        header(SIGNATURE_HEADER),
        notices::sign("key", time, body.as_bytes())
    );
    let body: serde_json::Value = serde_json::from_str(&body).unwrap();
    assert_eq!(
        body["changes"].as_array().unwrap().len(),
        1,
        "not of the address itself"
    );
    assert_eq!(body["changes"][0]["noun"], "offcut");
    assert_eq!(body["changes"][0]["detail"], "A001");
    // Nothing new, nothing posted.
    assert_eq!(notices::tell(&bench.app).await.unwrap(), 0);
    assert_eq!(address(&bench, id).await.failures, 0);
}

#[tokio::test]
async fn nothing_is_posted_inside_unless_a_steward_allows_it_and_failures_wait() {
    let bench = Bench::new().await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let url = format!(
        "http://localhost:{}/hear",
        listener.local_addr().unwrap().port()
    );
    let mut db = bench.app.store.begin().await.unwrap();
    let id = notice_address::create(&mut db, bench.by(), bench.ada, &url, "key")
        .await
        .unwrap();
    db.commit().await.unwrap();
    bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 1))
        .await;
    assert_eq!(notices::tell(&bench.app).await.unwrap(), 0);
    assert_eq!(address(&bench, id).await.failures, 1);
    // Not tried again before a minute has passed.
    notices::tell(&bench.app).await.unwrap();
    assert_eq!(address(&bench, id).await.failures, 1);
    for failures in 2..=16 {
        bench.app.clock.advance(43_200);
        notices::tell(&bench.app).await.unwrap();
        assert_eq!(address(&bench, id).await.failures, failures);
    }
    assert!(
        !address(&bench, id).await.is_active,
        "sixteen times in vain is enough"
    );
    let accepted = tokio::time::timeout(std::time::Duration::from_millis(20), listener.accept());
    assert!(accepted.await.is_err(), "nobody knocked");
}

#[tokio::test]
async fn no_way_of_writing_an_address_leads_inside() {
    let bench = Bench::new().await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    let mut ids = Vec::new();
    for host in [
        "127.0.0.1",
        "127.1",
        "2130706433",
        "0x7f000001",
        "0177.0.0.1",
        "0",
        "[::1]",
        "[::ffff:127.0.0.1]",
        "[::ffff:7f00:1]",
        "[64:ff9b::7f00:1]",
        "localhost",
        "LOCALHOST.",
        "127\u{3002}0\u{3002}0\u{3002}1",
    ] {
        let url = notices::read_url(&format!("http://{host}:{port}/hear")).unwrap();
        let mut db = bench.app.store.begin().await.unwrap();
        let id = notice_address::create(&mut db, bench.by(), bench.ada, url.as_str(), "key").await;
        ids.push((host, id.unwrap()));
        db.commit().await.unwrap();
    }
    bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 1))
        .await;
    assert_eq!(notices::tell(&bench.app).await.unwrap(), 0);
    for (host, id) in ids {
        assert_eq!(address(&bench, id).await.failures, 1, "{host}");
    }
    let accepted = tokio::time::timeout(std::time::Duration::from_millis(20), listener.accept());
    assert!(accepted.await.is_err(), "somebody knocked");
}

#[tokio::test]
async fn a_redirect_is_not_followed() {
    let bench = Bench::new().await;
    allow_inside(&bench).await;
    let (listener, elsewhere) = (
        TcpListener::bind("127.0.0.1:0").await.unwrap(),
        TcpListener::bind("127.0.0.1:0").await.unwrap(),
    );
    let port = |listener: &TcpListener| listener.local_addr().unwrap().port();
    let url = format!("http://127.0.0.1:{}/hear", port(&listener));
    let mut db = bench.app.store.begin().await.unwrap();
    let id = notice_address::create(&mut db, bench.by(), bench.ada, &url, "key")
        .await
        .unwrap();
    db.commit().await.unwrap();
    bench
        .add(&bench.maple(inches(24, 1), inches(3, 1), 1))
        .await;
    let status: &'static str = format!(
        "307 Temporary Redirect\r\nlocation: http://127.0.0.1:{}/",
        port(&elsewhere)
    )
    .leak();
    let taken = tokio::spawn(take_post(listener, status));
    assert_eq!(notices::tell(&bench.app).await.unwrap(), 0);
    taken.await.unwrap();
    assert_eq!(address(&bench, id).await.failures, 1);
    let accepted = tokio::time::timeout(std::time::Duration::from_millis(20), elsewhere.accept());
    assert!(accepted.await.is_err(), "somebody knocked elsewhere");
}
