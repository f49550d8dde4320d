use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use serde_json::{Value, json};

use crate::file;
use crate::server::{Caller, Chance, Workshop, maple};

/// How often a piece's note was counted up: for sure, and perhaps, as the caller did not wait for the answer.
#[derive(Default)]
struct Counted {
    surely: AtomicUsize,
    perhaps: AtomicUsize,
}

struct Stage {
    projects: Vec<i64>,
    plans: Vec<String>,
    /// How many steps the plan of a project has.
    steps: BTreeMap<i64, i64>,
    pieces: Vec<i64>,
    counted: Vec<Counted>,
    /// How often each kind of answer came.
    heard: Mutex<BTreeMap<(u64, u16), usize>>,
}

/// Asks, or asks and goes away.
fn ask(
    caller: &Caller,
    chance: &mut Chance,
    (method, path, version, body): (&str, &str, Option<i64>, &Value),
) -> Option<u16> {
    if chance.below(4) == 0 {
        let after = Duration::from_millis(chance.below(30));
        caller.hang_up(method, path, version, body, after);
        return None;
    }
    let answer = caller
        .change(method, path, version, body)
        .expect("a running server answers");
    answer.is_done();
    Some(answer.status)
}

fn act(stage: &Stage, caller: &Caller, chance: &mut Chance) {
    let project = stage.projects[chance.below(stage.projects.len() as u64) as usize];
    let base = format!("/api/v1/projects/{project}");
    let what = chance.below(8);
    let status = match what {
        0..=2 => ask(
            caller,
            chance,
            ("POST", &format!("{base}/claims"), None, &Value::Null),
        ),
        3 => {
            let body = json!({"seconds": 0.01, "keep_rest": true});
            ask(
                caller,
                chance,
                ("POST", &format!("{base}/match"), None, &body),
            )
        }
        4 => {
            let cuts = caller.get(&format!("{base}/cuts")).unwrap().json();
            let open = cuts["items"]
                .as_array()
                .into_iter()
                .flatten()
                .find(|cut| cut["copies_cut"] == 0);
            let Some(open) = open else { return };
            let path = format!("{base}/cuts/{}", open["id"]);
            let body = json!({"copies": 1, "remainders": []});
            ask(caller, chance, ("POST", &path, None, &body))
        }
        5 => {
            let claims = caller.get(&format!("{base}/claims")).unwrap().json();
            let held = claims["items"]
                .as_array()
                .into_iter()
                .flatten()
                .find(|claim| claim["state"] == "held");
            let Some(held) = held else { return };
            let path = format!("{base}/claims/{}", held["id"]);
            ask(
                caller,
                chance,
                ("DELETE", &path, held["version"].as_i64(), &Value::Null),
            )
        }
        6 => {
            let number = chance.below(stage.pieces.len() as u64) as usize;
            let path = format!("/api/v1/offcuts/{}", stage.pieces[number]);
            let piece = caller.get(&path).unwrap().json();
            let note: usize = piece["note"].as_str().unwrap().parse().unwrap();
            let mut body = maple("2 in", &(note + 1).to_string());
            body["width"] = piece["width"].clone();
            let version = piece["version"].as_i64();
            let status = ask(caller, chance, ("PUT", &path, version, &body));
            match status {
                Some(200) => stage.counted[number].surely.fetch_add(1, Ordering::Relaxed),
                None => stage.counted[number]
                    .perhaps
                    .fetch_add(1, Ordering::Relaxed),
                Some(_) => 0,
            };
            status
        }
        _ => {
            let plan = &stage.plans[chance.below(stage.plans.len() as u64) as usize];
            ask(
                caller,
                chance,
                ("POST", &format!("{plan}/accept"), None, &Value::Null),
            )
        }
    };
    if let Some(status) = status {
        *stage
            .heard
            .lock()
            .unwrap()
            .entry((what, status))
            .or_default() += 1;
    }
}

/// So many callers, each so many actions, over 50 pieces and so many boards.
pub fn race(callers: usize, turns: usize, boards: usize) {
    let workshop = Workshop::open();
    file::lend(&workshop.data());
    let mut pieces = Vec::new();
    for number in 0..50 {
        let width = format!("{} mm", 52 + number);
        let made = workshop
            .steward
            .post("/api/v1/offcuts", &maple(&width, "0"))
            .unwrap();
        assert_eq!(made.status, 201, "{made:?}");
        pieces.push(made.json()["id"].as_i64().unwrap());
    }
    let projects: Vec<i64> = (0..boards).map(|_| workshop.board(4)).collect();
    let (mut plans, mut steps) = (Vec::new(), BTreeMap::new());
    for project in &projects[..6] {
        let path = format!("/api/v1/projects/{project}/plan");
        let made = workshop
            .steward
            .post(&path, &json!({"seconds": 0.5}))
            .unwrap();
        assert_eq!(made.status, 201, "{made:?}");
        let count = made.json()["steps"].as_array().unwrap().len();
        assert!(count > 1, "{made:?}");
        steps.insert(*project, count as i64);
        plans.push(made.header("location").unwrap().to_owned());
    }
    let stage = Stage {
        projects,
        plans,
        steps,
        counted: pieces.iter().map(|_| Counted::default()).collect(),
        pieces,
        heard: Mutex::default(),
    };
    std::thread::scope(|scope| {
        for number in 0..callers {
            let (stage, caller) = (&stage, &workshop.steward);
            scope.spawn(move || {
                let mut chance = Chance(number as u64);
                for _ in 0..turns {
                    act(stage, caller, &mut chance);
                }
            });
        }
    });

    let heard = stage.heard.into_inner().unwrap();
    println!("kind of action, status: times {heard:?}");
    let times = |what: std::ops::RangeInclusive<u64>, status: std::ops::Range<u16>| -> usize {
        heard
            .iter()
            .filter(|((kind, heard), _)| what.contains(kind) && status.contains(heard))
            .map(|(_, times)| times)
            .sum()
    };
    // Without winners and losers it was no race. Whoever went away may have won, so winners are counted in the file.
    assert!(
        times(0..=2, 409..410) > 0 && times(7..=7, 409..410) > 0,
        "{heard:?}"
    );
    let won = file::ask(
        &workshop.data(),
        &[
            "select cast(count(*) as text) from claim union all select cast(count(*) as text) from booking",
        ],
    );
    assert!(won.iter().all(|count| count[0] != "0"), "{won:?}");
    file::assert_sound(&workshop.data());

    let notes = file::counts(
        &workshop.data(),
        "select cast(id as text), note from offcut where parent_id is null",
    );
    for (piece, counted) in stage.pieces.iter().zip(&stage.counted) {
        let surely = counted.surely.load(Ordering::Relaxed) as i64;
        let perhaps = counted.perhaps.load(Ordering::Relaxed) as i64;
        assert!(
            (surely..=surely + perhaps).contains(&notes[piece]),
            "piece {piece} was counted {surely} times and perhaps {perhaps} more, and says {}",
            notes[piece]
        );
    }
    // A plan is booked with all its steps or not at all.
    let booked = file::counts(
        &workshop.data(),
        "select cast(project_id as text), cast(count(*) as text) from booking group by 1",
    );
    for (project, steps) in booked {
        assert_eq!(Some(&steps), stage.steps.get(&project), "project {project}");
    }
}

#[test]
fn callers_who_race_over_http_never_share_a_piece_or_a_clamp_and_lose_no_change() {
    race(60, 6, 12);
}
