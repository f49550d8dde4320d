use std::process::Command;

use crate::file;
use crate::server::{Server, Workshop, maple};

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
