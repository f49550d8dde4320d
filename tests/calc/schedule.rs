//! Scheduling against brute force over every minute, and what must hold of every answer.

use scrapwright::calc::budget::Budget;
use scrapwright::calc::schedule::{
    After, Busy, Calendar, Due, Hold, Need, Obstacle, Outcome, Problem, Request, Resource,
    Solution, Task, User, Violation, Weight, Window, check, explain, loose, solve,
};
use scrapwright::units::{Minutes, WallMinute};

/// Numbers that look random and are the same each time.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end
    }

    fn one_in(&mut self, times: u64) -> bool {
        self.below(times) == 0
    }
}

const HORIZON: i64 = 12;
const ORIGIN: WallMinute = WallMinute(1_000_000);

fn minute(offset: i64) -> WallMinute {
    ORIGIN + Minutes(offset)
}

fn needs(numbers: &mut Numbers, most: u64) -> Vec<Need> {
    let mut needs = Vec::new();
    for resource in ["saw", "clamps"] {
        if numbers.one_in(2) {
            let amount = numbers.below(most + 1) as u32;
            needs.push(Need {
                resource: resource.to_owned(),
                amount,
            });
        }
    }
    needs
}

/// A small problem in which every feature of the contract may occur.
fn small_request(seed: u64) -> Request {
    let mut numbers = Numbers(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
    for _ in 0..4 {
        numbers.below(2);
    }
    let count = 2 + numbers.below(3) as usize;
    let id = |task: usize| format!("task {task}");
    let mut windows = Vec::new();
    let mut from = numbers.below(3) as i64;
    while from < HORIZON {
        let to = from + numbers.below(6) as i64;
        windows.push(Window {
            from: minute(from),
            to: minute(to),
        });
        from = to + numbers.below(4) as i64;
    }
    let mut tasks = Vec::new();
    for task in 0..count {
        let mut after = Vec::new();
        for earlier in 0..task {
            if numbers.one_in(3) {
                let min_gap = numbers.below(3) as i64;
                let max_gap = numbers
                    .one_in(2)
                    .then(|| Minutes(min_gap + numbers.below(4) as i64));
                after.push(After {
                    task: id(earlier),
                    min_gap: Minutes(min_gap),
                    max_gap,
                });
            }
        }
        tasks.push(Task {
            id: id(task),
            minutes: Minutes(numbers.below(5) as i64),
            calendar: numbers.one_in(2).then(|| "shop".to_owned()),
            needs: needs(&mut numbers, 2),
            after,
            at: numbers
                .one_in(8)
                .then(|| minute(numbers.below(16) as i64 - 2)),
        });
    }
    let mut holds = Vec::new();
    for (place, task) in tasks.iter().enumerate() {
        if let Some(link) = task.after.first()
            && numbers.one_in(2)
        {
            holds.push(Hold {
                from: link.task.clone(),
                to: id(place),
                needs: needs(&mut numbers, 2),
            });
        } else if numbers.one_in(6) {
            holds.push(Hold {
                from: id(place),
                to: id(place),
                needs: needs(&mut numbers, 1),
            });
        }
    }
    let mut busy = Vec::new();
    if numbers.one_in(2) {
        let from = numbers.below(12) as i64;
        let to = from + numbers.below(4) as i64;
        let amount = numbers.below(3) as u32;
        busy.push(Busy {
            resource: "clamps".to_owned(),
            from: minute(from),
            to: minute(to),
            amount,
        });
    }
    let mut due = Vec::new();
    for _ in 0..numbers.below(4) {
        let weight = ["0", "1", "0.3", "2.5"][numbers.below(4) as usize];
        due.push(Due {
            task: id(numbers.below(count as u64) as usize),
            by: minute(numbers.below(12) as i64 - 1),
            weight: Weight::parse(weight).expect("a weight"),
        });
    }
    let resources = [("saw", 1), ("clamps", 1 + numbers.below(3) as u32)];
    let resources = resources
        .map(|(id, capacity)| Resource {
            id: id.to_owned(),
            capacity,
        })
        .to_vec();
    Request {
        from: minute(0),
        to: minute(HORIZON),
        calendars: vec![Calendar {
            id: "shop".to_owned(),
            windows,
        }],
        resources,
        tasks,
        holds,
        busy,
        due,
        prefer: Vec::new(),
    }
}

/// Tardiness in billionths, finish, and preferred starts that are not kept, of the best schedule, by
/// trying every start of every task.
fn brute_force(request: &Request) -> Option<(i128, i64, usize)> {
    let mut starts = Vec::new();
    let mut best = None;
    try_all(request, &mut starts, &mut best);
    best
}

fn place(request: &Request, id: &str) -> usize {
    request
        .tasks
        .iter()
        .position(|task| task.id == id)
        .expect("a known task")
}

fn try_all(request: &Request, starts: &mut Vec<i64>, best: &mut Option<(i128, i64, usize)>) {
    let Some(task) = request.tasks.get(starts.len()) else {
        if fits(request, starts) {
            let end = |id: &str| {
                let task = place(request, id);
                starts[task] + request.tasks[task].minutes.0
            };
            let late = request.due.iter().map(|due| {
                let by = (due.by - request.from).0;
                i128::from((end(&due.task) - by).max(0)) * i128::from(due.weight.billionths())
            });
            let last = request
                .tasks
                .iter()
                .map(|task| end(&task.id))
                .max()
                .unwrap_or(0);
            let preferred = request
                .prefer
                .iter()
                .filter(|(task, at)| request.from + Minutes(starts[place(request, task)]) != *at);
            let value = (late.sum(), last, preferred.count());
            if best.is_none_or(|best| value < best) {
                *best = Some(value);
            }
        }
        return;
    };
    let candidates: Vec<i64> = match task.at {
        Some(at) => vec![(at - request.from).0],
        None => (0..=HORIZON - task.minutes.0).collect(),
    };
    'candidates: for start in candidates {
        let end = start + task.minutes.0;
        if task.at.is_none() && task.calendar.is_some() {
            let mut windows = request.calendars[0].windows.iter();
            let inside = |window: &Window| {
                (window.from - request.from).0 <= start && end <= (window.to - request.from).0
            };
            if !windows.any(inside) {
                continue;
            }
        }
        for link in &task.after {
            let before = place(request, &link.task);
            let gap = start - starts[before] - request.tasks[before].minutes.0;
            if gap < link.min_gap.0 || link.max_gap.is_some_and(|most| gap > most.0) {
                continue 'candidates;
            }
        }
        starts.push(start);
        try_all(request, starts, best);
        starts.pop();
    }
}

