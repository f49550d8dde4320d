//! Requests that want more than their share: each is answered within its time and in the memory that is stated.

use std::fmt::Write as _;
use std::process::Stdio;
use std::time::{Duration, Instant};

use serde_json::json;

use crate::server::{Answer, Chance, Server, program};

/// What the program with one solver slot takes at most while it answers the worst that may be asked, in MiB.
pub const MOST_MIB: u64 = 1024;

/// The longest time that these problems ask for.
const ASKED: Duration = Duration::from_secs(1);

struct Hostile {
    name: &'static str,
    /// Which calculation.
    of: &'static str,
    body: String,
    /// What it is answered with.
    statuses: &'static [u16],
}

/// All of them: bodies of text of about `mib` MiB, of which 16 are the most that may be sent, and problems of so many sixteenths of
/// their sizes.
fn problems(mib: usize, sixteenths: usize) -> Vec<Hostile> {
    let bytes = mib * 1024 * 1024 - 200;
    let share = |of: usize| of * sixteenths / 16;
    let of_match = |name, body, statuses| Hostile {
        name,
        of: "match",
        body,
        statuses,
    };
    let of_schedule = |name, body, statuses| Hostile {
        name,
        of: "schedule",
        body,
        statuses,
    };
    let list = |value: &str| format!("{value},").repeat(bytes / (value.len() + 1)) + value;
    vec![
        of_match(
            "flaws by the million",
            format!(r#"{{"stock": [{}], "strips": []}}"#, list("{}")),
            &[422],
        ),
        of_match(
            "objects by the million",
            format!("[{}]", list(r#"{"a":1}"#)),
            &[422],
        ),
        of_match("numbers by the million", format!("[{}]", list("1")), &[422]),
        of_match("lists in lists in lists", "[".repeat(bytes), &[422]),
        of_match(
            "one endless id",
            format!(
                r#"{{"stock": [], "strips": [{{"id": "{}"}}]}}"#,
                "i".repeat(bytes)
            ),
            &[422],
        ),
        of_schedule(
            "an endless name over many flaws",
            format!(
                r#"{{"from": "2027-03-01T00:00", "to": "2027-03-08T00:00", "resources": [], "tasks": [], "calendars": {{"{}": [{}]}}}}"#,
                "n".repeat(bytes / 2),
                "{},".repeat(bytes / 6) + "{}"
            ),
            &[422],
        ),
        of_match(
            "ten million strips",
            matched(10, 1, 10_000_000, ASKED),
            &[422],
        ),
        of_match(
            "5,000 distinct pieces and 1,000 kinds of strips",
            matched(share(5_000), share(1_000), 3, ASKED),
            &[200, 422],
        ),
        of_match(
            "2,000 distinct pieces and 1,000 kinds of strips",
            matched(share(2_000), share(1_000), 3, ASKED),
            &[200],
        ),
        of_match(
            "50,000 distinct pieces and 1,000 kinds of strips",
            matched(share(50_000), share(1_000), 50, ASKED),
            &[200, 422],
        ),
        of_match(
            "a grid of nanometres",
            fine_grid(share(400).max(20)),
            &[200],
        ),
        of_match("a centimetre from large boards", centimetres(), &[200]),
        of_match(
            "millimetres kept beside flaws",
            millimetres(share(2_000)),
            &[200],
        ),
        of_schedule("a million tasks", tasks(bytes / 30, 1), &[422]),
        of_schedule(
            "20,000 tasks for one bench",
            tasks(share(20_000).min(20_000), share(2_000).max(2)),
            &[200, 422],
        ),
        of_schedule(
            "20,000 tasks in 2,000 calendars",
            calendars(share(20_000).min(20_000), share(2_000).max(2)),
            &[200, 422],
        ),
    ]
}

/// Distinct pieces of three species, and kinds of strips that fit on some of them.
fn matched(pieces: usize, kinds: usize, of_each: u32, time: Duration) -> String {
    let mut chance = Chance(7);
    let mut mm =
        |low: u64, high: u64| (low * 1000 + chance.below((high - low) * 1000)) as f64 / 1000.0;
    let species = ["hard maple", "black walnut", "black cherry"];
    let stock: Vec<_> = (0..pieces)
        .map(|place| {
            json!({"id": format!("p{place}"), "species": species[place % 3], "length": mm(300, 2500), "width": mm(40, 250),
                "thickness": mm(15, 40), "unusable": [{"from": 100, "to": 110}]})
        })
        .collect();
    let strips: Vec<_> = (0..kinds)
        .map(|place| {
            json!({"id": format!("s{place}"), "species": species, "count": of_each, "length": mm(100, 900),
                "sections": [{"rip": mm(10, 80), "thickness": mm(12, 25)}, {"rip": mm(10, 40), "thickness": mm(12, 40)}]})
        })
        .collect();
    json!({"stock": stock, "strips": strips, "limits": {"seconds": time.as_secs_f64(), "threads": 2}}).to_string()
}

/// Sizes without a common measure on pieces of a hundred metres, with saws that take nothing away.
fn fine_grid(kinds: usize) -> String {
    let mut chance = Chance(11);
    let mut nm = |low: u64, high: u64| (low + chance.below(high - low)) as f64 / 1e6;
    let stock: Vec<_> = (0..20)
        .map(|place| {
            json!({"id": format!("p{place}"), "species": "hard maple", "length": "100 m", "width": "100 m", "thickness": "1 m",
                "square_ends": true, "straight_edges": true})
        })
        .collect();
    let strips: Vec<_> = (0..kinds)
        .map(|place| {
            json!({"id": format!("s{place}"), "species": ["hard maple"], "count": 100_000 / kinds, "length": nm(1_000_000, 900_000_000),
                "sections": [{"rip": nm(1_000_000, 90_000_000), "thickness": 5}]})
        })
        .collect();
    json!({"stock": stock, "strips": strips, "limits": {"seconds": ASKED.as_secs_f64(), "threads": 2},
        "shop": {"rip_kerf": 0, "crosscut_kerf": 0, "edge_trim": 0, "end_trim": 0, "min_rip_length": 0, "keep_length": 0, "keep_width": 0}})
    .to_string()
}

/// Thousands of small strips that hundreds of large boards could give, each many.
fn centimetres() -> String {
    json!({"stock": [{"id": "board", "species": "hard maple", "length": "240 in", "width": "40 in", "thickness": "7/8 in", "count": 500}],
        "strips": [{"id": "s", "species": ["hard maple"], "count": 3000, "length": "1 cm", "sections": [{"rip": "1 cm", "thickness": 1}]}],
        "limits": {"seconds": ASKED.as_secs_f64(), "threads": 2}})
    .to_string()
}

/// Pieces with a flaw at one end or inside, of which the shortest piece is kept: hundreds of lengths for each section.
fn millimetres(pieces: usize) -> String {
    let mut chance = Chance(13);
    let mut mm = |low: u64, high: u64| low + chance.below(high - low);
    let stock: Vec<_> = (0..pieces)
        .map(|place| {
            let from = if place % 2 == 0 { 0 } else { mm(100, 300) };
            json!({"id": format!("p{place}"), "species": "hard maple", "length": mm(600, 1900), "width": mm(60, 250),
                "thickness": 25, "unusable": [{"from": from, "to": from + mm(1, 90)}]})
        })
        .collect();
    let strips: Vec<_> = (0..40)
        .map(|place| {
            json!({"id": format!("s{place}"), "species": ["hard maple"], "count": 4, "length": mm(150, 700),
                "sections": [{"rip": mm(15, 60), "thickness": 20}]})
        })
        .collect();
    json!({"stock": stock, "strips": strips, "limits": {"seconds": ASKED.as_secs_f64(), "threads": 2},
        "shop": {"keep_length": 1, "keep_width": 1}})
    .to_string()
}

/// Tasks that all want the one bench, in windows of an hour.
fn tasks(count: usize, windows: usize) -> String {
    let mut body = String::from(
        r#"{"from": "2027-01-01T00:00", "to": "2099-01-01T00:00", "calendars": {"shop": ["#,
    );
    for place in 0..windows {
        let (year, month, day) = (2027 + place / 336, 1 + place / 28 % 12, 1 + place % 28);
        let comma = if place > 0 { "," } else { "" };
        let _ = write!(
            body,
            r#"{comma}{{"from": "{year}-{month:02}-{day:02}T18:00", "to": "{year}-{month:02}-{day:02}T21:00"}}"#
        );
    }
    body.push_str(r#"]}, "resources": [{"id": "bench", "capacity": 1}], "limits": {"seconds": 1, "threads": 2}, "tasks": ["#);
    for place in 0..count {
        let comma = if place > 0 { "," } else { "" };
        if windows > 1 {
            let _ = write!(
                body,
                r#"{comma}{{"id":"{place}","minutes":{},"calendar":"shop","needs":{{"bench":1}}}}"#,
                1 + place % 17
            );
        } else {
            let _ = write!(body, r#"{comma}{{"id":"{place}","minutes":1}}"#);
        }
    }
    let due = |place: usize| format!(r#"{{"task":"{place}","by":"2027-01-02T10:00"}}"#);
    let due: Vec<String> = (0..count.min(20_000)).map(due).collect();
    let _ = write!(body, r#"], "due": [{}]}}"#, due.join(","));
    body
}

/// Tasks in a chain, each in a calendar that few others have.
fn calendars(count: usize, calendars: usize) -> String {
    let window = |calendar: usize, month: usize| {
        json!({"from": format!("2027-{month:02}-{:02}T18:{:02}", 1 + calendar % 28, calendar % 60),
            "to": format!("2027-{month:02}-{:02}T21:00", 1 + calendar % 28)})
    };
    let calendar = |calendar: usize| {
        (
            calendar.to_string(),
            (1..=12).map(|month| window(calendar, month)).collect(),
        )
    };
    let table: serde_json::Map<_, _> = (0..calendars).map(calendar).collect();
    let tasks: Vec<_> = (0..count)
        .map(|place| {
            let after: Vec<_> = (place % 10 > 0)
                .then(|| json!({"task": (place - 1).to_string(), "min_gap": 700}))
                .into_iter()
                .collect();
            json!({"id": place.to_string(), "minutes": 1 + place % 50, "calendar": (place % calendars).to_string(), "after": after,
                "needs": {"clamps": 1 + place % 3}})
        })
        .collect();
    let holds: Vec<_> = (0..count / 10)
        .map(|place| json!({"from": (place * 10).to_string(), "to": (place * 10 + 1).to_string(), "needs": {"clamps": 2}}))
        .collect();
    json!({"from": "2027-01-01T00:00", "to": "2028-01-01T00:00", "calendars": table, "resources": [{"id": "clamps", "capacity": 90}],
        "tasks": tasks, "holds": holds, "limits": {"seconds": 1, "threads": 2}})
    .to_string()
}

/// A figure of the process in MiB, as the kernel tells it (proc(5)).
fn mib(process: u32, figure: &str) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix(figure))?;
    let kib: u64 = line
        .trim_start_matches(':')
        .trim()
        .trim_end_matches(" kB")
        .parse()
        .ok()?;
    Some(kib / 1024)
}

fn ask(server: &Server, of: &str, body: &str) -> Answer {
    server
        .guest()
        .post_text(&format!("/api/v1/calculations/{of}"), body)
        .expect("it is answered")
}

/// Asks each in turn. `grace` is what reading, building and checking may take beyond the time that was asked for.
pub fn ask_all(mib_of_text: usize, sixteenths: usize, grace: Duration) {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("workshop.db");
    let mut one_slot = program();
    one_slot
        .args(["serve", "--solver-slots", "1"])
        .stderr(Stdio::null());
    let server = Server::spawn(&mut one_slot, &data);
    let process = server.child.id();
    println!("| request | MB | status | took s | at most MiB |\n| --- | --- | --- | --- | --- |");
    for hostile in problems(mib_of_text, sixteenths) {
        // Begins the highest mark anew (proc(5)).
        let _ = std::fs::write(format!("/proc/{process}/clear_refs"), "5");
        let begun = Instant::now();
        let answer = ask(&server, hostile.of, &hostile.body);
        let took = begun.elapsed();
        let peak = mib(process, "VmHWM").unwrap_or(0);
        println!(
            "| {} | {:.1} | {} | {:.2} | {peak} |",
            hostile.name,
            hostile.body.len() as f64 / 1e6,
            answer.status,
            took.as_secs_f64()
        );
        let name = hostile.name;
        assert!(
            hostile.statuses.contains(&answer.status),
            "{name}: {} {:.300}",
            answer.status,
            answer.body
        );
        assert!(
            answer.body.len() < 8 * 1024 * 1024 || answer.status == 200,
            "{name}: {} bytes of answer",
            answer.body.len()
        );
        assert!(took < ASKED + grace, "{name}: {took:?}");
        assert!(peak < MOST_MIB, "{name}: {peak} MiB");
        // The slot is free again at once.
        let small = ask(&server, "match", &matched(1, 1, 1, ASKED));
        assert_eq!(small.status, 200, "after {name}: {small:?}");
    }
}

/// Half the text and a sixteenth of the problems of `cargo bench --bench pressure -- hostile`, with time for a build that is not
/// optimised.
#[test]
fn no_request_takes_more_than_its_share() {
    ask_all(8, 1, Duration::from_secs(60));
}
