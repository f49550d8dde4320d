//! Plans: proposed, accepted whole or not at all, moved, explained by dates.

use std::time::Duration;

use jiff::civil::Date;
use scrapwright::app::booking::{self as bookings, BookingError};
use scrapwright::app::dates::{self, LatestStart};
use scrapwright::app::plan::{self, PlanAnswer, PlanError};
use scrapwright::app::planning::Suppose;
use scrapwright::app::project as projects;
use scrapwright::app::why::{self, Lent, WhyNot};
use scrapwright::store::booking::{self, Booking, BookingState};
use scrapwright::store::opening::{self, ClosedDays, WeeklyHours};
use scrapwright::store::project;
use scrapwright::store::resource::{self, NewResource, ResourceKind};
use scrapwright::store::{ProjectId, ProposalId, ResourceId};

use super::bench::{Bench, inches};

/// How long a plan may take here; one project's is proven best in a moment.
const TIME: Duration = Duration::from_secs(5);

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

/// One glue bench, and as many long clamps as said.
async fn lend(bench: &Bench, clamps: u32) -> ResourceId {
    let new = |kind, name: &str, capacity, reach| NewResource {
        kind,
        name: name.to_owned(),
        capacity,
        reach,
        rated_force_n: None,
        pass_width: None,
    };
    let mut db = bench.app.store.begin().await.unwrap();
    let long = new(
        ResourceKind::ClampSet,
        "long clamps",
        clamps,
        Some(inches(36, 1)),
    );
    let long = resource::create(&mut db, bench.by(), &long).await.unwrap();
    let glue_bench = new(ResourceKind::GlueBench, "glue bench", 1, None);
    resource::create(&mut db, bench.by(), &glue_bench)
        .await
        .unwrap();
    db.commit().await.unwrap();
    long
}

/// Open every day from 9 to 21 with machines, one glue bench, and as many long clamps as said.
pub async fn workshop(clamps: u32) -> (Bench, ResourceId) {
    let bench = Bench::new().await;
    let long = lend(&bench, clamps).await;
    let mut db = bench.app.store.begin().await.unwrap();
    for weekday in 1..=7 {
        let hours = WeeklyHours {
            weekday,
            from_minute: 540,
            to_minute: 1260,
            machines: true,
            from_day: day("2027-01-01"),
            to_day: None,
        };
        opening::create_weekly(&mut db, bench.by(), &hours)
            .await
            .unwrap();
    }
    db.commit().await.unwrap();
    (bench, long)
}

async fn propose(bench: &Bench, ids: &[ProjectId]) -> (ProposalId, PlanAnswer) {
    plan::propose(&bench.app, bench.by(), bench.ada, ids, TIME, |_| {})
        .await
        .unwrap()
}

async fn accept(bench: &Bench, id: ProposalId) -> Result<(), PlanError> {
    let mut db = bench.app.store.begin().await.unwrap();
    plan::accept(&mut db, bench.by(), id).await?;
    db.commit().await.unwrap();
    Ok(())
}

async fn booked(bench: &Bench, id: ProjectId) -> Vec<Booking> {
    booking::list_of_project(bench.app.store.read(), id)
        .await
        .unwrap()
}

async fn step(bench: &Bench, id: ProjectId, key: &str) -> Booking {
    booked(bench, id)
        .await
        .into_iter()
        .find(|booking| booking.step == key)
        .unwrap()
}

/// Clamps that one such board asks for: enough for one, not for two.
async fn clamps_of_one(bench: &Bench, id: ProjectId) -> u32 {
    let mut db = bench.app.store.begin().await.unwrap();
    let project = projects::get(&mut db, id).await.unwrap();
    let needs = projects::needs(&mut db, &project).await.unwrap();
    needs.panels[0].clamp_count()
}

