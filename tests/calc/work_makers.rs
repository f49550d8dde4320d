//! Makers: each is in one place at a time, whatever is planned.

use scrapwright::calc::work::{
    AtWork, Given, Kind, Plan, PlannedBooking, Planning, Reason, Station, why_not_earlier,
};

use crate::work_plan::{at, booking, check, clamps, job, planned, station, steps_of, workshop};

/// Every two attended steps of the jobs of a maker that overlap; a load's run is one.
fn overlaps(planning: &Planning, plan: &Plan) -> Vec<(String, String)> {
    let attended: Vec<&PlannedBooking> = plan
        .bookings
        .iter()
        .filter(|booking| booking.is_attended)
        .collect();
    let maker = |job: &str| {
        let of = planning.jobs.iter().find(|of| of.id == job);
        of.and_then(|of| of.maker.clone())
    };
    let mut found = Vec::new();
    for (place, one) in attended.iter().enumerate() {
        for other in &attended[place + 1..] {
            let same = maker(&one.job).is_some() && maker(&one.job) == maker(&other.job);
            if same && one.from < other.to && other.from < one.to {
                found.push((
                    format!("{} {}", one.job, one.key),
                    format!("{} {}", other.job, other.key),
                ));
            }
        }
    }
    found
}

#[test]
fn a_maker_is_in_one_place_at_a_time() {
    let of = |maker: &str| Some(maker.to_owned());
    let mut first = job("P1", steps_of(Kind::StripedBoard));
    let mut second = job("P2", steps_of(Kind::RoundTray));
    (first.maker, second.maker) = (of("Ines"), of("Ines"));
    let mut planning = workshop(vec![first, second]);
    planning.lent = vec![
        clamps("long", 36, 40),
        station(Station::GlueBench, 4),
        station(Station::TableSaw, 4),
        station(Station::Sander, 4),
    ];
    let plan = planned(&planning);
    check(&planning, &plan);
    assert_eq!(overlaps(&planning, &plan), []);

    // Two makers are not in each other's way.
    planning.jobs[1].maker = of("Bram");
    let apart = planned(&planning);
    assert!(apart.finish <= plan.finish);
    assert_eq!(
        booking(&apart, "P1", "mill").from,
        booking(&apart, "P2", "mill").from
    );

    // Other work counts as well, and is named as the reason. Machines run from Wednesday on.
    planning.jobs.truncate(1);
    planning.at_work = vec![AtWork {
        maker: "Ines".to_owned(),
        from: at("2027-06-02T09:00"),
        to: at("2027-06-02T12:30"),
    }];
    let plan = planned(&planning);
    assert_eq!(booking(&plan, "P1", "mill").from, at("2027-06-02T12:30"));
    let why = why_not_earlier(&planning, &plan, "P1", "mill");
    let at_work = Reason::AtWork {
        until: at("2027-06-02T12:30"),
        step: None,
    };
    assert!(why.contains(&at_work), "{why:?}");
}

#[test]
fn what_was_booked_twice_for_one_maker_stays_and_does_not_spoil_the_plan() {
    let mut first = job("P1", steps_of(Kind::StripedBoard));
    let mut second = job("P2", steps_of(Kind::StripedBoard));
    for job in [&mut first, &mut second] {
        job.maker = Some("Ines".to_owned());
        job.given = vec![Given {
            key: "mill".to_owned(),
            from: at("2027-06-02T10:00"),
            to: at("2027-06-02T11:00"),
            uses: Vec::new(),
        }];
    }
    let mut planning = workshop(vec![first, second]);
    planning.lent = vec![
        clamps("long", 36, 40),
        station(Station::GlueBench, 4),
        station(Station::TableSaw, 4),
        station(Station::Sander, 4),
    ];
    let plan = planned(&planning);
    let twice = ("P1 mill".to_owned(), "P2 mill".to_owned());
    assert_eq!(overlaps(&planning, &plan), [twice]);
}
