//! Members' projects, each left at another stage.

use std::time::Duration;

use jiff::{SignedDuration, Timestamp, ToSpan as _};

use super::{days_ago, moment};
use crate::app::hours::Hours;
use crate::app::project::{self, Draft};
use crate::app::{App, booking as bookings, claim, cut, days, matching, plan};
use crate::calc::pattern::{BoardStrip, Rule, fill as fill_strips};
use crate::calc::work::{Design, Extras, Kind, StripedBoard, Surface, default_design};
use crate::store::booking::BookingState;
use crate::store::practice::PracticeChanges;
use crate::store::{By, MemberId, ProjectId, bin, booking, layout, workshop};
use crate::units::Length;
use crate::wire::kept_match::KeptLayout;

/// How far a project has come.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Until {
    Drawn,
    Matched,
    Claimed,
    Cut,
}

struct Sketch {
    name: &'static str,
    note: &'static str,
    /// Index of the member.
    member: usize,
    days_ago: i64,
    due_in: Option<i64>,
    until: Until,
    booked: Booked,
    design: Design,
}

/// Whether its steps are booked, and from when on.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Booked {
    No,
    /// From so many days ago on; what lies in the past was done as it was booked.
    Since(i64),
    /// From the beginning of the newest opening on: its panel is in clamps now.
    InNewestOpening,
}

/// Long enough for a board; the demo should start while somebody waits.
const TIME: Duration = Duration::from_millis(1500);

pub(super) async fn fill(app: &App, members: &[MemberId]) -> anyhow::Result<()> {
    let zone = workshop::get(app.store.read()).await?.time_zone;
    let today = days::day_of(app.clock.now(), &zone);
    for sketch in sketches() {
        let member = members[sketch.member];
        let by = days_ago(app, member, sketch.days_ago);
        let draft = Draft {
            name: sketch.name.to_owned(),
            design: sketch.design,
            practice: PracticeChanges::default(),
            due_day: sketch.due_in.map(|days| today + days.days()),
            note: sketch.note.to_owned(),
        };
        let mut db = app.store.begin().await?;
        let id = project::create(&mut db, by, member, &draft).await?;
        db.commit().await?;
        if sketch.until >= Until::Matched {
            matching::find(app, by, id, TIME, |_| {}).await?;
        }
        if sketch.until >= Until::Claimed {
            let mut db = app.store.begin().await?;
            claim::claim_match(&mut db, by, member, id).await?;
            db.commit().await?;
        }
        if sketch.until >= Until::Cut {
            cut_all(app, days_ago(app, member, sketch.days_ago - 1), id).await?;
        }
        let from = match sketch.booked {
            Booked::No => None,
            Booked::Since(days) => Some(moment(app, days)),
            Booked::InNewestOpening => newest_opening(app).await?,
        };
        if let Some(from) = from {
            book(app, member, from, id).await?;
        }
    }
    Ok(())
}

/// When the newest opening began.
async fn newest_opening(app: &App) -> anyhow::Result<Option<Timestamp>> {
    let now = app.clock.now();
    let mut db = app.store.read().acquire().await?;
    let hours = Hours::load(&mut db, moment(app, 14)).await?;
    let today = days::day_of(now, &hours.zone);
    let spans = hours.openings(today - 14.days(), today);
    let begun = spans
        .iter()
        .map(|span| span.from)
        .filter(|from| *from <= now);
    Ok(begun.max())
}

/// Plans and books a project as its member did at that time, and lives through what has been since.
async fn book(app: &App, member: MemberId, at: Timestamp, id: ProjectId) -> anyhow::Result<()> {
    // A plan begins with the minute after the one in which it is made.
    let by = By {
        member: Some(member),
        at: at - SignedDuration::from_mins(1),
    };
    let (proposal, _) = plan::propose(app, by, member, &[id], TIME, |_| {}).await?;
    let mut db = app.store.begin().await?;
    plan::accept(&mut db, by, proposal).await?;
    let now = app.clock.now();
    let steps = booking::list_of_project(&mut *db, id).await?;
    for step in steps.iter().filter(|step| step.from <= now) {
        // Its version has grown with what was done before it.
        let Some(known) = booking::find(&mut *db, step.id).await? else {
            continue;
        };
        if known.state != BookingState::Planned {
            continue;
        }
        if known.to <= now {
            let by = By { at: known.to, ..by };
            bookings::finish(&mut db, by, known.id, known.version).await?;
        } else {
            let by = By {
                at: known.from,
                ..by
            };
            bookings::begin(&mut db, by, known.id, known.version).await?;
        }
    }
    db.commit().await?;
    Ok(())
}

