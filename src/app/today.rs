//! What a workshop and its members want to know when they come in: what is in clamps and when it may come
//! out, what comes next, what lapses, and which due dates are at risk.

use std::collections::BTreeMap;

use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};
use sqlx::SqliteConnection;

use super::days::{day_of, days_after, instant_of};
use super::hours::{Hours, Span};
use super::project as projects;
use crate::calc::work::{Needs, StepKind};
use crate::store::booking::{self, BookedUse, Booking, BookingState};
use crate::store::claim::{self, Claim};
use crate::store::project::{self, Project, Search, Stage};
use crate::store::resource::{self, Resource, ResourceKind};
use crate::store::{self, MemberId, ProjectId};
use crate::units::Minutes;

/// Nothing stays in clamps, and no finish dries, for longer than this many days.
const LOOK_BACK_DAYS: i64 = 45;
/// Claims that lapse within so many days are told of.
const LAPSE_DAYS: u16 = 4;
/// Due dates are looked at so many days ahead.
const DUE_DAYS: u16 = 90;
/// A project that is not planned is at risk if this many days or fewer would be left over.
const SPARE_DAYS: i64 = 7;
/// So many projects are looked at most.
const MOST: u32 = 60;

/// A panel that is in clamps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InClamps {
    /// The glue-up that set them.
    pub booking: Booking,
    /// The step that takes them off, if it is booked.
    pub off: Option<Booking>,
    /// When the glue has held for long enough.
    pub may_come_out: Timestamp,
    /// Which clamps, and how many.
    pub clamps: Vec<(String, u32)>,
}

/// What can be done for a project that nobody has booked yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NextThing {
    Match,
    Claim,
    Plan,
    Cut,
}

/// Why a due date is at risk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Risk {
    /// What is booked ends after it.
    Late { ready: Timestamp },
    /// A booked time has passed and nobody said that the step was done.
    Missed { step: String, was: Timestamp },
    /// It is not planned, and work, drying and cure alone take so many days.
    NotPlanned { least_days: i64 },
    /// It is not planned, and work, drying and cure alone take longer than there is.
    TooLate { least_days: i64 },
    /// The due day has passed.
    Over,
}

/// A project whose due date is at risk.
#[derive(Clone, Debug, PartialEq)]
pub struct AtRisk {
    pub project: Project,
    pub due: Date,
    pub risk: Risk,
}

/// Everything of a day.
#[derive(Clone, Debug)]
pub struct Today {
    pub hours: Hours,
    /// The opening that has begun.
    pub open: Option<Span>,
    /// The next ones, soonest first.
    pub next: Vec<Span>,
    pub in_clamps: Vec<InClamps>,
    /// Finishes that dry or cure.
    pub curing: Vec<Booking>,
    /// Steps that somebody attends in the present opening, or in the next if it is shut.
    pub coming: Vec<Booking>,
    /// Steps whose time has passed without anybody saying that they were done.
    pub missed: Vec<Booking>,
    pub lapsing: Vec<Claim>,
    pub at_risk: Vec<AtRisk>,
    /// The member's projects with something to do that is not booked.
    pub to_do: Vec<(Project, NextThing)>,
}

