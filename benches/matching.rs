//! How good matches are and how long they take.
//!
//! `cargo bench --bench matching` runs everything; `-- problems`, `-- lines`, `-- growth` and `-- peer` run a part.
//! Problems are read from the folder in `SCRAPWRIGHT_BENCHMARKS`; the peer needs Python with OR-Tools. `--plots
//! FOLDER` writes the growth as SVG.

mod measure;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;
use std::time::Duration;

use measure::{Random, Run, clock, folder, problems, quantile, run, shown_mb, table};
use scrapwright::calc::budget::Budget;
use scrapwright::calc::matching::{Outcome, Problem, check, solve};
use scrapwright::wire::matching::parse;
use serde_json::{Value, json};

const THREADS: usize = 2;

fn main() {
    let arguments: Vec<String> = std::env::args()
        .skip(1)
        .filter(|argument| argument != "--bench")
        .collect();
    let plots = arguments
        .iter()
        .position(|argument| argument == "--plots")
        .and_then(|place| arguments.get(place + 1))
        .map(PathBuf::from);
    let parts = ["problems", "lines", "growth", "peer"];
    let asked: Vec<&str> = parts
        .into_iter()
        .filter(|part| arguments.iter().any(|argument| argument == part))
        .collect();
    let is_wanted = |part: &str| asked.is_empty() || asked.contains(&part);
    let folder = folder();
    if folder.is_none() {
        println!("SCRAPWRIGHT_BENCHMARKS names no folder, so published problems are left out.");
    }
    if let Some(folder) = &folder {
        if is_wanted("problems") {
            workshop_problems(&folder.join("match"));
        }
        if is_wanted("lines") {
            cutting_stock(&folder.join("cutting_stock"));
        }
    }
    if is_wanted("growth") {
        growth(plots.as_deref());
    }
    if let Some(folder) = &folder
        && is_wanted("peer")
    {
        peer(&folder.join("match"));
    }
}

/// A solve with the time of its first answer; every answer is checked.
fn solved(problem: &Problem, seconds: f64) -> (Run<Outcome>, f64) {
    let first = Mutex::new(f64::NAN);
    let elapsed = clock();
    let done = run(|| {
        let budget = Budget::until(Duration::from_secs_f64(seconds), clock()).with_threads(THREADS);
        solve(problem, &budget, &|_| {
            let mut first = first.lock().expect("nothing panics while it holds this");
            if first.is_nan() {
                *first = elapsed().as_secs_f64();
            }
        })
    });
    if let Err(violations) = check(problem.request(), &done.answer) {
        panic!("{violations:?}");
    }
    (done, first.into_inner().expect("no thread is left"))
}

fn read(body: &[u8]) -> Problem {
    parse(body)
        .unwrap_or_else(|problem| panic!("{problem:?}"))
        .0
}

/// Between the value and its bound, in per cent of the value; infinite where an earlier goal is open.
fn gap(outcome: &Outcome) -> f64 {
    let net = outcome.net_wood.mm3();
    if outcome.bound.covered != outcome.covered || outcome.bound.spend != outcome.spend {
        f64::INFINITY
    } else if net == outcome.bound.net_wood_mm3 {
        0.0
    } else {
        (net - outcome.bound.net_wood_mm3) / net.abs() * 100.0
    }
}

fn workshop_problems(folder: &Path) {
    let best = table(&folder.join("best_known.csv"));
    println!(
        "\n| problem | limit s | took s | first s | covered | spend | gap to own bound % | off best known % | proven | MB |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for (name, body) in problems(folder, "") {
        let limits: &[f64] = match name.split('-').next() {
            Some("small") => &[1.0],
            Some("medium") => &[0.5, 10.0],
            _ => &[2.0, 20.0],
        };
        let problem = read(&body);
        for &limit in limits {
            let (done, first) = solved(&problem, limit);
            let net = done.answer.net_wood.mm3();
            let known = best
                .iter()
                .find(|row| row[0] == name)
                .and_then(|row| row.get(5)?.parse::<f64>().ok());
            println!(
                "| {name} | {limit} | {:.3} | {first:.3} | {} of {} | {} | {:.3} | {} | {} | {} |",
                done.seconds,
                done.answer.covered,
                done.answer.bound.covered,
                done.answer.spend,
                gap(&done.answer),
                known.map_or_else(
                    || "?".to_owned(),
                    |known| format!("{:.3}", (net / known - 1.0) * 100.0)
                ),
                if done.answer.proven { "yes" } else { "no" },
                shown_mb(done.peak_mb)
            );
        }
    }
    let small: Vec<Problem> = problems(folder, "small")
        .iter()
        .map(|(_, body)| read(body))
        .collect();
    let mut times = Vec::new();
    for _ in 0..100 {
        for problem in &small {
            let (done, _) = solved(problem, 1.0);
            times.push(done.seconds * 1000.0);
        }
    }
    println!(
        "\nsmall, 100 times each: median {:.1} ms, p99 {:.1} ms",
        quantile(&times, 0.5),
        quantile(&times, 0.99)
    );
}

