//! Job-shop problems whose least makespan is published.

use scrapwright::calc::budget::Budget;
use scrapwright::calc::schedule::{
    After, Need, Outcome, Problem, Request, Resource, Task, check, loose, solve,
};
use scrapwright::units::{Minutes, WallMinute};

/// The 6 x 6 problem of H. Fisher and G. L. Thompson, "Probabilistic learning combinations of local
/// job-shop scheduling rules", in J. F. Muth and G. L. Thompson (eds.), Industrial Scheduling,
/// Prentice-Hall 1963, pp. 225-251: for each job its machines and times in turn. The least makespan
/// is 55.
const SIX_BY_SIX: [[(usize, i64); 6]; 6] = [
    [(2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)],
    [(1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)],
    [(2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)],
    [(1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)],
    [(2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)],
    [(1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)],
];

#[test]
fn the_six_by_six_problem_takes_55() {
    let from = WallMinute(0);
    let mut tasks = Vec::new();
    for (job, steps) in SIX_BY_SIX.iter().enumerate() {
        for (step, &(machine, minutes)) in steps.iter().enumerate() {
            let after = step.checked_sub(1).map(|before| After {
                task: format!("job {job} step {before}"),
                min_gap: Minutes(0),
                max_gap: None,
            });
            let need = Need {
                resource: format!("machine {machine}"),
                amount: 1,
            };
            tasks.push(Task {
                id: format!("job {job} step {step}"),
                minutes: Minutes(minutes),
                calendar: None,
                needs: vec![need],
                after: after.into_iter().collect(),
                at: None,
            });
        }
    }
    let machine = |number| Resource {
        id: format!("machine {number}"),
        capacity: 1,
    };
    let request = Request {
        from,
        to: from + Minutes(197),
        resources: (0..6).map(machine).collect(),
        tasks,
        ..Request::default()
    };
    let problem = Problem::new(request.clone()).expect("a problem without flaws");
    let Outcome::Scheduled(solution) = solve(&problem, &Budget::of_steps(5_000), &|_| {}) else {
        panic!("there is a schedule");
    };
    assert_eq!(solution.finish, from + Minutes(55));
    assert!(solution.proven);
    assert!(check(&request, &solution.starts).is_ok());
    assert_eq!(loose(&request, &solution.starts), []);
}