/// Cuts every claimed piece just as its layout says; remainders go to the first bin.
async fn cut_all(app: &App, by: By, id: ProjectId) -> anyhow::Result<()> {
    let mut db = app.store.begin().await?;
    let first_bin = bin::list(&mut *db).await?[0].id;
    for stored in layout::list_of_project(&mut *db, id).await? {
        let kept = KeptLayout::parse(&stored.cut)?;
        let remainders = cut::expected_remainders(&kept, first_bin);
        for _ in stored.copies_cut..stored.copies {
            cut::cut(&mut db, by, stored.id, 1, &remainders).await?;
        }
    }
    db.commit().await?;
    Ok(())
}

fn striped(length: i64, width: i64, unit: &[(&str, i64)], rule: Option<Rule>) -> Design {
    let unit: Vec<BoardStrip> = unit
        .iter()
        .map(|(species, sixteenths)| BoardStrip::new(species, Length::from_inches(*sixteenths, 16)))
        .collect();
    let width = Length::from_inches(width, 16);
    let mut arrangement = fill_strips(&unit, width);
    if let Some(rule) = rule {
        // Only dark-to-light asks for the lightness, and none of these boards does.
        arrangement = rule.arrange(&arrangement, |_| 0.0);
    }
    Design::StripedBoard(StripedBoard {
        length: Length::from_inches(length, 1),
        width: arrangement.width(),
        thickness: Length::from_inches(3, 4),
        surface: Surface::EdgeGrain,
        arrangement,
        extras: Extras::default(),
    })
}

fn sketches() -> Vec<Sketch> {
    vec![
        Sketch {
            name: "Board for the reading room",
            note: "Thanks for the borrowed shelves.",
            member: 5,
            days_ago: 64,
            due_in: Some(-30),
            until: Until::Cut,
            booked: Booked::Since(60),
            design: striped(
                14,
                8 * 16,
                &[("black cherry", 12), ("hard maple", 12)],
                Some(Rule::MirrorAboutCentre),
            ),
        },
        Sketch {
            name: "Board for the bakery stall",
            note: "",
            member: 4,
            days_ago: 16,
            due_in: Some(9),
            until: Until::Cut,
            booked: Booked::Since(11),
            design: striped(13, 7 * 16, &[("hard maple", 16), ("black walnut", 8)], None),
        },
        Sketch {
            name: "Board for the winter fair",
            note: "First one of the season.",
            member: 2,
            days_ago: 24,
            due_in: Some(17),
            until: Until::Cut,
            booked: Booked::InNewestOpening,
            design: striped(
                15,
                9 * 16,
                &[("hard maple", 12), ("black cherry", 12)],
                None,
            ),
        },
        Sketch {
            name: "Aunt's breakfast board",
            note: "",
            member: 1,
            days_ago: 6,
            due_in: Some(26),
            until: Until::Cut,
            booked: Booked::Since(0),
            design: striped(
                14,
                8 * 16,
                &[("black walnut", 16), ("hard maple", 8)],
                Some(Rule::MirrorAboutCentre),
            ),
        },
        Sketch {
            name: "Housewarming board",
            note: "They move in the week after.",
            member: 3,
            days_ago: 3,
            due_in: Some(31),
            until: Until::Claimed,
            booked: Booked::Since(0),
            design: striped(
                16,
                10 * 16,
                &[("black cherry", 12), ("yellow birch", 12)],
                None,
            ),
        },
        Sketch {
            name: "Bread board with a dark heart",
            note: "",
            member: 4,
            days_ago: 1,
            due_in: Some(40),
            until: Until::Matched,
            booked: Booked::No,
            design: striped(13, 8 * 16, &[("American beech", 12), ("sapele", 12)], None),
        },
        Sketch {
            name: "Cheese board",
            note: "Only an idea so far.",
            member: 2,
            days_ago: 0,
            due_in: Some(14),
            until: Until::Drawn,
            booked: Booked::No,
            design: striped(12, 7 * 16, &[("hard maple", 12), ("purpleheart", 6)], None),
        },
        Sketch {
            name: "Chequered block",
            note: "",
            member: 1,
            days_ago: 2,
            due_in: Some(50),
            until: Until::Drawn,
            booked: Booked::No,
            design: default_design(Kind::EndGrainBoard),
        },
        Sketch {
            name: "Paddle for the bread oven",
            note: "Hangs beside the oven.",
            member: 2,
            days_ago: 2,
            due_in: Some(44),
            until: Until::Drawn,
            booked: Booked::No,
            design: default_design(Kind::HandleBoard),
        },
        Sketch {
            name: "Tray for the tea corner",
            note: "",
            member: 4,
            days_ago: 1,
            due_in: None,
            until: Until::Drawn,
            booked: Booked::No,
            design: default_design(Kind::RoundTray),
        },
    ]
}