fn cutting_stock(folder: &Path) {
    let optima = table(&folder.join("optima.csv"));
    println!("\n| one-dimensional problem | took s | bars | published | proven |");
    println!("| --- | --- | --- | --- | --- |");
    let mut times = Vec::new();
    let mut met = 0;
    let all = problems(folder, "");
    for (name, body) in &all {
        let (done, _) = solved(&read(body), 5.0);
        let optimum = optima
            .iter()
            .find(|row| row[0] == *name)
            .map_or("?", |row| row[4].as_str());
        met += usize::from(done.answer.touched.to_string() == optimum && done.answer.proven);
        times.push(done.seconds);
        println!(
            "| {name} | {:.3} | {} | {optimum} | {} |",
            done.seconds,
            done.answer.touched,
            if done.answer.proven { "yes" } else { "no" }
        );
    }
    println!(
        "\n{met} of {} proven at the published optimum; median {:.0} ms, worst {:.2} s",
        all.len(),
        quantile(&times, 0.5) * 1000.0,
        quantile(&times, 1.0)
    );
}

/// Made-up bins: boards' ends of four woods, whole sixteenths of an inch.
fn invented(pieces: u64, strips: u64) -> Value {
    let woods = [
        "hard maple",
        "black walnut",
        "black cherry",
        "American beech",
    ];
    let mut random = Random(0x5eed_0001);
    let inches = |sixteenths: u64| format!("{sixteenths}/16 in");
    let mut sized = |from: u64, to: u64| from + random.below(to - from);
    let stock: Vec<Value> = (0..pieces)
        .map(|place| {
            json!({
                "id": format!("A{place}"), "species": woods[sized(0, 4) as usize],
                "length": inches(sized(160, 640)), "width": inches(sized(20, 100)), "thickness": inches(sized(12, 18)),
            })
        })
        .collect();
    // Boards of eight strips, two kinds each.
    let strips: Vec<Value> = (0..strips / 4)
        .map(|place| {
            json!({
                "id": format!("s{place}"), "species": [woods[sized(0, 4) as usize]], "count": 4,
                "length": inches(sized(180, 300)), "sections": [{"rip": inches(sized(14, 30)), "thickness": "3/4 in"}],
            })
        })
        .collect();
    json!({"stock": stock, "strips": strips})
}

fn growth(plots: Option<&Path>) {
    println!("\n| pieces | strips | first answer s | took s | gap % | proven | MB |");
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    let measured = |pieces: u64, strips: u64| {
        let problem = read(invented(pieces, strips).to_string().as_bytes());
        let (done, first) = solved(&problem, 10.0);
        println!(
            "| {pieces} | {strips} | {first:.3} | {:.3} | {:.3} | {} | {} |",
            done.seconds,
            gap(&done.answer),
            if done.answer.proven { "yes" } else { "no" },
            shown_mb(done.peak_mb)
        );
        (first, done.seconds, done.peak_mb.unwrap_or(f64::NAN))
    };
    let by_pieces: Vec<(f64, _)> = [100, 300, 1_000, 3_000, 10_000, 20_000]
        .map(|pieces| (pieces as f64, measured(pieces, 100)))
        .to_vec();
    let by_strips: Vec<(f64, _)> = [12, 40, 100, 300, 1_000]
        .map(|strips| (strips as f64, measured(2_000, strips)))
        .to_vec();
    let Some(folder) = plots else { return };
    for (name, title, across, rows) in [
        ("matching_pieces.svg", "100 strips", "pieces", by_pieces),
        ("matching_strips.svg", "2,000 pieces", "strips", by_strips),
    ] {
        let line =
            |of: fn(&(f64, f64, f64)) -> f64| rows.iter().map(|(at, row)| (*at, of(row))).collect();
        measure::plot(
            &folder.join(name),
            title,
            (across, "seconds, MB"),
            &[
                ("first answer, s", line(|row| row.0)),
                ("end, s", line(|row| row.1)),
                ("memory, MB", line(|row| row.2)),
            ],
        );
    }
}

/// Side by side with a general solver: how long until its own final value is reached.
fn peer(folder: &Path) {
    let script = folder.join("peer_cpsat.py");
    println!(
        "\n| problem | peer's seconds | peer: covered, spend, net wood | ours in a tenth of the time | ours as long |"
    );
    println!("| --- | --- | --- | --- | --- |");
    for (name, body) in problems(folder, "") {
        let seconds = match name.split('-').next() {
            Some("small") => 5.0,
            Some("medium") => 20.0,
            Some("large") => 35.0,
            _ => continue,
        };
        let output = Command::new("python3")
            .arg(&script)
            .arg(folder.join(format!("{name}.json")))
            .arg(seconds.to_string())
            .output();
        let theirs: Value = match output {
            Ok(output) if output.status.success() => {
                serde_json::from_slice(&output.stdout).unwrap_or(Value::Null)
            }
            _ => {
                println!("| {name} | the peer did not run | | | |");
                continue;
            }
        };
        let took = theirs["seconds"].as_f64().unwrap_or(seconds);
        let problem = read(&body);
        let shown = |outcome: &Outcome| {
            format!(
                "{}, {}, {:.0}",
                outcome.covered,
                outcome.spend,
                outcome.net_wood.mm3()
            )
        };
        let (short, _) = solved(&problem, took / 10.0);
        let (long, _) = solved(&problem, took);
        println!(
            "| {name} | {took:.1} | {}, {}, {:.0} | {} | {} |",
            theirs["covered"],
            theirs["spend"],
            theirs["net_wood_mm3"].as_f64().unwrap_or(f64::NAN),
            shown(&short.answer),
            shown(&long.answer)
        );
    }
}
