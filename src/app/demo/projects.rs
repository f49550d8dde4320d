//! Members' projects, each left at another stage.

use std::time::Duration;

use jiff::ToSpan as _;

use super::days_ago;
use crate::app::project::{self, Draft};
use crate::app::{App, claim, cut, days, matching};
use crate::calc::pattern::{BoardStrip, Rule, fill as fill_strips};
use crate::calc::work::{Design, Extras, StripedBoard, Surface};
use crate::store::practice::PracticeChanges;
use crate::store::{MemberId, ProjectId, bin, layout, workshop};
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
    design: Design,
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
    }
    Ok(())
}

/// Cuts every claimed piece just as its layout says; remainders go to the first bin.
async fn cut_all(app: &App, by: crate::store::By, id: ProjectId) -> anyhow::Result<()> {
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
            name: "Board for the winter fair",
            note: "First one of the season.",
            member: 2,
            days_ago: 24,
            due_in: None,
            until: Until::Cut,
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
            design: striped(13, 8 * 16, &[("American beech", 12), ("sapele", 12)], None),
        },
        Sketch {
            name: "Cheese board",
            note: "Only an idea so far.",
            member: 2,
            days_ago: 0,
            due_in: Some(45),
            until: Until::Drawn,
            design: striped(12, 7 * 16, &[("hard maple", 12), ("purpleheart", 6)], None),
        },
    ]
}
