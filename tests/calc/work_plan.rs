//! Plans of several projects on shared clamps and stations, in opening hours.

use proptest::prelude::*;
use scrapwright::calc::budget::Budget;
use scrapwright::calc::matching::Shop;
use scrapwright::calc::schedule::{Flaw, Outcome, Problem, Request, Weight, Window, solve};
use scrapwright::calc::work::{
    After, ClampAsk, ClampLoad, Design, Flattening, FlatteningTool, Given, Hold, Job, Kind, Lends,
    Lent, Needs, Opening, Plan, PlanOutcome, PlannedBooking, Planning, Practice, Presence, Reason,
    Station, Step, StepKind, Use, User, clamp_loads, default_design, needs, plan, why_not_earlier,
};
use scrapwright::units::{Length, Minutes, Newtons, WallMinute};

use crate::woods::woods;

pub fn at(text: &str) -> WallMinute {
    WallMinute::parse(text).expect("a time")
}

pub fn solved(request: Request) -> Result<Outcome, Vec<Flaw>> {
    let problem = Problem::new(request)?;
    Ok(solve(&problem, &Budget::of_steps(20_000), &|_| {}))
}

pub fn planned(planning: &Planning) -> Plan {
    match plan(planning, solved) {
        Ok(PlanOutcome::Planned(plan)) => plan,
        other => panic!("{other:?}"),
    }
}

/// Open every day of June 2027 from 10 to 20; machines run on Mondays, Wednesdays and Saturdays.
fn openings() -> Vec<Opening> {
    (1..=30)
        .map(|day| Opening {
            window: Window {
                from: at(&format!("2027-06-{day:02}T10:00")),
                to: at(&format!("2027-06-{day:02}T20:00")),
            },
            // 2027-06-01 is a Tuesday.
            machines: matches!(day % 7, 0 | 2 | 5),
        })
        .collect()
}

pub fn clamps(id: &str, inches: i64, count: u32) -> Lent {
    let reach = Length::from_inches(inches, 1);
    Lent {
        id: id.to_owned(),
        what: Lends::Clamps {
            reach,
            force: Newtons::default(),
        },
        count,
    }
}

pub fn station(station: Station, count: u32) -> Lent {
    Lent {
        id: station.name().to_owned(),
        what: Lends::Station(station),
        count,
    }
}

pub fn workshop(jobs: Vec<Job>) -> Planning {
    Planning {
        from: at("2027-06-01T08:00"),
        to: at("2027-07-01T00:00"),
        openings: openings(),
        lent: vec![
            clamps("long", 36, 5),
            clamps("short", 18, 6),
            station(Station::GlueBench, 1),
            station(Station::TableSaw, 1),
            station(Station::Sander, 1),
            station(Station::RackPlace, 2),
        ],
        used: Vec::new(),
        at_work: Vec::new(),
        jobs,
        loads: Vec::new(),
    }
}

pub fn steps_of(kind: Kind) -> Vec<Step> {
    needs(
        &default_design(kind),
        &Practice::default(),
        &Shop::default(),
        &woods(),
    )
    .unwrap_or_else(|flaws| panic!("{flaws:?}"))
    .steps
}

pub fn job(id: &str, steps: Vec<Step>) -> Job {
    Job {
        id: id.to_owned(),
        maker: None,
        steps,
        openings: None,
        given: Vec::new(),
        prefer: Vec::new(),
        due: None,
    }
}

pub fn booking<'a>(plan: &'a Plan, job: &str, key: &str) -> &'a PlannedBooking {
    let found = plan
        .bookings
        .iter()
        .find(|booking| booking.job == job && booking.key == key);
    found.unwrap_or_else(|| panic!("no {key} of {job}"))
}

/// Every rule that a booked plan must keep, checked from the plan alone.
pub fn check(planning: &Planning, plan: &Plan) {
    for job in &planning.jobs {
        for step in &job.steps {
            let booked = booking(plan, &job.id, &step.key);
            for after in &step.after {
                let gap = booked.from - booking(plan, &job.id, &after.key).to;
                assert!(
                    gap >= after.min_gap,
                    "{} {} after {}",
                    job.id,
                    step.key,
                    after.key
                );
                assert!(
                    after.max_gap.is_none_or(|most| gap <= most),
                    "{} {}",
                    job.id,
                    step.key
                );
            }
            let is_given = job.given.iter().any(|given| given.key == step.key);
            if step.is_attended() && !is_given {
                let open = planning.openings.iter().any(|opening| {
                    opening.window.from <= booked.from
                        && booked.to <= opening.window.to
                        && (opening.machines || step.presence != Presence::Machine)
                });
                assert!(open, "{} {} at {}", job.id, step.key, booked.from);
            }
        }
    }
    let uses: Vec<&Use> = plan
        .bookings
        .iter()
        .flat_map(|booking| &booking.uses)
        .chain(&planning.used)
        .collect();
    for lent in &planning.lent {
        for moment in uses.iter().map(|used| used.from) {
            let running = uses
                .iter()
                .filter(|used| used.id == lent.id && used.from <= moment && moment < used.to);
            assert!(
                running.map(|used| used.amount).sum::<u32>() <= lent.count,
                "{}",
                lent.id
            );
        }
    }
}

