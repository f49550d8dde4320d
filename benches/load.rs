//! How fast pages and calls are answered in a small and in a huge workshop.
//!
//! `cargo bench --bench load` runs everything; `-- small` and `-- huge` take one workshop only. Wall-clock time counts and the
//! asking takes its part of the processor, so let the machine do nothing else.

#[path = "load/bare.rs"]
mod bare;
#[path = "load/client.rs"]
mod client;
#[path = "load/workshop.rs"]
mod filled;
#[expect(dead_code, reason = "other benches use the rest")]
mod measure;
#[path = "../tests/process/server.rs"]
#[expect(dead_code, reason = "some of it only the tests use")]
mod server;

use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use client::{Connection, Request};
use filled::Filled;
use measure::quantile;
use server::{Server, pause};

/// As many ask at the same time as connections are open.
const CONNECTIONS: usize = 8;
const EACH: Duration = Duration::from_secs(3);
/// Of the mix that is sent at fixed moments whether or not answers are there.
const MIX_PER_SECOND: u32 = 50;
const MIX_LASTS: Duration = Duration::from_secs(60);

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if let [word, file] = &arguments[..]
        && word == "bare"
    {
        return bare::serve(Path::new(file));
    }
    let asked: Vec<&str> = ["small", "huge"]
        .into_iter()
        .filter(|part| arguments.iter().any(|argument| argument == part))
        .collect();
    let is_wanted = |part: &str| asked.is_empty() || asked.contains(&part);
    if is_wanted("small") {
        measure_workshop(&Filled::make(5_000, 50_000));
    }
    if is_wanted("huge") {
        measure_workshop(&Filled::make(100_000, 1_000_000));
    }
}

/// Ten pages and five calls that members and their scripts use most.
fn requests(workshop: &Filled) -> Vec<Request> {
    let piece = r#"{"species": "hard maple", "length": "24 in", "width": "3 in", "thickness": "7/8 in", "bin": 1}"#;
    vec![
        Request::get("Today", "/"),
        Request::get("bins", "/bins"),
        Request::get("a bin's shelf", format!("/bins/{}", workshop.bin)),
        Request::get(
            "search by species and size",
            "/bins?species=hard+maple&length=30+in&width=4+in&show=free",
        ),
        Request::get(
            "which pieces give a strip",
            "/bins/strip?wood=hard+maple&strip_length=18+in&rip=1+1%2F4+in&stock=3%2F4+in",
        ),
        Request::get("a piece", format!("/offcuts/{}", workshop.piece)),
        Request::get("projects", "/projects"),
        Request::get(
            "a project's design",
            format!("/projects/{}/design", workshop.project),
        ),
        Request::get("glue-ups of the week", "/glue-ups"),
        Request::get("ledger", "/ledger"),
        Request::get(
            "call: offcuts by species and size",
            "/api/v1/offcuts?species=hard+maple&least_length=30+in",
        ),
        Request::get(
            "call: a piece",
            format!("/api/v1/offcuts/{}", workshop.piece),
        ),
        Request::get("call: bookings", "/api/v1/bookings"),
        Request::get("call: ledger", "/api/v1/ledger"),
        Request {
            name: "call: add a piece",
            method: "POST",
            path: "/api/v1/offcuts".to_owned(),
            body: piece.to_owned(),
        },
    ]
}

fn measure_workshop(workshop: &Filled) {
    println!(
        "\n{} pieces in bins, {} rows in the ledger, a file of {:.0} MB",
        workshop.pieces,
        workshop.ledger_rows,
        workshop.file_mb()
    );
    let started = Instant::now();
    let server = Server::start(&workshop.file());
    println!("ready after {:.2} s", started.elapsed().as_secs_f64());
    let process = server.child.id();
    println!("memory at rest: {}", memory(process));
    let identity = format!(
        "cookie: {}",
        server.session("/sign-in", "name=bram&password=shavings+on+the+floor")
    );

    println!("\n| what | requests/s | p50 ms | p99 ms | processor ms each | kB |");
    println!("| --- | --- | --- | --- | --- | --- |");
    let executable = std::env::current_exe().expect("this bench is a file");
    let bare = Server::listen(Command::new(executable).arg("bare").arg(workshop.file()));
    for (name, path) in [
        ("bare: hello", "/hello"),
        ("bare: a read by an index", "/read"),
    ] {
        print_row(&bare, "", &Request::get(name, path));
    }
    drop(bare);
    let requests = requests(workshop);
    for request in &requests {
        print_row(&server, &identity, request);
    }
    println!("\nmemory after all this: {}", memory(process));
    mix(&server, &identity, &requests);
    println!("memory in the end: {}", memory(process));
}