/// Whether no resource is over its capacity in any minute.
fn fits(request: &Request, starts: &[i64]) -> bool {
    request.resources.iter().all(|resource| {
        let amount = |needs: &[Need]| -> i64 {
            let of_it = needs.iter().filter(|need| need.resource == resource.id);
            of_it.map(|need| i64::from(need.amount)).sum()
        };
        (-10..40).all(|now| {
            let mut in_use = 0;
            for (task, &start) in request.tasks.iter().zip(starts) {
                if start <= now && now < start + task.minutes.0 {
                    in_use += amount(&task.needs);
                }
            }
            for hold in &request.holds {
                let (first, last) = (place(request, &hold.from), place(request, &hold.to));
                if starts[first] <= now && now < starts[last] + request.tasks[last].minutes.0 {
                    in_use += amount(&hold.needs);
                }
            }
            for busy in request
                .busy
                .iter()
                .filter(|busy| busy.resource == resource.id)
            {
                if (busy.from - request.from).0 <= now && now < (busy.to - request.from).0 {
                    in_use += i64::from(busy.amount);
                }
            }
            in_use <= i64::from(resource.capacity)
        })
    })
}

fn solved_with(request: &Request, threads: usize) -> Outcome {
    let problem = Problem::new(request.clone()).unwrap_or_else(|flaws| panic!("{flaws:?}"));
    solve(
        &problem,
        &Budget::of_steps(100_000).with_threads(threads),
        &|_| {},
    )
}

fn solution(request: &Request) -> Solution {
    match solved_with(request, 1) {
        Outcome::Scheduled(solution) => solution,
        other => panic!("{other:?}"),
    }
}

#[test]
fn small_problems_are_solved_as_brute_force_solves_them() {
    let (mut scheduled, mut late, mut impossible) = (0, 0, 0);
    for seed in 0..400 {
        let request = small_request(seed);
        match (solved_with(&request, 1), brute_force(&request)) {
            (Outcome::Scheduled(solution), Some((tardiness, finish, _))) => {
                assert_eq!(solution.tardiness.0, tardiness, "tardiness, seed {seed}");
                assert_eq!(
                    (solution.finish - request.from).0,
                    finish,
                    "finish, seed {seed}"
                );
                assert!(solution.proven, "seed {seed}");
                let figures = check(&request, &solution.starts)
                    .unwrap_or_else(|broken| panic!("seed {seed}: {broken:?}"));
                assert_eq!(figures.tardiness, solution.bound.tardiness);
                assert_eq!(figures.finish, solution.bound.finish);
                assert_eq!(loose(&request, &solution.starts), [], "seed {seed}");
                scheduled += 1;
                late += usize::from(tardiness > 0);
            }
            (Outcome::NoSchedule(conflict), None) => {
                assert!(!conflict.reasons.is_empty());
                impossible += 1;
            }
            (outcome, expected) => panic!("seed {seed}: {outcome:?}, by brute force {expected:?}"),
        }
    }
    // The problems must be of all sorts, or the test says little.
    assert!(
        scheduled > 100 && late > 50 && impossible > 30,
        "{scheduled} {late} {impossible}"
    );
}