#[test]
fn three_boards_share_the_shop() {
    let planning = workshop(vec![
        job("P1", steps_of(Kind::StripedBoard)),
        job("P2", steps_of(Kind::EndGrainBoard)),
        job("P3", steps_of(Kind::RoundTray)),
    ]);
    let plan = planned(&planning);
    check(&planning, &plan);
    let keys = plan.bookings.len();
    assert_eq!(
        keys,
        planning
            .jobs
            .iter()
            .map(|job| job.steps.len())
            .sum::<usize>()
    );
    let cured = booking(&plan, "P1", "cure");
    assert_eq!(cured.from, booking(&plan, "P1", "coat-2").to);
    assert!(booking(&plan, "P1", "hand-over").from >= cured.to);
    assert_eq!(
        plan.unlisted,
        [Station::WorkBench, Station::Router],
        "not listed, so not limited"
    );
}

#[test]
fn clamps_are_used_until_the_panel_is_freed_and_the_short_ones_first() {
    let planning = workshop(vec![job("P1", steps_of(Kind::StripedBoard))]);
    let plan = planned(&planning);
    let glue_up = booking(&plan, "P1", "glue-up");
    let held: Vec<(&str, u32, WallMinute)> = glue_up
        .uses
        .iter()
        .map(|used| (used.id.as_str(), used.amount, used.to))
        .collect();
    let freed = booking(&plan, "P1", "unclamp").to;
    assert_eq!(held, [("glue bench", 1, glue_up.to), ("short", 4, freed)]);
}

#[test]
fn a_panel_wider_than_every_clamp_is_named() {
    let mut planning = workshop(vec![job("P1", steps_of(Kind::StripedBoard))]);
    planning.lent[0] = clamps("long", 12, 5);
    planning.lent[1] = clamps("short", 10, 6);
    let Ok(PlanOutcome::NoSchedule(conflict)) = plan(&planning, solved) else {
        panic!("13 3/4 in are asked")
    };
    let told = conflict.reasons.join(" ");
    assert!(
        told.contains("clamps that reach 349.25 mm or more"),
        "{told}"
    );
}

#[test]
fn what_is_running_stays_and_keeps_its_clamps() {
    let steps = steps_of(Kind::StripedBoard);
    let given = |key: &str, from: &str, to: &str, uses: Vec<(String, u32)>| Given {
        key: key.to_owned(),
        from: at(from),
        to: at(to),
        uses,
    };
    let mut running = job("P1", steps.clone());
    running.given = vec![
        given("mill", "2027-05-31T10:00", "2027-05-31T12:00", Vec::new()),
        given(
            "dry-fit",
            "2027-05-31T12:00",
            "2027-05-31T12:15",
            Vec::new(),
        ),
        given(
            "glue-up",
            "2027-05-31T19:00",
            "2027-05-31T20:30",
            vec![("long".to_owned(), 4)],
        ),
    ];
    let planning = workshop(vec![running, job("P2", steps)]);
    let plan = planned(&planning);
    check(&planning, &plan);
    let glue_up = booking(&plan, "P1", "glue-up");
    assert_eq!(
        (glue_up.from, glue_up.to),
        (at("2027-05-31T19:00"), at("2027-05-31T20:30"))
    );
    assert!(
        glue_up
            .uses
            .iter()
            .any(|used| used.id == "long" && used.amount == 4)
    );
    assert!(booking(&plan, "P1", "unclamp").from >= at("2027-06-01T10:00"));
}

