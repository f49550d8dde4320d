//! The program as it is run: commands, exit statuses, files it refuses, and ending when asked to.

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};

use axum::body::Body;
use axum::http::Request;
use serde_json::{Value, json};
use sqlx::Connection as _;

use crate::app::TestApp;

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_scrapwright"));
    command.env_clear();
    command
}

fn run(args: &[&str]) -> Output {
    program().args(args).output().unwrap()
}

fn calculate(name: &str, body: &str) -> Output {
    let mut child = program()
        .args(["calculate", name, "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child
        .stdin
        .take()
        .unwrap()
        .write_all(body.as_bytes())
        .unwrap();
    child.wait_with_output().unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A server on a free port, ended when dropped.
struct Server {
    child: Child,
    lines: std::io::Lines<BufReader<std::process::ChildStdout>>,
    address: String,
}

impl Server {
    fn start(data: &Path) -> Server {
        let mut child = program()
            .args([
                "serve",
                "--listen",
                "127.0.0.1:0",
                "--shutdown-seconds",
                "5",
                "--data",
            ])
            .arg(data)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let serving = lines
            .find(|line| line.as_ref().unwrap().starts_with("Serving "))
            .unwrap()
            .unwrap();
        let address = serving.rsplit("http://").next().unwrap().to_owned();
        Server {
            child,
            lines,
            address,
        }
    }

    fn get(&self, path: &str) -> String {
        use std::io::Read as _;
        let mut stream = std::net::TcpStream::connect(&self.address).unwrap();
        write!(
            stream,
            "GET {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\n\r\n",
            self.address
        )
        .unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    fn terminate(&self) {
        let id = self.child.id().to_string();
        assert!(
            Command::new("kill")
                .args(["-TERM", &id])
                .status()
                .unwrap()
                .success()
        );
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Name, request, exit status of the command, status over HTTP.
fn cases() -> Vec<(&'static str, Value, i32, u16)> {
    let day = |tasks: Value| json!({"from": "2027-03-01T00:00", "to": "2027-03-01T08:00", "resources": [], "tasks": tasks});
    let glue_up = |glue: &str| {
        json!({"length": "18 in", "height": "1 1/2 in", "glue": glue, "for_food": true,
               "strips": [{"width": "3/4 in", "count": 14}]})
    };
    let clamping = |newtons: i64| {
        json!({"length": "18 in", "width": "10 in", "height": "1 1/2 in", "species": ["hard maple"],
               "clamp_force_n": newtons, "clamp_reach": "24 in", "caul_depth": "2 in"})
    };
    let strip = |length: &str| {
        json!({
            "stock": [{"id": "A", "species": "hard maple", "length": "26 in", "width": "3 1/4 in", "thickness": "7/8 in"}],
            "strips": [{"id": "s", "species": ["hard maple"], "length": length, "sections": [{"rip": "1 5/8 in", "thickness": "3/4 in"}]}],
        })
    };
    vec![
        ("match", strip("17 1/2 in"), 0, 200),
        ("match", strip("nothing"), 2, 422),
        ("match", json!({"stock": []}), 2, 422),
        (
            "schedule",
            day(json!([{"id": "mill", "minutes": 90}])),
            0,
            200,
        ),
        (
            "schedule",
            day(json!([{"id": "mill", "minutes": -1}])),
            2,
            422,
        ),
        (
            "schedule",
            day(json!([{"id": "mill", "minutes": 481}])),
            3,
            422,
        ),
        (
            "board-feet",
            json!({"length": "96 in", "width": "6 in", "thickness": "1 in"}),
            0,
            200,
        ),
        ("board-feet", json!({"length": "96 in"}), 2, 422),
        (
            "emc",
            json!({"temperature_c": 21.1, "relative_humidity_percent": 50, "colour": 1}),
            2,
            422,
        ),
        // What wood, air, glue and clamps cannot be is refused by both, not reckoned with.
        (
            "emc",
            json!({"temperature_c": 21.1, "relative_humidity_percent": 100.5}),
            2,
            422,
        ),
        (
            "movement",
            json!({"species": "black cherry", "width": "10 in", "growth_rings": "flat-sawn",
                   "from_mc_percent": -1, "to_mc_percent": 10}),
            2,
            422,
        ),
        (
            "movement",
            json!({"species": "moonwood", "width": "10 in", "growth_rings": "flat-sawn",
                   "from_mc_percent": 6, "to_mc_percent": 10}),
            2,
            422,
        ),
        ("glue-up", glue_up("casein"), 2, 422),
        ("glue-up", glue_up("crosslinked PVA"), 0, 200),
        ("clamping", clamping(0), 2, 422),
        ("clamping", clamping(4500), 0, 200),
    ]
}

#[tokio::test]
async fn the_command_line_and_http_give_the_same_answers() {
    let app = TestApp::new().await;
    for (name, body, exit, status) in cases() {
        let output = calculate(name, &body.to_string());
        assert_eq!(
            output.status.code(),
            Some(exit),
            "{name} {body}: {}",
            said(&output)
        );
        let request = Request::post(format!("/api/v1/calculations/{name}"))
            .body(Body::from(body.to_string()))
            .unwrap();
        let answer = app.send(request).await;
        assert_eq!(answer.status.as_u16(), status, "{name} {body}");
        if exit == 0 {
            let mut printed: Value = serde_json::from_slice(&output.stdout).unwrap();
            let mut answered = answer.json();
            for value in [&mut printed, &mut answered] {
                // Only the time that it took may differ.
                value.as_object_mut().unwrap().remove("seconds");
            }
            assert_eq!(printed, answered, "{name}");
            assert!(output.stderr.is_empty(), "{}", said(&output));
        } else {
            assert!(output.stdout.is_empty());
            let problem = answer.json();
            for error in problem["errors"].as_array().into_iter().flatten() {
                let detail = error["detail"].as_str().unwrap();
                assert!(
                    said(&output).contains(detail),
                    "{detail} in {}",
                    said(&output)
                );
            }
        }
    }
}

#[test]
fn an_unknown_calculation_and_a_missing_file_are_said() {
    let output = calculate("juggle", "{}");
    assert_eq!(output.status.code(), Some(2));
    assert!(
        said(&output).contains("there are match, schedule, emc"),
        "{}",
        said(&output)
    );
    let output = run(&["calculate", "emc", "/nowhere/request.json"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        said(&output).contains("failed to open /nowhere/request.json"),
        "{}",
        said(&output)
    );
    assert_eq!(run(&["juggle"]).status.code(), Some(2));
}

#[test]
fn a_server_ends_when_asked_to_and_its_file_can_be_served_again() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("workshop.db");
    for _ in 0..2 {
        let mut server = Server::start(&data);
        assert!(
            server.get("/readyz").starts_with("HTTP/1.1 200"),
            "{}",
            server.get("/readyz")
        );
        server.terminate();
        let status = server.child.wait().unwrap();
        assert!(status.success(), "{status}");
        assert!(server.lines.next().is_none());
    }
}

#[test]
fn two_servers_on_one_file_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("workshop.db");
    let _server = Server::start(&data);
    let second = run(&[
        "serve",
        "--listen",
        "127.0.0.1:0",
        "--data",
        data.to_str().unwrap(),
    ]);
    assert_eq!(second.status.code(), Some(1));
    assert!(
        said(&second).contains("is in use by another running Scrapwright"),
        "{}",
        said(&second)
    );
    let restore = run(&[
        "restore",
        "--data",
        data.to_str().unwrap(),
        data.to_str().unwrap(),
        "--overwrite",
    ]);
    assert!(
        said(&restore).contains("is in use by another running"),
        "{}",
        said(&restore)
    );
}

#[test]
fn a_backup_of_a_running_server_is_sound_and_can_be_put_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let server = Server::start(Path::new(&path("workshop.db")));
    let backup = run(&["backup", "--data", &path("workshop.db"), &path("copy.db")]);
    assert!(backup.status.success(), "{}", said(&backup));
    let again = run(&["backup", "--data", &path("workshop.db"), &path("copy.db")]);
    assert_eq!(again.status.code(), Some(1));
    assert!(said(&again).contains("copy.db exists"), "{}", said(&again));
    drop(server);

    let check = run(&["check", "--data", &path("copy.db")]);
    assert!(check.status.success(), "{}", said(&check));
    let refused = run(&["restore", "--data", &path("workshop.db"), &path("copy.db")]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(said(&refused).contains("--overwrite"), "{}", said(&refused));
    let restored = run(&[
        "restore",
        "--data",
        &path("workshop.db"),
        &path("copy.db"),
        "--overwrite",
    ]);
    assert!(restored.status.success(), "{}", said(&restored));
    assert!(Path::new(&path("workshop.db.before-restore")).exists());
    let server = Server::start(Path::new(&path("workshop.db")));
    assert!(server.get("/readyz").starts_with("HTTP/1.1 200"));
}

#[tokio::test]
async fn files_that_cannot_be_served_are_refused_with_what_would_be_right() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let refused = |data: &str| {
        // If it is served after all, the port that is no port ends it.
        let output = run(&["serve", "--listen", "203.0.113.1:1", "--data", data]);
        assert_eq!(output.status.code(), Some(1));
        said(&output)
    };

    let nowhere = refused(&path("no/folder.db"));
    assert!(nowhere.contains("does not exist; make it"), "{nowhere}");

    std::fs::write(path("letter.db"), "Dear workshop, ".repeat(100)).unwrap();
    let letter = refused(&path("letter.db"));
    assert!(letter.contains("is not a Scrapwright file"), "{letter}");

    let foreign = open(&path("foreign.db")).await;
    execute(foreign, &["create table bookshelf (id integer)"]).await;
    let foreign = refused(&path("foreign.db"));
    assert!(foreign.contains("is not a Scrapwright file"), "{foreign}");

    drop(Server::start(Path::new(&path("newer.db"))));
    let newer = open(&path("newer.db")).await;
    execute(
        newer,
        &["insert into _sqlx_migrations (version, description, success, checksum, execution_time) values (9999, 'later', 1, x'00', 0)"],
    )
    .await;
    let newer = refused(&path("newer.db"));
    assert!(
        newer.contains("was written by a newer Scrapwright"),
        "{newer}"
    );

    let mut server = Server::start(Path::new(&path("holed.db")));
    server.terminate();
    server.child.wait().unwrap();
    let check = run(&["check", "--data", &path("holed.db")]);
    assert!(check.status.success(), "{}", said(&check));
    // A backup is one file, without a log of writes beside it.
    let backup = run(&[
        "backup",
        "--data",
        &path("holed.db"),
        &path("holed-copy.db"),
    ]);
    assert!(backup.status.success(), "{}", said(&backup));
    let mut bytes = std::fs::read(path("holed-copy.db")).unwrap();
    let n_bytes = bytes.len();
    bytes[n_bytes / 2..n_bytes / 2 + 16 * 4096].fill(0xA5);
    std::fs::write(path("holed-copy.db"), bytes).unwrap();
    let check = run(&["check", "--data", &path("holed-copy.db")]);
    assert_eq!(check.status.code(), Some(1));
    assert!(
        said(&check).contains("is damaged") || said(&check).contains("is not sound"),
        "{}",
        said(&check)
    );
    let served = refused(&path("holed-copy.db"));
    assert!(served.contains("is damaged; restore a backup"), "{served}");
}

async fn open(path: &str) -> sqlx::SqliteConnection {
    let options = sqlx::sqlite::SqliteConnectOptions::new()
        .filename(path)
        .create_if_missing(true);
    sqlx::SqliteConnection::connect_with(&options)
        .await
        .unwrap()
}

async fn execute(mut db: sqlx::SqliteConnection, statements: &[&'static str]) {
    for statement in statements {
        sqlx::query(*statement).execute(&mut db).await.unwrap();
    }
    db.close().await.unwrap();
}