impl Today {
    /// The day as everybody sees it; `member` adds what is theirs, and `everybody` what is anybody's.
    pub async fn load(
        db: &mut SqliteConnection,
        now: Timestamp,
        member: Option<MemberId>,
        everybody: bool,
    ) -> store::Result<Today> {
        let hours = Hours::load(&mut *db, now).await?;
        let today = day_of(now, &hours.zone);
        let spans = hours.openings(today, days_after(today, 14));
        let open = spans
            .iter()
            .find(|span| span.from <= now && now < span.to)
            .cloned();
        let next: Vec<Span> = spans.into_iter().filter(|span| span.from > now).collect();
        let back = now - SignedDuration::from_hours(24 * LOOK_BACK_DAYS);
        let until = open
            .as_ref()
            .or(next.first())
            .map_or(now, |span| span.to)
            .max(now);
        let bookings = booking::list_between(&mut *db, back, until, None).await?;
        let uses = booking::list_uses_between(&mut *db, back, until).await?;
        let resources = resource::list(&mut *db).await?;
        let is_mine = |owner: MemberId| everybody || member == Some(owner);

        let coming = match open.as_ref().or(next.first()) {
            None => Vec::new(),
            Some(span) => bookings
                .iter()
                .filter(|booking| {
                    booking.attended
                        && booking.state != BookingState::Done
                        && booking.from < span.to
                        && booking.to > span.from.max(now)
                })
                .cloned()
                .collect(),
        };
        let curing = bookings.iter().filter(|booking| {
            !booking.attended
                && booking.from <= now
                && booking.to > now
                && is_begun(booking, &bookings)
        });
        let missed = bookings.iter().filter(|booking| {
            booking.attended
                && booking.state != BookingState::Done
                && booking.to <= now
                && is_mine(booking.member)
        });
        let mut found = Today {
            open,
            next,
            in_clamps: Vec::new(),
            curing: curing.cloned().collect(),
            coming,
            missed: missed.cloned().collect(),
            lapsing: Vec::new(),
            at_risk: Vec::new(),
            to_do: Vec::new(),
            hours,
        };
        found.in_clamps = in_clamps(&mut *db, &bookings, &uses, &resources).await?;
        if member.is_some() {
            let last = days_after(today, LAPSE_DAYS);
            let of = if everybody { None } else { member };
            found.lapsing = claim::list_held_until(&mut *db, last, of).await?;
            found.at_risk = at_risk(&mut *db, now, &found.hours, of).await?;
        }
        if let Some(member) = member {
            found.to_do = to_do(&mut *db, member).await?;
        }
        Ok(found)
    }
}

/// Whether the step before it is done or under way, so that it goes on by itself.
fn is_begun(booking: &Booking, all: &[Booking]) -> bool {
    booking.state != BookingState::Planned
        || all.iter().any(|other| {
            other.project == booking.project
                && other.to == booking.from
                && other.state != BookingState::Planned
        })
}

async fn needs_of(db: &mut SqliteConnection, id: ProjectId) -> store::Result<Option<Needs>> {
    let Some(project) = project::find(&mut *db, id).await? else {
        return Ok(None);
    };
    // A design that cannot be made any more tells nothing about its steps.
    Ok(projects::needs(&mut *db, &project).await.ok())
}

/// Glue-ups that have begun and whose clamps nobody has said to be off.
async fn in_clamps(
    db: &mut SqliteConnection,
    bookings: &[Booking],
    uses: &[BookedUse],
    resources: &[Resource],
) -> store::Result<Vec<InClamps>> {
    let glue_ups = bookings.iter().filter(|booking| {
        StepKind::from_key(&booking.kind) == Some(StepKind::GlueUp)
            && booking.state != BookingState::Planned
    });
    let mut found = Vec::new();
    for glued in glue_ups {
        let of_project = booking::list_of_project(&mut *db, glued.project).await?;
        let needs = needs_of(&mut *db, glued.project).await?;
        let step = needs
            .as_ref()
            .and_then(|needs| needs.steps.iter().find(|step| step.key == glued.step));
        let off_key = step
            .and_then(|step| step.hold.as_ref())
            .map(|hold| &hold.until);
        let off = of_project
            .iter()
            .find(|other| Some(&other.step) == off_key)
            .cloned();
        let is_off = off
            .as_ref()
            .is_some_and(|off| off.state != BookingState::Planned);
        if off_key.is_none() || is_off {
            continue;
        }
        let gap = needs
            .iter()
            .flat_map(|needs| &needs.steps)
            .filter(|step| Some(&step.key) == off_key)
            .flat_map(|step| &step.after)
            .find(|after| after.key == glued.step)
            .map_or(Minutes(0), |after| after.min_gap);
        let mut clamps: BTreeMap<&str, u32> = BTreeMap::new();
        for used in uses.iter().filter(|used| used.booking == glued.id) {
            let known = resources.iter().find(|known| {
                known.id == used.used.resource && known.about.kind == ResourceKind::ClampSet
            });
            if let Some(known) = known {
                *clamps.entry(&known.about.name).or_default() += used.used.amount;
            }
        }
        found.push(InClamps {
            may_come_out: glued.to + SignedDuration::from_mins(gap.0),
            clamps: clamps
                .into_iter()
                .map(|(name, amount)| (name.to_owned(), amount))
                .collect(),
            booking: glued.clone(),
            off,
        });
    }
    found.sort_by_key(|panel| (panel.may_come_out, panel.booking.id));
    Ok(found)
}

