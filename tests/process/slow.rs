//! Callers who take their time.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::process::Stdio;
use std::time::{Duration, Instant};

use crate::server::{Server, program};

/// What comes back until the other side ends the connection.
fn read_all(stream: &mut TcpStream) -> String {
    stream
        .set_read_timeout(Some(Duration::from_secs(30)))
        .unwrap();
    let mut bytes = Vec::new();
    // Whoever is cut off may see a reset.
    match stream.read_to_end(&mut bytes) {
        Ok(_) => {}
        Err(error) if error.kind() == std::io::ErrorKind::ConnectionReset => {}
        Err(error) => panic!("it still waits: {error}"),
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// Each would wait for half a minute and fail if the program waited for them without end.
#[test]
fn nobody_keeps_a_connection_by_being_slow() {
    let folder = tempfile::tempdir().unwrap();
    let mut impatient = program();
    impatient
        .args(["serve", "--request-seconds", "1"])
        .stderr(Stdio::null());
    let server = Server::spawn(&mut impatient, &folder.path().join("workshop.db"));
    let connect = || TcpStream::connect(&server.address).unwrap();

    let mut says_nothing = connect();
    let mut says_half = connect();
    says_half
        .write_all(b"GET /healthz HTTP/1.1\r\nhost: workshop.test\r\n")
        .unwrap();
    let mut comes_back_never = connect();
    comes_back_never
        .write_all(b"GET /healthz HTTP/1.1\r\nhost: workshop.test\r\n\r\n")
        .unwrap();
    let mut sends_half = connect();
    sends_half
        .write_all(b"POST /api/v1/calculations/emc HTTP/1.1\r\nhost: workshop.test\r\ncontent-length: 100\r\n\r\n{")
        .unwrap();

    let begun = Instant::now();
    assert!(!read_all(&mut says_nothing).contains(" 200 "));
    assert!(!read_all(&mut says_half).contains(" 200 "));
    assert!(read_all(&mut comes_back_never).starts_with("HTTP/1.1 200 "));
    let cut_off = read_all(&mut sends_half);
    assert!(cut_off.starts_with("HTTP/1.1 503 "), "{cut_off}");
    assert!(cut_off.contains("/problems/too-slow"), "{cut_off}");
    assert!(begun.elapsed() < Duration::from_secs(25));
    assert_eq!(
        server.guest().get("/healthz").map(|answer| answer.status),
        Some(200)
    );
}