#[test]
fn due_dates_and_own_days_are_kept_and_missed_ones_told() {
    let mut job = job("P1", steps_of(Kind::HandleBoard));
    job.openings = Some(openings().into_iter().skip(9).collect());
    job.due = Some((at("2027-06-12T12:00"), Weight::ONE));
    let plan = planned(&workshop(vec![job]));
    assert!(booking(&plan, "P1", "mill").from >= at("2027-06-10T10:00"));
    // Milled on the 12th at the earliest (a machine day), two coats a day apart, seven days of cure.
    let handed = booking(&plan, "P1", "hand-over");
    let late = handed.to - at("2027-06-12T12:00");
    assert_eq!(plan.tardiness.to_string(), late.0.to_string());
    assert!(late > Minutes(8 * 1440));
}

#[test]
fn two_panels_of_one_tray_share_a_clamp_load() {
    let steps = steps_of(Kind::RoundTray);
    let ask = |key: &str| {
        let step = steps
            .iter()
            .find(|step| step.key == key)
            .expect("a tray has both panels");
        step.clamps()[0]
    };
    let (base, ring) = (ask("glue-up-base"), ask("glue-up-ring"));
    let mut planning = workshop(vec![job("P1", steps.clone())]);
    let alone = planned(&planning);
    planning.loads = vec![ClampLoad {
        members: vec![
            (0, "glue-up-base".to_owned()),
            (0, "glue-up-ring".to_owned()),
        ],
        clamps: ClampAsk {
            number: base.number.max(ring.number),
            least_reach: Length::from_inches(34, 1),
            least_force: Newtons::default(),
        },
    }];
    let shared = planned(&planning);
    check(
        &Planning {
            loads: Vec::new(),
            ..planning.clone()
        },
        &shared,
    );
    let first = booking(&shared, "P1", "glue-up-base");
    let second = booking(&shared, "P1", "glue-up-ring");
    assert_eq!((first.from, first.to), (second.from, second.to));
    assert!(
        first
            .uses
            .iter()
            .any(|used| used.id == "long" && used.amount == base.number)
    );
    assert_eq!(second.uses, []);
    assert_eq!(
        booking(&shared, "P1", "unclamp-base").from,
        booking(&shared, "P1", "unclamp-ring").from
    );
    let used = |plan: &Plan| {
        let uses = plan.bookings.iter().flat_map(|booking| &booking.uses);
        uses.filter(|used| used.id == "long" || used.id == "short")
            .map(|used| used.amount)
            .sum::<u32>()
    };
    assert!(used(&shared) < used(&alone));
}

fn needs_of(design: &Design, practice: &Practice) -> Needs {
    needs(design, practice, &Shop::default(), &woods()).unwrap_or_else(|flaws| panic!("{flaws:?}"))
}

fn suggested(designs: &[Design], lent: Lent) -> Vec<ClampLoad> {
    suggested_with(designs, lent, &Practice::default())
}

fn suggested_with(designs: &[Design], lent: Lent, practice: &Practice) -> Vec<ClampLoad> {
    let needs: Vec<Needs> = designs
        .iter()
        .map(|design| needs_of(design, practice))
        .collect();
    let jobs = needs.iter().enumerate();
    let mut planning = workshop(
        jobs.map(|(place, needs)| Job {
            // One maker for all, with two hands.
            maker: Some("Ada".to_owned()),
            ..job(&format!("P{place}"), needs.steps.clone())
        })
        .collect(),
    );
    planning.lent[0] = lent;
    let projects: Vec<(&Needs, &Practice)> = needs.iter().map(|needs| (needs, practice)).collect();
    let loads = clamp_loads(&planning, &projects);
    // Whatever is suggested can be planned, and what is certain with room to share is certain for it.
    let alone = planned(&planning);
    planning.loads = loads.clone();
    let shared = planned(&planning);
    let certain = planned(&planning.with_room_to_share()).bound;
    for plan in [&alone, &shared] {
        assert!((certain.tardiness, certain.finish) <= (plan.tardiness, plan.finish));
    }
    check(
        &Planning {
            loads: Vec::new(),
            ..planning
        },
        &shared,
    );
    loads
}

fn members(loads: &[ClampLoad]) -> Vec<Vec<(usize, &str)>> {
    loads
        .iter()
        .map(|load| {
            load.members
                .iter()
                .map(|(job, key)| (*job, key.as_str()))
                .collect()
        })
        .collect()
}

