//! The program pressed as hard as its promises say; `tests/process` does the same for a few seconds.
//!
//! `cargo bench --bench pressure` runs everything; `-- race`, `-- kills` and `-- hostile` run a part.

#[path = "../tests/process/crash.rs"]
mod crash;
#[path = "../tests/process/file.rs"]
mod file;
#[path = "../tests/process/hostile.rs"]
mod hostile;
#[path = "../tests/process/load.rs"]
mod load;
#[path = "../tests/process/race.rs"]
mod race;
#[path = "../tests/process/server.rs"]
#[expect(dead_code, reason = "some of it only the tests use")]
mod server;

fn main() {
    let asked: Vec<String> = std::env::args()
        .skip(1)
        .filter(|argument| argument != "--bench")
        .collect();
    let is_wanted = |part: &str| asked.is_empty() || asked.iter().any(|word| word == part);
    if is_wanted("race") {
        race::race(200, 12, 25);
    }
    if is_wanted("kills") {
        crash::kill_many_times(200);
    }
    if is_wanted("hostile") {
        hostile::ask_all(16, 16, std::time::Duration::from_secs(2));
    }
}