#[tokio::test]
async fn a_plan_is_booked_when_it_is_accepted_and_only_once() {
    let (bench, long) = workshop(20).await;
    let id = bench.project(bench.ada, 6).await;
    let (proposal, answer) = propose(&bench, &[id]).await;
    assert!(answer.proven, "one project is small");
    assert!(
        booked(&bench, id).await.is_empty(),
        "nothing is booked until accepted"
    );
    accept(&bench, proposal).await.unwrap();
    let bookings = booked(&bench, id).await;
    assert_eq!(bookings.len(), answer.steps.len());
    assert!(matches!(
        accept(&bench, proposal).await,
        Err(PlanError::AlreadyAccepted)
    ));

    // Twelve hours in the clamps, from the start of the glue-up to the end of the unclamping.
    let (glue, free) = (
        step(&bench, id, "glue-up").await,
        step(&bench, id, "unclamp").await,
    );
    assert!(free.from.as_second() - glue.to.as_second() >= 12 * 3600);
    let uses = booking::list_uses(bench.app.store.read(), glue.id)
        .await
        .unwrap();
    let held = uses.iter().find(|used| used.resource == long).unwrap();
    assert_eq!((held.from, held.to), (glue.from, free.to));
    // Attended steps lie between 9 and 21.
    for booking in bookings.iter().filter(|booking| booking.attended) {
        let minute = |at: jiff::Timestamp| at.as_second().rem_euclid(86_400) / 60;
        assert!(
            minute(booking.from) >= 540 && minute(booking.to) <= 1260,
            "{}",
            booking.name
        );
    }
    bench.assert_sound().await;
}

#[tokio::test]
async fn whoever_accepts_later_books_nothing_where_the_clamps_are_gone() {
    let (bench, long) = workshop(20).await;
    let mine = bench.project(bench.ada, 6).await;
    let theirs = bench.project(bench.ben, 6).await;
    let clamps = clamps_of_one(&bench, mine).await;
    let mut db = bench.app.store.begin().await.unwrap();
    let before = resource::find(&mut *db, long).await.unwrap().unwrap();
    let fewer = NewResource {
        capacity: clamps,
        ..before.about
    };
    resource::update(&mut db, bench.by(), long, before.version, &fewer)
        .await
        .unwrap();
    db.commit().await.unwrap();

    let (first, _) = propose(&bench, &[mine]).await;
    let (second, _) = propose(&bench, &[theirs]).await;
    accept(&bench, first).await.unwrap();
    assert!(matches!(
        accept(&bench, second).await,
        Err(PlanError::BookedMeanwhile)
    ));
    assert!(booked(&bench, theirs).await.is_empty());
    bench.assert_sound().await;
    // A new plan goes around what is booked, and says so.
    let (third, _) = propose(&bench, &[theirs]).await;
    let mut db = bench.app.store.begin().await.unwrap();
    let planned = why::of_proposal(&mut db, bench.by(), third, theirs, "glue-up")
        .await
        .unwrap();
    drop(db);
    accept(&bench, third).await.unwrap();
    bench.assert_sound().await;
    let glue = step(&bench, theirs, "glue-up").await;
    let mut db = bench.app.store.begin().await.unwrap();
    let reasons = why::of_booking(&mut db, bench.by(), glue.id).await.unwrap();
    assert_eq!(reasons, planned);
    let in_use = reasons.iter().find_map(|reason| match reason {
        WhyNot::InUse {
            what: Lent::ClampsThatReach(_),
            by,
            ..
        } => Some(by),
        _ => None,
    });
    let by = in_use.expect("Ada's panel is in the clamps");
    assert_eq!(
        (by[0].member_name.as_str(), by[0].step.as_str()),
        ("Ada", "Glue up")
    );
}

#[tokio::test]
async fn a_plan_for_what_has_changed_since_is_refused() {
    let (bench, _) = workshop(20).await;
    let id = bench.project(bench.ada, 6).await;
    let (proposal, _) = propose(&bench, &[id]).await;
    let mut db = bench.app.store.begin().await.unwrap();
    let version = project::find(&mut *db, id).await.unwrap().unwrap().version;
    let draft = bench.draft("Board", bench.board(7));
    projects::edit(&mut db, bench.by(), id, version, &draft)
        .await
        .unwrap();
    db.commit().await.unwrap();
    assert!(matches!(
        accept(&bench, proposal).await,
        Err(PlanError::Stale)
    ));

    let (proposal, _) = propose(&bench, &[id]).await;
    let mut db = bench.app.store.begin().await.unwrap();
    let closed = ClosedDays {
        from_day: day("2027-03-01"),
        to_day: day("2027-04-30"),
        reason: "floor".to_owned(),
    };
    opening::create_closure(&mut db, bench.by(), &closed)
        .await
        .unwrap();
    db.commit().await.unwrap();
    assert!(matches!(
        accept(&bench, proposal).await,
        Err(PlanError::Stale)
    ));
    assert!(booked(&bench, id).await.is_empty());
}