#[test]
fn the_named_tasks_alone_are_impossible_too() {
    let mut smaller = 0;
    for seed in 0..400 {
        let request = small_request(seed);
        let Outcome::NoSchedule(conflict) = solved_with(&request, 1) else {
            continue;
        };
        if conflict.tasks.is_empty() {
            assert!(!conflict.resources.is_empty(), "seed {seed}: {conflict:?}");
            continue;
        }
        let named = |id: &String| conflict.tasks.contains(id);
        let mut part = request.clone();
        part.tasks.retain(|task| named(&task.id));
        for task in &mut part.tasks {
            task.after
                .retain(|link| conflict.tasks.contains(&link.task));
        }
        part.holds
            .retain(|hold| named(&hold.from) && named(&hold.to));
        part.due.clear();
        assert_eq!(brute_force(&part), None, "seed {seed}: {conflict:?}");
        smaller += usize::from(part.tasks.len() < request.tasks.len());
    }
    assert!(smaller > 20, "{smaller}");
}

#[test]
fn a_proven_answer_is_the_same_with_one_thread_or_two() {
    for seed in 0..60 {
        let request = small_request(seed);
        match (solved_with(&request, 1), solved_with(&request, 2)) {
            (Outcome::Scheduled(one), Outcome::Scheduled(two)) => {
                assert!(one.proven && two.proven);
                assert_eq!(one.starts, two.starts, "seed {seed}");
            }
            (one, two) => assert_eq!(one, two),
        }
    }
}

#[test]
fn more_capacity_never_makes_a_schedule_later() {
    for seed in 0..100 {
        let request = small_request(seed);
        let Outcome::Scheduled(before) = solved_with(&request, 1) else {
            continue;
        };
        let mut roomier = request.clone();
        for resource in &mut roomier.resources {
            resource.capacity += 1;
        }
        let after = solution(&roomier);
        let value = |solution: &Solution| (solution.tardiness, solution.finish);
        assert!(value(&after) <= value(&before), "seed {seed}");
    }
}

#[test]
fn the_order_of_the_request_does_not_matter() {
    for seed in 0..200 {
        let mut request = small_request(seed);
        for task in 0..request.tasks.len() {
            // Many equally good schedules: which one is it?
            request.tasks[task].minutes = Minutes(2);
        }
        let Outcome::Scheduled(before) = solved_with(&request, 1) else {
            continue;
        };
        let mut reversed = request.clone();
        reversed.tasks.reverse();
        reversed.resources.reverse();
        reversed.holds.reverse();
        reversed.due.reverse();
        reversed.calendars[0].windows.reverse();
        let mut after = solution(&reversed).starts;
        after.reverse();
        assert_eq!(before.starts, after, "seed {seed}");
    }
}

#[test]
fn the_check_finds_each_kind_of_violation() {
    let task = |id: &str, minutes| Task {
        id: id.to_owned(),
        minutes: Minutes(minutes),
        calendar: Some("shop".to_owned()),
        needs: vec![Need {
            resource: "saw".to_owned(),
            amount: 1,
        }],
        after: Vec::new(),
        at: None,
    };
    let mut glue = task("glue", 2);
    glue.after = vec![After {
        task: "mill".to_owned(),
        min_gap: Minutes(1),
        max_gap: Some(Minutes(3)),
    }];
    let request = Request {
        from: minute(0),
        to: minute(20),
        calendars: vec![Calendar {
            id: "shop".to_owned(),
            windows: vec![
                Window {
                    from: minute(2),
                    to: minute(8),
                },
                Window {
                    from: minute(8),
                    to: minute(20),
                },
            ],
        }],
        resources: vec![Resource {
            id: "saw".to_owned(),
            capacity: 1,
        }],
        tasks: vec![
            task("mill", 3),
            glue,
            Task {
                at: Some(minute(12)),
                ..task("sand", 4)
            },
        ],
        ..Request::default()
    };
    let violations = |mill: i64, glue: i64, sand: i64| {
        check(&request, &[minute(mill), minute(glue), minute(sand)])
            .err()
            .unwrap_or_default()
    };
    let id = |text: &str| text.to_owned();
    assert_eq!(violations(2, 6, 12), []);
    assert_eq!(
        violations(1, 6, 12),
        [Violation::OutsideWindows { task: id("mill") }]
    );
    assert_eq!(
        violations(3, 7, 12),
        [Violation::OutsideWindows { task: id("glue") }]
    );
    assert_eq!(
        violations(2, 5, 12)[0],
        Violation::TooSoon {
            task: id("glue"),
            after: id("mill")
        }
    );
    assert_eq!(
        violations(2, 9, 12),
        [Violation::TooLate {
            task: id("glue"),
            after: id("mill")
        }]
    );
    assert_eq!(
        violations(2, 6, 13),
        [Violation::NotAsGiven {
            task: id("sand"),
            at: minute(12)
        }]
    );
    assert_eq!(
        violations(8, 12, 12),
        [Violation::OverCapacity {
            resource: id("saw"),
            from: minute(12),
            in_use: 2
        }]
    );
    assert_eq!(
        loose(&request, &[minute(3), minute(8), minute(12)]),
        [Violation::Loose {
            task: id("mill"),
            could: minute(2)
        },]
    );
}