/// All connections ask as fast as they are answered.
fn print_row(server: &Server, identity: &str, request: &Request) {
    let ends = Instant::now() + EACH;
    let before = processor_seconds(server.child.id());
    let asking: Vec<_> = (0..CONNECTIONS)
        .map(|_| {
            let mut connection = Connection::open(&server.address, identity);
            let request = request.clone();
            std::thread::spawn(move || {
                let mut taken = Vec::new();
                let mut length = 0;
                while Instant::now() < ends {
                    let sent = Instant::now();
                    length = connection.ask(&request);
                    taken.push(sent.elapsed().as_secs_f64() * 1e3);
                }
                (taken, length)
            })
        })
        .collect();
    let mut taken = Vec::new();
    let mut length = 0;
    for thread in asking {
        let (some, transferred) = thread.join().expect("every request was answered");
        taken.extend(some);
        length = transferred;
    }
    let processor = processor_seconds(server.child.id()) - before;
    println!(
        "| {} | {:.0} | {:.2} | {:.2} | {:.2} | {:.1} |",
        request.name,
        taken.len() as f64 / EACH.as_secs_f64(),
        quantile(&taken, 0.5),
        quantile(&taken, 0.99),
        processor * 1e3 / taken.len() as f64,
        length as f64 / 1e3
    );
}

/// Requests of every kind in turn at fixed moments; the time of each counts from its moment, not from when a connection was free.
fn mix(server: &Server, identity: &str, requests: &[Request]) {
    let between = Duration::from_secs(1) / MIX_PER_SECOND;
    let total = (MIX_LASTS.as_secs_f64() * f64::from(MIX_PER_SECOND)) as usize;
    let next = AtomicUsize::new(0);
    let begins = Instant::now() + Duration::from_millis(100);
    let before = processor_seconds(server.child.id());
    let mut taken: Vec<(usize, f64)> = std::thread::scope(|scope| {
        let asking: Vec<_> = (0..CONNECTIONS * 2)
            .map(|_| {
                scope.spawn(|| {
                    let mut connection = Connection::open(&server.address, identity);
                    let mut taken = Vec::new();
                    loop {
                        let number = next.fetch_add(1, Ordering::Relaxed);
                        if number >= total {
                            return taken;
                        }
                        let due = begins + between * u32::try_from(number).expect("few requests");
                        pause(due.saturating_duration_since(Instant::now()));
                        connection.ask(&requests[number % requests.len()]);
                        taken.push((number % requests.len(), due.elapsed().as_secs_f64() * 1e3));
                    }
                })
            })
            .collect();
        asking
            .into_iter()
            .flat_map(|thread| thread.join().expect("every request was answered"))
            .collect()
    });
    let processor = processor_seconds(server.child.id()) - before;
    taken.sort_by(|one, other| one.1.total_cmp(&other.1));
    let all: Vec<f64> = taken.iter().map(|(_, ms)| *ms).collect();
    println!(
        "\n{MIX_PER_SECOND} requests a second of every kind for {} s: p50 {:.2} ms, p99 {:.2} ms, slowest {:.2} ms, processor {:.0} %",
        MIX_LASTS.as_secs(),
        quantile(&all, 0.5),
        quantile(&all, 0.99),
        all.last().copied().unwrap_or(f64::NAN),
        processor / MIX_LASTS.as_secs_f64() * 100.0
    );
    println!("\n| of these | p50 ms | p99 ms |\n| --- | --- | --- |");
    for (place, request) in requests.iter().enumerate() {
        let own: Vec<f64> = taken
            .iter()
            .filter(|(kind, _)| *kind == place)
            .map(|(_, ms)| *ms)
            .collect();
        println!(
            "| {} | {:.2} | {:.2} |",
            request.name,
            quantile(&own, 0.5),
            quantile(&own, 0.99)
        );
    }
}

fn memory(process: u32) -> String {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let of = |name: &str| {
        status
            .lines()
            .find_map(|line| {
                line.strip_prefix(name)?
                    .split_whitespace()
                    .next()?
                    .parse::<f64>()
                    .ok()
            })
            .map_or_else(|| "?".to_owned(), |kb| format!("{:.0}", kb / 1024.0))
    };
    format!("{} MiB now, {} MiB at most", of("VmRSS:"), of("VmHWM:"))
}

/// Processor time that the process has used (proc(5): fields 14 and 15, in hundredths of a second).
fn processor_seconds(process: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
    let after_name = stat.rsplit(") ").next().unwrap_or_default();
    let ticks: f64 = after_name
        .split(' ')
        .skip(11)
        .take(2)
        .filter_map(|field| field.parse::<f64>().ok())
        .sum();
    ticks / 100.0
}