/// Two 14 1/2 in blanks, a separator of 1/4 in and cauls of 2 in: 33 1/4 in.
#[test]
fn both_blanks_of_a_tray_are_suggested_as_one_load_where_clamps_reach() {
    let tray = default_design(Kind::RoundTray);
    let loads = suggested(std::slice::from_ref(&tray), clamps("long", 36, 6));
    assert_eq!(
        members(&loads),
        [[(0, "glue-up-base"), (0, "glue-up-ring")]]
    );
    assert_eq!(loads[0].clamps.least_reach, Length::from_inches(133, 4));
    assert_eq!(suggested(&[tray], clamps("long", 33, 6)), []);
}

/// 12 lines of one board and 12 of the other take 12 minutes at 30 seconds each; the glue is open for 10.
#[test]
fn boards_whose_glue_would_dry_before_all_lines_are_spread_do_not_share() {
    let board = default_design(Kind::StripedBoard);
    assert_eq!(
        suggested(&[board.clone(), board.clone()], clamps("long", 36, 6)),
        []
    );
    let Design::StripedBoard(mut narrow) = board else {
        panic!("a striped board")
    };
    narrow.arrangement.strips.truncate(9);
    narrow.width = narrow.arrangement.width();
    let narrow = Design::StripedBoard(narrow);
    let loads = suggested(&[narrow.clone(), narrow], clamps("long", 36, 6));
    assert_eq!(members(&loads), [[(0, "glue-up"), (1, "glue-up")]]);
}

/// The whole board is as long and as high as its sub-panels, but it waits for both of them.
#[test]
fn a_glue_up_never_shares_clamps_with_one_that_it_waits_for() {
    let practice = Practice {
        flattening: Flattening {
            tool: FlatteningTool::Planer,
            pass_width: Some(Length::from_inches(6, 1)),
        },
        ..Practice::default()
    };
    let board = default_design(Kind::StripedBoard);
    let loads = suggested_with(&[board], clamps("long", 60, 9), &practice);
    assert_eq!(
        members(&loads),
        [[(0, "glue-up-part-1"), (0, "glue-up-part-2")]]
    );
}

/// Both boards ask 4 clamps; the workshop has 5 of one set. P2 waits until P1's are free.
#[test]
fn the_plan_says_why_a_step_is_not_earlier() {
    let steps = steps_of(Kind::StripedBoard);
    let mut planning = workshop(vec![job("P1", steps.clone()), job("P2", steps)]);
    planning.lent.remove(1);
    planning.jobs[0].due = Some((at("2027-06-02T00:00"), Weight::ONE));
    let plan = planned(&planning);
    check(&planning, &plan);
    let why = |job: &str, key: &str| why_not_earlier(&planning, &plan, job, key);

    // The workshop opens on 1 June, a Tuesday, and machines run from Wednesday on.
    let begins = Reason::Begins { at: planning.from };
    let shut = Reason::Shut {
        until: at("2027-06-02T10:00"),
        machines: true,
    };
    assert_eq!(why("P1", "mill"), [begins, shut]);

    let milled = booking(&plan, "P1", "mill").to;
    let waits = Reason::Waits {
        key: "mill".to_owned(),
        ends: milled,
        gap: Minutes(0),
    };
    assert_eq!(why("P1", "dry-fit"), [waits]);

    let cured = why("P1", "hand-over");
    assert!(
        matches!(&cured[0], Reason::Waits { key, .. } if key == "cure"),
        "{cured:?}"
    );

    let glue_up = why("P2", "glue-up");
    let in_use = glue_up.iter().find_map(|reason| match reason {
        Reason::InUse {
            what: Lends::Clamps { .. },
            free,
            asked,
            by,
            until,
        } => Some((*free, *asked, by.clone(), *until)),
        _ => None,
    });
    let by_first = User::Step {
        job: "P1".to_owned(),
        key: "glue-up".to_owned(),
    };
    let freed = booking(&plan, "P1", "unclamp").to;
    assert_eq!(in_use, Some((1, 4, vec![by_first], freed)), "{glue_up:?}");
    assert_eq!(why("P3", "mill"), []);
}

/// A glue-up of one minute that holds clamps of at least `reach` inches until its unclamping.
fn small_steps(reach: i64, number: u32, clamped: i64) -> Vec<Step> {
    let step = |key: &str, kind: StepKind| Step {
        kind,
        key: key.to_owned(),
        name: key.to_owned(),
        minutes: Minutes(1),
        presence: Presence::Member,
        stations: Vec::new(),
        after: Vec::new(),
        hold: None,
        panel: None,
        cautions: Vec::new(),
    };
    let mut glue_up = step("glue", StepKind::GlueUp);
    let least_reach = Length::from_inches(reach, 1);
    glue_up.hold = Some(Hold {
        until: "free".to_owned(),
        clamps: vec![ClampAsk {
            number,
            least_reach,
            least_force: Newtons::default(),
        }],
        stations: Vec::new(),
    });
    let mut free = step("free", StepKind::Unclamp);
    free.after = vec![After {
        key: "glue".to_owned(),
        min_gap: Minutes(clamped),
        max_gap: None,
    }];
    vec![glue_up, free]
}

