use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use serde_json::json;

use crate::file;
use crate::load::{Told, add_pieces, plan_board, work_on_board};
use crate::server::{Chance, Server, Workshop, maple, pause, run};

/// A workshop with four boards that are worked on, one that is planned, and the number of steps of its plan.
pub struct Busy {
    pub workshop: Workshop,
    boards: Vec<i64>,
    planned: i64,
    steps: usize,
}

impl Busy {
    pub fn new() -> Busy {
        let workshop = Workshop::open();
        file::lend(&workshop.data());
        let mut stock = maple("2 1/2 in", "stock");
        stock["count"] = json!(2000);
        let made = workshop.steward.post("/api/v1/offcuts", &stock).unwrap();
        assert_eq!(made.status, 201, "{made:?}");
        let boards = (0..4).map(|_| workshop.board(4)).collect();
        let planned = workshop.board(3);
        let path = format!("/api/v1/projects/{planned}/plan");
        let made = workshop
            .steward
            .post(&path, &json!({"seconds": 1}))
            .unwrap();
        assert_eq!(made.status, 201, "{made:?}");
        let steps = made.json()["steps"].as_array().unwrap().len();
        assert!(steps > 1, "{made:?}");
        Busy {
            workshop,
            boards,
            planned,
            steps,
        }
    }

    /// Lets members work while `meanwhile` runs; gives what they were told.
    pub fn work<T>(&self, told: &Told, name: &str, meanwhile: impl FnOnce(&Server) -> T) -> T {
        let (caller, stop) = (&self.workshop.steward, AtomicBool::new(false));
        std::thread::scope(|scope| {
            for adder in 0..2 {
                let stop = &stop;
                scope.spawn(move || add_pieces(caller, &format!("{name}.{adder}"), stop, told));
            }
            for board in &self.boards {
                let stop = &stop;
                scope.spawn(move || work_on_board(caller, *board, stop, told));
            }
            scope.spawn(|| plan_board(caller, self.planned, &stop));
            let done = meanwhile(&self.workshop.server);
            stop.store(true, Ordering::Relaxed);
            done
        })
    }

    pub fn assert_nothing_half_done(&self, path: &Path) {
        file::assert_sound(path);
        let half = file::ask(
            path,
            &["select cast(claim.id as text) from claim where ended_at is null and pieces <>
                   (select coalesce(sum(copies - copies_cut), 0) from layout where claim_id = claim.id)"],
        );
        assert!(half.is_empty(), "half-done claims: {half:?}");
        let half = file::ask(
            path,
            &[
                "select cast(id as text) from ledger where what = 'cut' and -volume_mm3 <> strips_mm3 + waste_mm3",
            ],
        );
        assert!(half.is_empty(), "half-done cuts: {half:?}");
        let booked = file::ask(path, &["select cast(count(*) as text) from booking"]);
        let booked: usize = booked[0][0].parse().unwrap();
        assert!(
            booked == 0 || booked == self.steps,
            "half a plan: {booked} of {} steps",
            self.steps
        );
    }

    pub fn assert_told_is_true(path: &Path, told: &Told) {
        let rows = file::ask(path, &["select cast(id as text), note from offcut"]);
        let kept: std::collections::HashMap<i64, &str> = rows
            .iter()
            .map(|row| (row[0].parse().unwrap(), row[1].as_str()))
            .collect();
        for (id, note) in told.added.lock().unwrap().iter() {
            assert_eq!(
                kept.get(id),
                Some(&note.as_str()),
                "an acknowledged piece is gone"
            );
        }
        let claims = file::counts(
            path,
            "select cast(project_id as text), cast(count(*) as text) from claim group by 1",
        );
        let mut least = std::collections::BTreeMap::<i64, i64>::new();
        for (board, _) in told.claimed.lock().unwrap().iter() {
            *least.entry(*board).or_default() += 1;
        }
        for (board, times) in least {
            assert!(
                claims.get(&board).is_some_and(|rows| *rows >= times),
                "a claim of board {board} is gone"
            );
        }
    }
}

/// Kills the program at random moments while it writes, and looks each time at what is left.
pub fn kill_many_times(kills: u64) {
    let mut busy = Busy::new();
    let told = Told::default();
    let mut chance = Chance(kills);
    let begun = Instant::now();
    let mut slowest = Duration::ZERO;
    for kill in 0..kills {
        busy.work(&told, &kill.to_string(), |server| {
            let before = told.added.lock().unwrap().len();
            let waiting = Instant::now();
            while told.added.lock().unwrap().len() < before + 3 {
                assert!(
                    waiting.elapsed() < Duration::from_secs(60),
                    "nothing is written"
                );
                pause(Duration::from_millis(2));
            }
            pause(Duration::from_millis(chance.below(300)));
            let id = server.child.id().to_string();
            let sent = std::process::Command::new("kill")
                .args(["-KILL", &id])
                .status()
                .unwrap();
            assert!(sent.success());
        });
        busy.workshop.server.child.wait().unwrap();
        busy.assert_nothing_half_done(&busy.workshop.data());
        Busy::assert_told_is_true(&busy.workshop.data(), &told);
        let start = Instant::now();
        busy.workshop.serve_again();
        slowest = slowest.max(start.elapsed());
    }
    let data = busy.workshop.data();
    busy.workshop.server.kill();
    let check = run(&["check", "--data", data.to_str().unwrap()]);
    assert!(check.status.success(), "{check:?}");
    let (added, claimed) = (
        told.added.into_inner().unwrap().len(),
        told.claimed.into_inner().unwrap().len(),
    );
    println!(
        "{kills} kills in {:.0} s; {added} pieces and {claimed} claims acknowledged, none lost; slowest start {slowest:?}",
        begun.elapsed().as_secs_f64()
    );
}

#[test]
fn whatever_was_acknowledged_survives_kills() {
    kill_many_times(6);
}