#[tokio::test]
async fn what_runs_was_done_or_is_pinned_stays_when_it_is_planned_again() {
    let (bench, _) = workshop(20).await;
    let id = bench.project(bench.ada, 6).await;
    let (proposal, _) = propose(&bench, &[id]).await;
    accept(&bench, proposal).await.unwrap();
    let mill = step(&bench, id, "mill").await;
    let late = mill.to.as_second() - bench.app.clock.now().as_second();
    bench.app.clock.advance(late);
    let mut db = bench.app.store.begin().await.unwrap();
    bookings::begin(&mut db, bench.by(), mill.id, mill.version)
        .await
        .unwrap();
    bookings::finish(&mut db, bench.by(), mill.id, mill.version + 1)
        .await
        .unwrap();
    db.commit().await.unwrap();
    // Two days pass without a hand being moved.
    bench.app.clock.advance(2 * 86_400);
    let (again, answer) = propose(&bench, &[id]).await;
    assert!(answer.moved > 0);
    // Milled faces should be glued within two days, which is too late now: it is said, not refused.
    assert_eq!(answer.overdue.len(), 1);
    assert_eq!(
        (
            answer.overdue[0].step.as_str(),
            answer.overdue[0].at_most_minutes
        ),
        ("Glue up", 2880)
    );
    accept(&bench, again).await.unwrap();
    let after = step(&bench, id, "mill").await;
    assert_eq!((after.from, after.state), (mill.from, BookingState::Done));
    let glue = step(&bench, id, "glue-up").await;
    assert!(glue.from > bench.app.clock.now());
    assert_eq!(glue.sequence, 1, "calendars see that it moved");
    bench.assert_sound().await;
}

#[tokio::test]
async fn a_coat_that_is_on_can_be_supposed_away_without_harm() {
    let (bench, _) = workshop(20).await;
    let id = bench.project(bench.ada, 6).await;
    let (proposal, _) = propose(&bench, &[id]).await;
    accept(&bench, proposal).await.unwrap();
    for key in ["coat-2", "cure", "off-rack"] {
        let known = step(&bench, id, key).await;
        let now = bench.app.clock.now().as_second();
        bench.app.clock.advance(known.from.as_second() - now);
        let mut db = bench.app.store.begin().await.unwrap();
        bookings::begin(&mut db, bench.by(), known.id, known.version)
            .await
            .unwrap();
        db.commit().await.unwrap();
    }
    let suppose = Suppose {
        fewer_coats: [(id, 1)].into(),
        ..Suppose::default()
    };
    let what_if = dates::what_if(&bench.app, bench.by(), &[id], &suppose, TIME)
        .await
        .unwrap();
    assert_eq!(what_if.now, what_if.then);
}

#[tokio::test]
async fn a_booking_moves_only_to_where_it_can_be() {
    let (bench, _) = workshop(20).await;
    let id = bench.project(bench.ada, 6).await;
    let (proposal, _) = propose(&bench, &[id]).await;
    accept(&bench, proposal).await.unwrap();
    let before = booked(&bench, id).await;
    let last = before
        .iter()
        .rfind(|booking| booking.attended)
        .unwrap()
        .clone();
    let mut db = bench.app.store.begin().await.unwrap();
    let times = bookings::possible_times(&mut db, bench.by(), last.id)
        .await
        .unwrap();
    assert!(times.len() > 10);
    let later = times.iter().find(|time| time.from > last.from).unwrap();
    // In the middle of the night.
    let night = later.from + jiff::SignedDuration::from_hours(14);
    let error = bookings::move_to(&mut db, bench.by(), last.id, last.version, night).await;
    assert!(matches!(error, Err(BookingError::NotPossible)), "{error:?}");
    bookings::move_to(&mut db, bench.by(), last.id, last.version, later.from)
        .await
        .unwrap();
    let stale = bookings::move_to(&mut db, bench.by(), last.id, last.version, later.from).await;
    assert!(matches!(stale, Err(BookingError::Stale)));
    db.commit().await.unwrap();
    let moved: Vec<String> = booked(&bench, id)
        .await
        .iter()
        .filter(|after| {
            !before
                .iter()
                .any(|known| known.id == after.id && known.from == after.from)
        })
        .map(|after| after.step.clone())
        .collect();
    assert_eq!(moved, std::slice::from_ref(&last.step));
    // Every time that was listed really is possible.
    for time in times.iter().step_by(20) {
        let mut db = bench.app.store.begin().await.unwrap();
        let version = booking::find(&mut *db, last.id)
            .await
            .unwrap()
            .unwrap()
            .version;
        bookings::move_to(&mut db, bench.by(), last.id, version, time.from)
            .await
            .unwrap();
    }
    bench.assert_sound().await;
}

