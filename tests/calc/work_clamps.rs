//! Panels ask for what the workshop's own clamps can really do, and plans hand out nothing weaker.

use scrapwright::calc::gluing::ClampSet;
use scrapwright::calc::matching::Shop;
use scrapwright::calc::work::{
    ClampAsk, Kind, Lends, Lent, Needs, Plan, PlanOutcome, Planning, Practice, Step,
    default_design, needs, plan,
};
use scrapwright::units::{Force, Length, Newtons};

use crate::woods::woods;
use crate::work_plan::{booking, job, planned, solved, workshop};

/// Name, reach in inches, rated newtons (0: nobody knows), count.
type Clamps = (&'static str, i64, u32, u32);

/// Walnut and maple in turns on edge, 17 1/2 x 1 5/8 in at each glue line: walnut (0.55) bears 860 kPa at least, so
/// 860 kPa x 444.5 mm x 41.275 mm = 15.78 kN. Four clamps cover its length; they must open 13 3/4 in.
fn board(rack: &[Clamps]) -> Needs {
    let mut practice = Practice::default();
    practice.clamping.rack = rack
        .iter()
        .map(|&(name, reach, force, count)| ClampSet {
            name: name.to_owned(),
            reach: Length::from_inches(reach, 1),
            rated: (force > 0).then(|| Force::from_newtons(f64::from(force))),
            count: i64::from(count),
        })
        .collect();
    let design = default_design(Kind::StripedBoard);
    needs(&design, &practice, &Shop::default(), &woods())
        .unwrap_or_else(|flaws| panic!("{flaws:?}"))
}

fn asked(rack: &[Clamps]) -> Vec<(u32, u32)> {
    let needs = board(rack);
    let asks = needs.panels[0].clamps.iter();
    asks.map(|ask| {
        assert_eq!(ask.least_reach, Length::from_inches(55, 4));
        (ask.number, ask.least_force.0)
    })
    .collect()
}

#[test]
fn the_number_of_clamps_follows_from_the_force_of_the_set() {
    assert_eq!(asked(&[("bar", 24, 4500, 12)]), [(4, 4500)]);
    assert_eq!(asked(&[("bar", 24, 3000, 12)]), [(6, 3000)]);
    // Strong clamps that are too short do not count.
    let rack = [("short", 12, 9000, 12), ("bar", 24, 3000, 12)];
    assert_eq!(asked(&rack), [(6, 3000)]);
    // The shortest set that does it alone, so that long clamps stay free.
    let rack = [("pipe", 36, 9000, 12), ("bar", 24, 3000, 12)];
    assert_eq!(asked(&rack), [(6, 3000)]);
}

#[test]
fn unlike_clamps_press_together_where_no_set_does_it_alone() {
    // 2 x 4500 N, and 3 x 3000 N for the 6.78 kN that are left.
    let rack = [("bar", 24, 3000, 3), ("pipe", 36, 4500, 2)];
    assert_eq!(asked(&rack), [(2, 4500), (3, 3000)]);
}

#[test]
fn a_rack_that_falls_short_asks_for_what_is_missing() {
    assert_eq!(asked(&[("weak", 24, 1000, 5)]), [(16, 1000)]);
    // Nobody knows the force: as many as of a usual clamp of 4500 N, and any will do.
    assert_eq!(asked(&[("bar", 24, 0, 12)]), [(4, 0)]);
    assert_eq!(asked(&[]), [(4, 0)]);
    let rack = [("weak", 24, 1000, 5)];
    let short = plan(&lending(&rack, &[board(&rack).steps]), solved);
    assert!(matches!(short, Ok(PlanOutcome::NoSchedule(_))), "{short:?}");
}

/// A workshop that lends these clamps and no others.
fn lending(rack: &[Clamps], jobs: &[Vec<Step>]) -> Planning {
    let names = ["P1", "P2", "P3"];
    let jobs = names.iter().zip(jobs);
    let mut planning = workshop(jobs.map(|(name, steps)| job(name, steps.clone())).collect());
    planning
        .lent
        .retain(|lent| !matches!(lent.what, Lends::Clamps { .. }));
    planning
        .lent
        .extend(rack.iter().map(|&(name, reach, force, count)| Lent {
            id: name.to_owned(),
            what: Lends::Clamps {
                reach: Length::from_inches(reach, 1),
                force: Newtons(force),
            },
            count,
        }));
    planning
}

fn handed(plan: &Plan, job: &str) -> Vec<(String, u32)> {
    let uses = booking(plan, job, "glue-up").uses.iter();
    let mut clamps: Vec<(String, u32)> = uses
        .filter(|used| used.id != "glue bench")
        .map(|used| (used.id.clone(), used.amount))
        .collect();
    clamps.sort();
    clamps
}

#[test]
fn weak_clamps_are_not_handed_out_where_strong_ones_were_counted_on() {
    let rack = [("bar", 24, 3000, 4), ("pipe", 36, 4500, 4)];
    let steps = board(&rack).steps;
    let plan = planned(&lending(&rack, &[steps.clone(), steps]));
    for job in ["P1", "P2"] {
        assert_eq!(handed(&plan, job), [("pipe".to_owned(), 4)]);
    }
    // There is one set of them, so one board waits for the other.
    let first = booking(&plan, "P1", "unclamp").to <= booking(&plan, "P2", "glue-up").from;
    let second = booking(&plan, "P2", "unclamp").to <= booking(&plan, "P1", "glue-up").from;
    assert!(first || second);
}

#[test]
fn strong_clamps_may_do_the_work_of_weak_ones() {
    let mut steps = board(&[("bar", 24, 3000, 12)]).steps;
    for step in &mut steps {
        if let Some(hold) = &mut step.hold {
            for ask in &mut hold.clamps {
                *ask = ClampAsk { number: 3, ..*ask };
            }
        }
    }
    let rack = [("bar", 24, 2000, 12), ("pipe", 36, 4500, 3)];
    let plan = planned(&lending(&rack, &[steps]));
    assert_eq!(handed(&plan, "P1"), [("pipe".to_owned(), 3)]);
}

#[test]
fn clamps_of_unlike_force_are_handed_out_as_they_were_counted() {
    let rack = [("bar", 24, 3000, 3), ("pipe", 36, 4500, 2)];
    let plan = planned(&lending(&rack, &[board(&rack).steps]));
    let together = [("bar".to_owned(), 3), ("pipe".to_owned(), 2)];
    assert_eq!(handed(&plan, "P1"), together);
}