/// The earliest end of the last task, by trying all starts and all ways to hand out single clamps.
fn earliest_by_trying_all(jobs: &[(i64, u32, i64)], counts: &[u32], horizon: i64) -> Option<i64> {
    fn place(
        jobs: &[(i64, u32, i64)],
        counts: &[u32],
        horizon: i64,
        held: &mut Vec<(usize, i64, i64)>,
        best: &mut Option<i64>,
    ) {
        let Some((&(level, number, clamped), rest)) = jobs.split_first() else {
            let end = held.iter().map(|(_, _, to)| *to).max().unwrap_or(0);
            *best = Some(best.map_or(end, |known| known.min(end)));
            return;
        };
        for from in 0..=horizon - clamped - 2 {
            let to = from + clamped + 2;
            if best.is_some_and(|best| to >= best && held.iter().all(|held| held.2 < best)) {
                continue;
            }
            let free = |set: usize, held: &[(usize, i64, i64)]| {
                (from..to)
                    .map(|minute| {
                        let uses = held.iter().filter(|(other, begin, end)| {
                            *other == set && *begin <= minute && minute < *end
                        });
                        (counts[set] as usize).saturating_sub(uses.count())
                    })
                    .min()
                    .unwrap_or(0)
            };
            let eligible: Vec<usize> = (level as usize..counts.len()).collect();
            // All ways to take `number` single clamps, as amounts from each eligible set.
            let mut ways: Vec<Vec<usize>> = vec![Vec::new()];
            for _ in 0..number {
                ways = ways
                    .into_iter()
                    .flat_map(|way| {
                        let least = way.last().copied().unwrap_or(0);
                        eligible
                            .iter()
                            .filter(move |set| **set >= least)
                            .map(move |set| way.iter().copied().chain([*set]).collect())
                            .collect::<Vec<Vec<usize>>>()
                    })
                    .collect();
            }
            for way in ways {
                let fits = eligible.iter().all(|set| {
                    way.iter().filter(|other| *other == set).count() <= free(*set, held)
                });
                if fits {
                    let before = held.len();
                    held.extend(way.iter().map(|set| (*set, from, to)));
                    place(rest, counts, horizon, held, best);
                    held.truncate(before);
                }
            }
        }
    }
    let mut best = None;
    place(jobs, counts, horizon, &mut Vec::new(), &mut best);
    best
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn plans_are_as_early_as_any_and_their_clamps_can_be_handed_out(
        counts in proptest::collection::vec(0..3_u32, 2..4),
        jobs in proptest::collection::vec((0..3_i64, 1..3_u32, 0..3_i64), 1..4),
    ) {
        let horizon = 9;
        let jobs: Vec<(i64, u32, i64)> =
            jobs.into_iter().map(|(level, number, clamped)| (level.min(counts.len() as i64 - 1), number, clamped)).collect();
        let planning = Planning {
            from: WallMinute(0),
            to: WallMinute(horizon),
            openings: vec![Opening { window: Window { from: WallMinute(0), to: WallMinute(horizon) }, machines: true }],
            lent: counts.iter().enumerate().map(|(level, count)| clamps(&format!("set {level}"), 10 * (level as i64 + 1), *count)).collect(),
            used: Vec::new(),
            at_work: Vec::new(),
            jobs: jobs.iter().enumerate().map(|(place, (level, number, clamped))| {
                job(&format!("P{place}"), small_steps(10 * level + 5, *number, *clamped))
            }).collect(),
            loads: Vec::new(),
        };
        let best = earliest_by_trying_all(&jobs, &counts, horizon);
        match plan(&planning, solved).expect("no flaws") {
            PlanOutcome::Planned(plan) => {
                check(&planning, &plan);
                let best = best.expect("there is a plan");
                prop_assert!(plan.finish.0 >= best);
                prop_assert!(plan.bound.finish.0 <= best);
                if plan.proven {
                    prop_assert_eq!(plan.finish.0, best);
                }
            }
            PlanOutcome::NoSchedule(_) => prop_assert_eq!(best, None),
            PlanOutcome::NotFoundInTime => {}
        }
    }
}
