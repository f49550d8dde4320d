use std::process::Command;
use std::time::{Duration, Instant};

use crate::crash::Busy;
use crate::file;
use crate::load::Told;
use crate::server::{Server, Workshop, maple, pause, run};

/// A limit on the size of files stands for a full disk: what is written beyond it fails.
#[test]
fn a_full_disk_is_said_and_loses_nothing_that_was_acknowledged() {
    let mut workshop = Workshop::open();
    workshop.server.terminate();
    workshop.server.child.wait().unwrap();
    // 512 bytes a block (POSIX): room for the file as it is, and not for much more in the log of writes.
    let largest = std::fs::metadata(workshop.data()).unwrap().len() / 512 + 256;
    let mut limited = Command::new("sh");
    limited.env_clear().env("PATH", "/usr/bin:/bin").args([
        "-c",
        &format!("trap '' XFSZ; ulimit -f {largest}; exec \"$@\""),
        "sh",
        env!("CARGO_BIN_EXE_scrapwright"),
        "serve",
    ]);
    limited.stderr(std::process::Stdio::null());
    workshop.server = Server::spawn(&mut limited, &workshop.data());
    workshop
        .steward
        .address
        .clone_from(&workshop.server.address);

    let mut kept = Vec::new();
    let refused = loop {
        assert!(kept.len() < 20_000, "the limit was never met");
        let answer = workshop
            .steward
            .post("/api/v1/offcuts", &maple("2 in", &"n".repeat(300)))
            .expect("a full disk does not end the program");
        if answer.status != 201 {
            break answer;
        }
        kept.push(answer.json()["id"].as_i64().unwrap());
    };
    assert_eq!(refused.status, 507, "{refused:?}");
    let detail = refused.json()["detail"].as_str().unwrap().to_owned();
    assert!(detail.contains("disk"), "{detail}");
    // What only reads goes on.
    let read = workshop
        .steward
        .get(&format!("/api/v1/offcuts/{}", kept[0]))
        .unwrap();
    assert_eq!(read.status, 200, "{read:?}");
    workshop.server.child.kill().unwrap();
    workshop.server.child.wait().unwrap();

    workshop.serve_again();
    file::assert_sound(&workshop.data());
    let there = file::counts(
        &workshop.data(),
        "select cast(id as text), cast(count as text) from offcut",
    );
    for id in kept {
        assert_eq!(
            there.get(&id),
            Some(&1),
            "piece {id} was acknowledged and is gone"
        );
    }
    let more = workshop
        .steward
        .post("/api/v1/offcuts", &maple("2 in", "room again"))
        .unwrap();
    assert_eq!(more.status, 201, "{more:?}");
}

#[test]
fn a_backup_taken_under_load_is_whole_and_can_be_put_back() {
    let mut busy = Busy::new();
    let told = Told::default();
    let folder = busy.workshop.folder.path().to_owned();
    let path = |name: &str| folder.join(name).to_str().unwrap().to_owned();
    let before = busy.work(&told, "backup", |_| {
        pause(Duration::from_millis(300));
        let before: Vec<(i64, String)> = told.added.lock().unwrap().clone();
        let made = run(&["backup", "--data", &path("workshop.db"), &path("copy.db")]);
        assert!(made.status.success(), "{made:?}");
        before
    });
    busy.assert_nothing_half_done(&busy.workshop.path("copy.db"));
    let earlier = Told::default();
    earlier.added.lock().unwrap().extend(before);
    Busy::assert_told_is_true(&busy.workshop.path("copy.db"), &earlier);
    busy.workshop.server.terminate();
    busy.workshop.server.child.wait().unwrap();
    let restored = run(&[
        "restore",
        "--data",
        &path("workshop.db"),
        &path("copy.db"),
        "--overwrite",
    ]);
    assert!(restored.status.success(), "{restored:?}");
    busy.workshop.serve_again();
    let more = busy
        .workshop
        .steward
        .post("/api/v1/offcuts", &maple("2 in", "after"))
        .unwrap();
    assert_eq!(more.status, 201, "{more:?}");
}

#[test]
fn asked_to_end_it_finishes_what_runs_and_loses_nothing() {
    let mut busy = Busy::new();
    let told = Told::default();
    let ended_after = busy.work(&told, "end", |server| {
        pause(Duration::from_millis(400));
        let begun = Instant::now();
        server.terminate();
        // Whoever calls now is told to come back, or finds nobody; members stop as soon as nobody answers.
        while std::net::TcpStream::connect(&server.address).is_ok() {
            assert!(begun.elapsed() < Duration::from_secs(8), "it still listens");
            pause(Duration::from_millis(20));
        }
        begun.elapsed()
    });
    let status = busy.workshop.server.child.wait().unwrap();
    assert!(status.success(), "{status}");
    assert!(ended_after < Duration::from_secs(8), "{ended_after:?}");
    busy.assert_nothing_half_done(&busy.workshop.data());
    Busy::assert_told_is_true(&busy.workshop.data(), &told);
    busy.workshop.serve_again();
    assert_eq!(
        busy.workshop.steward.get("/api/v1/me").map(|me| me.status),
        Some(200)
    );
}
