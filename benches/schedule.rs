//! How good schedules are after how long: published problems, workshops, and growth with the
//! number of projects.
//!
//! `cargo bench --bench schedule -- [psplib] [workshop] [growth] [--long] [--peer] [--plots FOLDER]`
//!
//! Without a name all three are measured. `--long` adds two minutes to each workshop, `--peer` runs
//! the general constraint solver beside each, where Python finds it. Published problems and
//! workshops are read from the folder in `SCRAPWRIGHT_BENCHMARKS`. Everything has two threads.
//! Wall-clock time counts, so the machine must have nothing else to do.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use scrapwright::calc::budget::Budget;
use scrapwright::calc::matching::Shop;
use scrapwright::calc::schedule::{
    Flaw, Outcome, Problem, Request, Solution, Tardiness, Weight, Window, check, loose, solve,
};
use scrapwright::calc::work::{
    Job, Kind, Lends, Lent, Opening, PlanOutcome, Planning, Practice, Station, Wood,
    default_design, needs, plan,
};
use scrapwright::units::{FoodGrade, Length, Minutes, Newtons, WallMinute, WoodFigures};
use scrapwright::wire;

const THREADS: usize = 2;

fn main() {
    let mut names = Vec::new();
    let (mut long, mut peer, mut plots) = (false, false, None);
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            // What `cargo bench` itself adds.
            "--bench" => {}
            "--long" => long = true,
            "--peer" => peer = true,
            "--plots" => plots = arguments.next().map(PathBuf::from),
            _ => names.push(argument),
        }
    }
    let wanted = |name: &str| names.is_empty() || names.iter().any(|known| known == name);
    #[expect(
        clippy::disallowed_methods,
        reason = "the folder of published problems is named by the environment of the measurement"
    )]
    let folder = std::env::var("SCRAPWRIGHT_BENCHMARKS")
        .ok()
        .map(|folder| Path::new(&folder).join("schedule"));
    match &folder {
        None => println!("SCRAPWRIGHT_BENCHMARKS is not set: only growth is measured"),
        Some(folder) => {
            if wanted("psplib") {
                published(folder);
            }
            if wanted("workshop") {
                workshops(folder, long, peer);
            }
        }
    }
    if wanted("growth") {
        growth(plots.as_deref());
    }
}

/// A schedule that was checked apart from the search, and what it took to find.
fn scheduled(request: &Request, time: Duration) -> (Solution, Duration) {
    let problem = Problem::new(request.clone()).expect("no flaws");
    let started = Instant::now();
    let budget = Budget::until(time, move || started.elapsed()).with_threads(THREADS);
    let outcome = solve(&problem, &budget, &|_| {});
    let elapsed = started.elapsed();
    let Outcome::Scheduled(solution) = outcome else {
        panic!("there is a schedule: {outcome:?}");
    };
    check(request, &solution.starts).expect("a schedule that keeps all rules");
    assert_eq!(loose(request, &solution.starts), []);
    (solution, elapsed)
}

fn read(path: &Path) -> Request {
    let body = std::fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    wire::schedule::parse(&body).expect("a request").0
}

/// The rows of a table without its head.
fn table(path: &Path) -> Vec<Vec<String>> {
    let text = std::fs::read_to_string(path).expect("the table of best known values");
    text.lines()
        .skip(1)
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect()
}

/// Kolisch and Sprecher's problems: proof, time, and gap to the best known makespan.
fn published(folder: &Path) {
    println!(
        "\n| set | problems | proven | median s | worst s | best known reached | mean gap % | worst gap % |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- |");
    let rows = table(&folder.join("psplib/best_known.csv"));
    for (set, seconds) in [("j30", 5), ("j60", 5), ("j120", 10)] {
        let (mut times, mut gaps, mut proven, mut reached) = (Vec::new(), Vec::new(), 0, 0);
        for row in rows.iter().filter(|row| row[0].starts_with(set)) {
            let request = read(&folder.join(format!("psplib/{}.json", row[0])));
            let (solution, elapsed) = scheduled(&request, Duration::from_secs(seconds));
            let makespan = (solution.finish - request.from).0 as f64;
            let lower: f64 = row[1].parse().expect("minutes");
            let known: f64 = row[2].parse().expect("minutes");
            assert!(makespan >= lower, "{}: {makespan} beats {lower}", row[0]);
            times.push(elapsed.as_secs_f64());
            gaps.push(100.0 * (makespan - known) / known);
            proven += usize::from(solution.proven);
            reached += usize::from(makespan <= known);
        }
        let count = times.len();
        times.sort_by(f64::total_cmp);
        gaps.sort_by(f64::total_cmp);
        let (Some(slowest), Some(widest)) = (times.last(), gaps.last()) else {
            continue;
        };
        println!(
            "| {set} | {count} | {proven} | {:.3} | {slowest:.2} | {reached} | {:.2} | {widest:.2} |",
            times[count / 2],
            gaps.iter().sum::<f64>() / count as f64,
        );
    }
}