/// Work, drying and cure one after the other, as if the workshop were always open.
fn least_minutes(needs: &Needs) -> i64 {
    let mut ends: BTreeMap<&str, i64> = BTreeMap::new();
    // Steps come after those that they name.
    for step in &needs.steps {
        let starts = step
            .after
            .iter()
            .map(|after| ends.get(after.key.as_str()).copied().unwrap_or(0) + after.min_gap.0);
        let starts = starts.max().unwrap_or(0);
        ends.insert(&step.key, starts + step.minutes.0);
    }
    ends.values().copied().max().unwrap_or(0)
}

async fn at_risk(
    db: &mut SqliteConnection,
    now: Timestamp,
    hours: &Hours,
    member: Option<MemberId>,
) -> store::Result<Vec<AtRisk>> {
    let today = day_of(now, &hours.zone);
    let last = days_after(today, DUE_DAYS);
    let due = project::list_due(&mut *db, last, member).await?;
    let mut found = Vec::new();
    for project in due.into_iter().take(MOST as usize) {
        let Some(due) = project.about.due_day else {
            continue;
        };
        let ends = instant_of(due, 1440, &hours.zone);
        let bookings = booking::list_of_project(&mut *db, project.id).await?;
        let ready = bookings.iter().map(|booking| booking.to).max();
        let missed = bookings.iter().find(|booking| {
            booking.attended && booking.state == BookingState::Planned && booking.to <= now
        });
        let risk = if due < today {
            Some(Risk::Over)
        } else if let Some(missed) = missed {
            Some(Risk::Missed {
                step: missed.name.clone(),
                was: missed.from,
            })
        } else if let Some(ready) = ready {
            (ready > ends).then_some(Risk::Late { ready })
        } else {
            let needs = projects::needs(&mut *db, &project).await.ok();
            needs.and_then(|needs| {
                let least = least_minutes(&needs);
                let spare = (ends.as_second() - now.as_second()) / 60 - least;
                let least_days = (least + 1439) / 1440;
                if spare < 0 {
                    Some(Risk::TooLate { least_days })
                } else {
                    (spare <= SPARE_DAYS * 1440).then_some(Risk::NotPlanned { least_days })
                }
            })
        };
        if let Some(risk) = risk {
            found.push(AtRisk { project, due, risk });
        }
    }
    Ok(found)
}

async fn to_do(
    db: &mut SqliteConnection,
    member: MemberId,
) -> store::Result<Vec<(Project, NextThing)>> {
    let search = Search {
        member: Some(member),
        limit: MOST,
        ..Search::default()
    };
    let mut found = Vec::new();
    for project in project::list(&mut *db, &search).await? {
        let thing = match project.stage {
            Stage::Drawn => Some(NextThing::Match),
            Stage::Matched => Some(NextThing::Claim),
            Stage::Claimed | Stage::Milled => {
                let bookings = booking::list_of_project(&mut *db, project.id).await?;
                if bookings.is_empty() {
                    Some(NextThing::Plan)
                } else {
                    (project.stage == Stage::Claimed).then_some(NextThing::Cut)
                }
            }
            _ => None,
        };
        if let Some(thing) = thing {
            found.push((project, thing));
        }
    }
    Ok(found)
}
