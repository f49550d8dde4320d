//! A file that this user may not write.

use std::os::unix::fs::PermissionsExt as _;
use std::process::Command;

use crate::server::Server;

/// Without the right to write nothing is served, and the reason is said.
#[test]
fn a_file_that_may_not_be_written_is_refused_with_what_would_be_right() {
    let may = |path: &std::path::Path, mode: u32| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("workshop.db");
    let mut server = Server::start(&data);
    server.terminate();
    server.child.wait().unwrap();

    let refused = |data: &std::path::Path| {
        let program = env!("CARGO_BIN_EXE_scrapwright");
        let mut command = if is_root() {
            // Rights of files bind root too once it has given up to override them (capabilities(7); util-linux has the command).
            let mut command = Command::new("setpriv");
            command.args(["--bounding-set=-dac_override,-dac_read_search", program]);
            command
        } else {
            Command::new(program)
        };
        command.env_clear().env("PATH", "/usr/bin:/bin");
        command
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(data);
        let output = command.output().unwrap();
        assert_eq!(output.status.code(), Some(1), "{output:?}");
        String::from_utf8(output.stderr).unwrap()
    };
    // The file may be read but not written, in a folder where new files may be made.
    may(folder.path(), 0o777);
    may(&data, 0o444);
    let said = refused(&data);
    assert!(said.contains("workshop.db cannot be written: "), "{said}");
    assert!(
        said.contains("give this user the right to write the file and its folder"),
        "{said}"
    );
    may(&data, 0o644);
    // No file may be made in the folder.
    may(folder.path(), 0o555);
    let said = refused(&folder.path().join("new.db"));
    assert!(said.contains("new.db cannot be written: "), "{said}");
    may(folder.path(), 0o755);
    // Nothing of it has changed the file.
    assert_eq!(
        Server::start(&data)
            .guest()
            .get("/readyz")
            .map(|answer| answer.status),
        Some(200)
    );
}

fn is_root() -> bool {
    let id = Command::new("id").arg("-u").output().unwrap();
    id.stdout == b"0\n"
}