/// Workshops of several sizes at growing times, beside the best known values.
fn workshops(folder: &Path, long: bool, peer: bool) {
    println!(
        "\n| workshop | time s | needed s | tardiness | finish | bound | proven | best known | peer |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    let times: &[u64] = if long { &[2, 5, 20, 120] } else { &[2, 5, 20] };
    let mut rows = table(&folder.join("workshop/best_known.csv"));
    rows.sort_by_key(|row| (read(&workshop(folder, &row[0])).tasks.len(), row[0].clone()));
    for row in rows {
        let request = read(&workshop(folder, &row[0]));
        for &seconds in times {
            let (solution, elapsed) = scheduled(&request, Duration::from_secs(seconds));
            let other = if peer {
                peer_value(folder, &row[0], seconds)
            } else {
                String::new()
            };
            println!(
                "| {} | {seconds} | {:.2} | {} | {} | {} / {} | {} | {} / {} | {other} |",
                row[0],
                elapsed.as_secs_f64(),
                solution.tardiness,
                solution.finish,
                solution.bound.tardiness,
                solution.bound.finish,
                solution.proven,
                row[1],
                row[2],
            );
            if solution.proven {
                break;
            }
        }
    }
}

fn workshop(folder: &Path, name: &str) -> PathBuf {
    folder.join(format!("workshop/{name}.json"))
}

/// What the general solver has after the same time, with as many threads.
fn peer_value(folder: &Path, name: &str, seconds: u64) -> String {
    let output = Command::new("python3")
        .arg(folder.join("peer_cpsat.py"))
        .arg(workshop(folder, name))
        .arg(seconds.to_string())
        .args(["--threads", &THREADS.to_string()])
        .output();
    let Ok(output) = output else {
        return "no Python".to_owned();
    };
    let answer: BTreeMap<String, serde_json::Value> =
        serde_json::from_slice(&output.stdout).unwrap_or_default();
    match (answer.get("tardiness_minutes"), answer.get("finish")) {
        (Some(tardiness), Some(serde_json::Value::String(finish))) => {
            format!("{tardiness} / {finish}")
        }
        _ => "none".to_owned(),
    }
}

/// Monday 2027-03-01.
const BEGINNING: &str = "2027-03-01T00:00";
const DAYS: i64 = 540;

/// Open on four evenings and on Saturdays; machines run half an hour less.
fn openings(from: WallMinute) -> Vec<Opening> {
    let mut openings = Vec::new();
    for day in 0..DAYS {
        let (opens, shuts) = match day % 7 {
            1..=4 => (18 * 60, 22 * 60),
            5 => (10 * 60, 17 * 60),
            _ => continue,
        };
        for (machines, earlier) in [(false, 0), (true, 30)] {
            openings.push(Opening {
                window: Window {
                    from: from + Minutes(day * 1440 + opens),
                    to: from + Minutes(day * 1440 + shuts - earlier),
                },
                machines,
            });
        }
    }
    openings
}

fn woods() -> Vec<Wood> {
    let figures = WoodFigures {
        specific_gravity: 0.6,
        shrinkage_tangential: None,
        shrinkage_radial: None,
        coefficient_tangential: None,
        coefficient_radial: None,
    };
    ["hard maple", "black walnut", "black cherry"]
        .map(|species| Wood {
            species: species.to_owned(),
            figures,
            food: FoodGrade::Cutting,
        })
        .to_vec()
}

/// A workshop that has this many projects to make, kinds in turn, dates spread.
fn planning(projects: usize) -> Planning {
    let from = WallMinute::parse(BEGINNING).expect("a time");
    let clamps = |id: &str, inches: i64, count: u32| Lent {
        id: id.to_owned(),
        what: Lends::Clamps {
            reach: Length::from_inches(inches, 1),
            force: Newtons::default(),
        },
        count,
    };
    let station = |station: Station, count: u32| Lent {
        id: station.name().to_owned(),
        what: Lends::Station(station),
        count,
    };
    let jobs = (0..projects)
        .map(|place| {
            let kind = Kind::ALL[place % Kind::ALL.len()];
            let asked = needs(
                &default_design(kind),
                &Practice::default(),
                &Shop::default(),
                &woods(),
            );
            // Dates get later at the rate at which the shop can make things, with some disorder.
            let day = 14 + (place * 2 + place * 37 % 11) as i64;
            Job {
                id: format!("P{place}"),
                maker: None,
                steps: asked.expect("the default design can be made").steps,
                openings: None,
                given: Vec::new(),
                prefer: Vec::new(),
                due: Some((from + Minutes(day * 1440), Weight::ONE)),
            }
        })
        .collect();
    Planning {
        from,
        to: from + Minutes(DAYS * 1440),
        openings: openings(from),
        lent: vec![
            clamps("long", 36, 12),
            clamps("middle", 24, 12),
            clamps("short", 18, 12),
            station(Station::GlueBench, 2),
            station(Station::TableSaw, 1),
            station(Station::Sander, 2),
            station(Station::RackPlace, 12),
        ],
        used: Vec::new(),
        at_work: Vec::new(),
        jobs,
        loads: Vec::new(),
    }
}

/// The peak of resident memory in MiB since the last call, where the system tells it.
fn peak_memory() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM"))?;
    let kibibytes: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    // Five starts the peak anew; where that is not allowed the peak is one of the whole program.
    let _ = std::fs::write("/proc/self/clear_refs", "5");
    Some(kibibytes / 1024)
}

