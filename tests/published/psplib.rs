//! Resource-constrained project scheduling problems with published bounds: R. Kolisch and A. Sprecher,
//! "PSPLIB - A project scheduling problem library", European Journal of Operational Research 96
//! (1997), 205-216. The files are read from the folder that `SCRAPWRIGHT_BENCHMARKS` names.

use std::path::Path;

use scrapwright::calc::budget::Budget;
use scrapwright::calc::schedule::{Outcome, Problem, check, loose, solve};
use scrapwright::wire;

#[test]
fn published_makespans_are_met_and_never_beaten() {
    #[expect(
        clippy::disallowed_methods,
        reason = "the folder of published problems is named by the environment of the tests"
    )]
    let Ok(folder) = std::env::var("SCRAPWRIGHT_BENCHMARKS") else {
        println!("skipped: SCRAPWRIGHT_BENCHMARKS is not set");
        return;
    };
    let folder = Path::new(&folder).join("schedule/psplib");
    let bounds = std::fs::read_to_string(folder.join("best_known.csv")).expect("the table");
    let mut proven = 0;
    for line in bounds
        .lines()
        .skip(1)
        .filter(|line| line.starts_with("j30"))
    {
        let fields: Vec<&str> = line.split(',').collect();
        let (name, lower, upper) = (fields[0], minutes(fields[1]), minutes(fields[2]));
        let body = std::fs::read(folder.join(format!("{name}.json"))).expect("the problem");
        let (request, _) = wire::schedule::parse(&body).expect("a request");
        let problem = Problem::new(request.clone()).expect("a problem without flaws");
        // Few steps: a slow build must not take long. Most are proven by then.
        let Outcome::Scheduled(solution) = solve(&problem, &Budget::of_steps(45), &|_| {}) else {
            panic!("{name}: there is a schedule");
        };
        let makespan = (solution.finish - request.from).0;
        let bound = (solution.bound.finish - request.from).0;
        assert!(
            makespan >= lower && bound <= upper,
            "{name}: {bound} to {makespan}"
        );
        assert!(check(&request, &solution.starts).is_ok(), "{name}");
        assert_eq!(loose(&request, &solution.starts), [], "{name}");
        if solution.proven {
            assert_eq!(makespan, upper, "{name}");
            proven += 1;
        }
    }
    assert!(proven >= 20, "{proven} proven");
}

fn minutes(text: &str) -> i64 {
    text.parse().expect("whole minutes")
}