#[tokio::test]
async fn clamps_that_come_off_early_are_free_early() {
    let (bench, long) = workshop(20).await;
    let id = bench.project(bench.ada, 6).await;
    let (proposal, _) = propose(&bench, &[id]).await;
    accept(&bench, proposal).await.unwrap();
    let (glue, free) = (
        step(&bench, id, "glue-up").await,
        step(&bench, id, "unclamp").await,
    );
    let early = free.from.as_second() - 3600 - bench.app.clock.now().as_second();
    bench.app.clock.advance(early);
    let mut db = bench.app.store.begin().await.unwrap();
    bookings::finish(&mut db, bench.by(), free.id, free.version)
        .await
        .unwrap();
    db.commit().await.unwrap();
    let uses = booking::list_uses(bench.app.store.read(), glue.id)
        .await
        .unwrap();
    let held = uses.iter().find(|used| used.resource == long).unwrap();
    assert_eq!(held.to.as_second(), bench.app.clock.now().as_second() + 60);
    bench.assert_sound().await;
}

#[tokio::test]
async fn dates_tell_how_early_how_late_and_what_would_help() {
    let (bench, _) = workshop(20).await;
    let id = bench.project(bench.ada, 6).await;
    let earliest = dates::earliest(&bench.app, bench.by(), id, TIME)
        .await
        .unwrap();
    assert!(earliest.proven);
    // A drying oil wants seven days before water, after two coats a day apart.
    assert!(
        earliest.ready_day >= day("2027-03-10"),
        "{}",
        earliest.ready_day
    );
    let due = earliest.ready_day;
    let start = dates::latest_start(&bench.app, bench.by(), id, due, TIME * 4)
        .await
        .unwrap();
    assert_eq!(start, LatestStart::Day(day("2027-03-01")));
    let later = due.saturating_add(jiff::Span::new().days(5));
    let start = dates::latest_start(&bench.app, bench.by(), id, later, TIME * 4)
        .await
        .unwrap();
    assert_eq!(start, LatestStart::Day(day("2027-03-06")));
    let sooner = due.saturating_sub(jiff::Span::new().days(1));
    let start = dates::latest_start(&bench.app, bench.by(), id, sooner, TIME * 4)
        .await
        .unwrap();
    assert_eq!(start, LatestStart::TooLate);

    let suppose = Suppose {
        fewer_coats: [(id, 1)].into(),
        ..Suppose::default()
    };
    let what_if = dates::what_if(&bench.app, bench.by(), &[id], &suppose, TIME * 2)
        .await
        .unwrap();
    let gained = what_if.now[0].ready_at - what_if.then[0].ready_at;
    assert!(gained >= 86_400, "a coat left out saves a day: {gained} s");
}

#[tokio::test]
async fn what_cannot_be_planned_says_why() {
    let (bench, _) = workshop(1).await;
    let id = bench.project(bench.ada, 6).await;
    let error = plan::propose(&bench.app, bench.by(), bench.ada, &[id], TIME, |_| {}).await;
    let Err(PlanError::NoSchedule(conflict)) = error else {
        panic!("{error:?}")
    };
    assert!(!conflict.reasons.is_empty());
    assert!(
        conflict.tasks.iter().any(|task| task.contains("glue-up")),
        "{conflict:?}"
    );
}