/// From 3 to 200 projects planned together: tasks, time to the first plan, quality and memory.
fn growth(plots: Option<&Path>) {
    println!(
        "\n| projects | tasks | rounds | first schedule s | plan after s | tardiness | bound | proven | peak MiB |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    let mut firsts = Vec::new();
    let mut peaks = Vec::new();
    let mut lates = Vec::new();
    for projects in [3, 5, 10, 20, 35, 50, 75, 100, 150, 200] {
        let planning = planning(projects);
        peak_memory();
        let started = Instant::now();
        let (mut tasks, mut first, mut rounds) = (0, None, 0);
        let outcome = plan(&planning, |request| -> Result<Outcome, Vec<Flaw>> {
            tasks = request.tasks.len();
            rounds += 1;
            let problem = Problem::new(request)?;
            // As when a plan is asked for: a later round has its share of what is left.
            let began = started.elapsed();
            let share = Duration::from_secs(5).saturating_sub(began).mul_f64(0.75);
            let budget =
                Budget::until(share, move || started.elapsed() - began).with_threads(THREADS);
            let seen = Mutex::new(None);
            let outcome = solve(&problem, &budget, &|_| {
                let mut seen = seen.lock().expect("no thread panics");
                seen.get_or_insert(started.elapsed());
            });
            first = first.or(seen.into_inner().expect("no thread panics"));
            Ok(outcome)
        });
        let elapsed = started.elapsed();
        let peak = peak_memory().unwrap_or(0);
        let first: Duration = first.unwrap_or(elapsed);
        let (tardiness, bound, proven) = match outcome {
            Ok(PlanOutcome::Planned(plan)) => (plan.tardiness, plan.bound.tardiness, plan.proven),
            other => {
                println!("| {projects} | {tasks} | {rounds} | none: {other:?} |");
                continue;
            }
        };
        println!(
            "| {projects} | {tasks} | {rounds} | {:.3} | {:.2} | {tardiness} | {bound} | {proven} | {peak} |",
            first.as_secs_f64(),
            elapsed.as_secs_f64(),
        );
        firsts.push((projects as f64, first.as_secs_f64() * 1000.0));
        peaks.push((projects as f64, peak as f64));
        let Tardiness(billionths) = tardiness;
        lates.push((projects as f64, billionths as f64 / 1440e9));
    }
    let Some(folder) = plots else {
        return;
    };
    std::fs::create_dir_all(folder).expect("a folder for the plots");
    for (name, title, points) in [
        ("first", "Milliseconds to the first schedule", firsts),
        ("memory", "Peak of memory in MiB", peaks),
        ("late", "Days late of all projects after 5 s", lates),
    ] {
        let file = folder.join(format!("growth-{name}.svg"));
        std::fs::write(&file, plotted(title, &points)).expect("the plot is written");
        println!("{}", file.display());
    }
}

/// A line over the number of projects, with each value written.
fn plotted(title: &str, points: &[(f64, f64)]) -> String {
    let (wide, high) = (560.0, 240.0);
    let most = |value: fn(&(f64, f64)) -> f64| points.iter().map(value).fold(1.0, f64::max);
    let (last, top) = (most(|point| point.0), most(|point| point.1));
    let at = |&(x, y): &(f64, f64)| {
        (
            40.0 + x / last * (wide - 80.0),
            high - 40.0 - y / top * (high - 90.0),
        )
    };
    let line: Vec<String> = points
        .iter()
        .map(|point| format!("{:.1},{:.1}", at(point).0, at(point).1))
        .collect();
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" font-family=\"sans-serif\" font-size=\"11\">\
         <rect width=\"100%\" height=\"100%\" fill=\"#fbf7ef\"/><text x=\"40\" y=\"22\" font-size=\"14\">{title}</text>\
         <polyline points=\"{}\" fill=\"none\" stroke=\"#2b5d8a\" stroke-width=\"2\"/>",
        line.join(" ")
    );
    for point in points {
        let (x, y) = at(point);
        let _ = write!(
            svg,
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\" fill=\"#2b5d8a\"/>\
             <text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{:.0}</text>\
             <text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
            y - 8.0,
            point.1,
            high - 20.0,
            point.0
        );
    }
    let _ = write!(
        svg,
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">projects</text></svg>",
        wide / 2.0,
        high - 5.0
    );
    svg
}