#[test]
fn each_task_of_a_tight_schedule_is_explained() {
    let mut explained = 0;
    for seed in 0..200 {
        let request = small_request(seed);
        let Outcome::Scheduled(solution) = solved_with(&request, 1) else {
            continue;
        };
        let problem = Problem::new(request.clone()).expect("it was solved");
        for (task, &start) in request.tasks.iter().zip(&solution.starts) {
            let obstacles = explain(&problem, &solution.starts, &task.id).expect("a known task");
            assert!(!obstacles.is_empty(), "seed {seed}, {}", task.id);
            if task.at.is_some() {
                assert_eq!(obstacles, [Obstacle::Given]);
            } else if start > request.from {
                explained += 1;
            }
        }
        assert_eq!(explain(&problem, &solution.starts, "no such task"), None);
    }
    assert!(explained > 50, "{explained}");
}

#[test]
fn an_explanation_names_links_closures_and_users() {
    let task = |id: &str, minutes, needs: Vec<Need>| Task {
        id: id.to_owned(),
        minutes: Minutes(minutes),
        calendar: Some("shop".to_owned()),
        needs,
        after: Vec::new(),
        at: None,
    };
    let clamps = |amount| {
        vec![Need {
            resource: "clamps".to_owned(),
            amount,
        }]
    };
    let mut unclamp = task("unclamp", 1, Vec::new());
    unclamp.after = vec![After {
        task: "glue".to_owned(),
        min_gap: Minutes(4),
        max_gap: None,
    }];
    let request = Request {
        from: minute(0),
        to: minute(30),
        calendars: vec![Calendar {
            id: "shop".to_owned(),
            windows: vec![
                Window {
                    from: minute(2),
                    to: minute(10),
                },
                Window {
                    from: minute(20),
                    to: minute(30),
                },
            ],
        }],
        resources: vec![Resource {
            id: "clamps".to_owned(),
            capacity: 5,
        }],
        tasks: vec![
            task("glue", 2, Vec::new()),
            unclamp,
            task("bend", 3, clamps(3)),
        ],
        holds: vec![Hold {
            from: "glue".to_owned(),
            to: "unclamp".to_owned(),
            needs: clamps(3),
        }],
        ..Request::default()
    };
    let problem = Problem::new(request).expect("no flaws");
    let starts = [minute(2), minute(8), minute(20)];
    let id = |text: &str| text.to_owned();
    assert_eq!(
        explain(&problem, &starts, "bend"),
        Some(vec![
            Obstacle::Beginning,
            Obstacle::Closed {
                calendar: id("shop"),
                from: minute(0),
                until: minute(2)
            },
            Obstacle::InUse {
                resource: id("clamps"),
                from: minute(2),
                until: minute(9),
                by: vec![User::Hold {
                    from: id("glue"),
                    to: id("unclamp")
                }],
            },
            Obstacle::Closed {
                calendar: id("shop"),
                from: minute(9),
                until: minute(20)
            },
        ])
    );
    assert_eq!(
        explain(&problem, &starts, "unclamp"),
        Some(vec![Obstacle::Earlier {
            task: id("glue"),
            ends: minute(4),
            min_gap: Minutes(4)
        }])
    );
}

#[test]
fn as_few_preferred_starts_as_possible_are_moved() {
    let mut moved = 0;
    for seed in 0..200 {
        let mut request = small_request(seed);
        let mut numbers = Numbers(seed);
        for task in &request.tasks {
            if !numbers.one_in(4) {
                let at = minute(numbers.below(10) as i64);
                request.prefer.push((task.id.clone(), at));
            }
        }
        let Some((tardiness, finish, least)) = brute_force(&request) else {
            continue;
        };
        let solution = solution(&request);
        assert_eq!(solution.tardiness.0, tardiness, "seed {seed}");
        assert_eq!((solution.finish - request.from).0, finish, "seed {seed}");
        assert_eq!(solution.moved, least, "seed {seed}");
        moved += least;
    }
    assert!(moved > 50, "{moved}");
}