#[tokio::test]
async fn panels_share_one_set_of_clamps_where_that_is_sooner() {
    let (bench, long) = workshop(20).await;
    let one = bench.project(bench.ada, 6).await;
    let other = bench.project(bench.ben, 6).await;
    let clamps = clamps_of_one(&bench, one).await;
    let mut db = bench.app.store.begin().await.unwrap();
    let before = resource::find(&mut *db, long).await.unwrap().unwrap();
    let fewer = NewResource {
        capacity: clamps,
        ..before.about
    };
    resource::update(&mut db, bench.by(), long, before.version, &fewer)
        .await
        .unwrap();
    db.commit().await.unwrap();

    let (proposal, answer) = propose(&bench, &[one, other]).await;
    accept(&bench, proposal).await.unwrap();
    let glue = [
        step(&bench, one, "glue-up").await,
        step(&bench, other, "glue-up").await,
    ];
    assert_eq!(glue[0].from, glue[1].from, "{answer:#?}");
    assert_eq!(glue[0].clamp_load.as_deref(), Some("P1/glue-up P2/glue-up"));
    assert_eq!(glue[0].clamp_load, glue[1].clamp_load);
    let mut clamped = 0;
    for booking in &glue {
        let uses = booking::list_uses(bench.app.store.read(), booking.id)
            .await
            .unwrap();
        clamped += uses.iter().filter(|used| used.resource == long).count();
    }
    assert_eq!(clamped, 1, "what they share is booked once");
    bench.assert_sound().await;

    // Once one of them is in the clamps, both stay where they are.
    bench
        .app
        .clock
        .advance(glue[0].from.as_second() - bench.app.clock.now().as_second());
    let mut db = bench.app.store.begin().await.unwrap();
    bookings::begin(&mut db, bench.by(), glue[0].id, glue[0].version)
        .await
        .unwrap();
    let begun = bookings::possible_times(&mut db, bench.by(), glue[1].id).await;
    assert!(
        matches!(begun, Err(BookingError::Begun)),
        "both went into the clamps"
    );
    db.commit().await.unwrap();
    let (again, _) = propose(&bench, &[other]).await;
    accept(&bench, again).await.unwrap();
    assert_eq!(step(&bench, other, "glue-up").await.from, glue[1].from);
    bench.assert_sound().await;
}

#[tokio::test]
async fn twelve_hours_in_clamps_are_twelve_hours_when_the_clocks_change() {
    let bench = Bench::new().await;
    lend(&bench, 20).await;
    // In New York the clocks go from 2:00 to 3:00 on Sunday 2027-03-14 (Energy Policy Act of 2005).
    let saturday: jiff::Timestamp = "2027-03-13T17:00:00Z".parse().unwrap();
    bench
        .app
        .clock
        .advance(saturday.as_second() - bench.app.clock.now().as_second());
    let mut db = bench.app.store.begin().await.unwrap();
    let workshop = scrapwright::store::workshop::get(&mut *db).await.unwrap();
    let zone = "America/New_York";
    scrapwright::store::workshop::update(
        &mut db,
        bench.by(),
        workshop.version,
        "Shed",
        zone,
        &workshop.settings,
    )
    .await
    .unwrap();
    for (weekday, from_minute, to_minute) in [(6, 1080, 1260), (7, 420, 1200)] {
        let hours = WeeklyHours {
            weekday,
            from_minute,
            to_minute,
            machines: true,
            from_day: day("2027-01-01"),
            to_day: None,
        };
        opening::create_weekly(&mut db, bench.by(), &hours)
            .await
            .unwrap();
    }
    db.commit().await.unwrap();
    let id = bench.project(bench.ada, 6).await;
    let (proposal, _) = propose(&bench, &[id]).await;
    accept(&bench, proposal).await.unwrap();
    let (glue, free) = (
        step(&bench, id, "glue-up").await,
        step(&bench, id, "unclamp").await,
    );
    let local = |at: jiff::Timestamp| at.in_tz(zone).unwrap();
    assert_eq!(local(glue.from).date(), day("2027-03-13"));
    assert_eq!(local(free.from).date(), day("2027-03-14"));
    assert_eq!(free.from.as_second() - glue.to.as_second(), 12 * 3600);
    // By the clock on the wall it is thirteen.
    let wall = local(free.from)
        .datetime()
        .duration_since(local(glue.to).datetime());
    assert_eq!(wall.as_hours(), 13);
}
