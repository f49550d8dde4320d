//! The week: openings with what is booked in them, clamps in use and free, and who is in.

use std::collections::{BTreeMap, BTreeSet};

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Deserialize;

use super::of_project::Ground;
use super::shown::{DayLine, DayList, DrawnLane, PlanDrawing, TimedStep, by_day, line};
use crate::app::App;
use crate::app::clash::{Clash, clashes};
use crate::app::days::{days_after, instant_of};
use crate::export::svg::Drawing;
use crate::store::ProjectId;
use crate::store::booking::{self, BookedUse, Booking, Use};
use crate::store::project::{self, Project, Stage};
use crate::store::resource::{Resource, ResourceKind};
use crate::units::LengthFormat;
use crate::web::local_time::LocalTime;
use crate::web::{Error, Query, Section, Shell, page, words};

/// The drawing fills a desk screen.
const WIDTH: f64 = 1060.0;

#[derive(Template)]
#[template(path = "plans/week.html")]
struct WeekPage {
    shell: Shell,
    title: String,
    previous: String,
    next: String,
    is_this_week: bool,
    has_hours: bool,
    drawing: Option<Drawing>,
    /// What the drawing shows.
    table: Vec<DayList>,
    /// What does not fit together any more.
    conflicts: Vec<String>,
    days: Vec<WeekDay>,
}

struct WeekDay {
    day: String,
    from_today: String,
    is_today: bool,
    closed: Option<String>,
    openings: Vec<OpeningLine>,
    /// What goes on whether the workshop is open or shut.
    alone: Vec<DayLine>,
}

struct OpeningLine {
    time: String,
    machines: bool,
    note: String,
    lines: Vec<DayLine>,
    who: String,
    clamps: Vec<ClampLine>,
}

/// How many of a set are free during an opening.
struct ClampLine {
    name: String,
    reach: String,
    capacity: u32,
    /// `12`, or `4 until 19:40, then 12`.
    free: String,
    is_short: bool,
}

#[derive(Deserialize)]
pub(super) struct Ask {
    /// Any day of the week.
    week: Option<String>,
}

/// How many of a resource are free from each moment on between `from` and `to`, first at `from`.
pub(in crate::web) fn free_over(
    set: &Resource,
    uses: &[Use],
    from: Timestamp,
    to: Timestamp,
) -> Vec<(Timestamp, u32)> {
    let of_set = uses
        .iter()
        .filter(|used| used.resource == set.id && used.to > from && used.from < to);
    let mut moments = vec![from];
    for used in of_set.clone() {
        moments.extend(
            [used.from, used.to]
                .into_iter()
                .filter(|at| *at > from && *at < to),
        );
    }
    moments.sort_unstable();
    moments.dedup();
    let mut free: Vec<(Timestamp, u32)> = Vec::new();
    for at in moments {
        let used: u32 = of_set
            .clone()
            .filter(|used| used.from <= at && at < used.to)
            .map(|used| used.amount)
            .sum();
        let left = set.about.capacity.saturating_sub(used);
        if free.last().is_none_or(|(_, before)| *before != left) {
            free.push((at, left));
        }
    }
    free
}

fn clamp_lines(
    ground: &Ground,
    uses: &[Use],
    (from, to): (Timestamp, Timestamp),
    lengths: LengthFormat,
) -> Vec<ClampLine> {
    let sets = ground
        .resources
        .iter()
        .filter(|resource| resource.about.kind == ResourceKind::ClampSet);
    sets.map(|set| {
        let free = free_over(set, uses, from, to);
        let mut said = String::new();
        for (place, (at, left)) in free.iter().enumerate() {
            if place > 0 {
                said.push_str(&format!(" until {}, then ", ground.time.clock(*at)));
            }
            said.push_str(&left.to_string());
        }
        ClampLine {
            name: set.about.name.clone(),
            reach: set
                .about
                .reach
                .map_or_else(String::new, |reach| lengths.show(reach)),
            capacity: set.about.capacity,
            is_short: free.iter().any(|(_, left)| *left == 0) && set.about.capacity > 0,
            free: said,
        }
    })
    .collect()
}

/// The Monday of the week of a day.
fn monday(day: Date) -> Date {
    let days = i64::from(day.weekday().to_monday_zero_offset());
    day.saturating_sub(jiff::Span::new().days(days))
}

fn title(monday: Date) -> String {
    let sunday = days_after(monday, 6);
    format!("{} to {}", words::day(monday), words::day(sunday))
}

fn openings_of(
    ground: &Ground,
    day: Date,
    steps: &[TimedStep],
    uses: &[Use],
    lengths: LengthFormat,
) -> Vec<OpeningLine> {
    let spans = ground.hours.openings(day, day);
    spans
        .iter()
        .enumerate()
        .map(|(place, span)| {
            // Where openings overlap, a step is listed once, with the first that it lies in.
            let is_here = |step: &&TimedStep| {
                let lies_in = |(from, to)| step.from >= from && step.from < to;
                step.attended
                    && lies_in((span.from, span.to))
                    && !spans[..place]
                        .iter()
                        .any(|other| lies_in((other.from, other.to)))
            };
            let here: Vec<&TimedStep> = steps.iter().filter(is_here).collect();
            let mut who: Vec<&str> = here.iter().map(|step| step.member_name.as_str()).collect();
            who.sort_unstable();
            who.dedup();
            OpeningLine {
                time: ground.time.span(span.from, span.to),
                machines: span.machines,
                note: span.note.clone(),
                who: words::listed(&who),
                lines: here
                    .iter()
                    .map(|step| line(step, &ground.resources, &ground.time))
                    .collect(),
                clamps: clamp_lines(ground, uses, (span.from, span.to), lengths),
            }
        })
        .collect()
}

fn lanes(steps: &[TimedStep], ends: &Ends) -> Vec<DrawnLane> {
    let mut lanes: Vec<DrawnLane> = Vec::new();
    for step in steps {
        if lanes.iter().all(|lane| lane.project != step.project) {
            let (ready, due) = ends.get(&step.project).copied().unwrap_or_default();
            lanes.push(DrawnLane {
                project: step.project,
                name: format!("{} ({})", step.project_name, step.member_name),
                ready,
                due,
            });
        }
    }
    lanes
}

/// Everything of a week.
pub(in crate::web) struct Week {
    pub monday: Date,
    pub ground: Ground,
    /// Everybody's, by time.
    pub bookings: Vec<Booking>,
    /// By these bookings, and by others that still hold clamps.
    pub uses: Vec<BookedUse>,
    from: Timestamp,
    to: Timestamp,
}

impl Week {
    /// The week of a day as a query names it; this week without one.
    pub async fn load(app: &App, asked: Option<&str>) -> Result<Week, Error> {
        let time = LocalTime::load(app).await?;
        let asked = match asked {
            None | Some("") => time.today(),
            Some(text) => text.parse::<Date>().map_err(|_| {
                Error::Malformed(format!("week is {text:?}; must be a day like 2027-03-01."))
            })?,
        };
        let first = monday(asked);
        let (from, to) = (
            instant_of(first, 0, &time.zone),
            instant_of(days_after(first, 7), 0, &time.zone),
        );
        let mut bookings = booking::list_between(app.store.read(), from, to, None).await?;
        // What merely ends with the midnight before touches the week and is no part of it.
        bookings.retain(|known| known.to > from);
        Ok(Week {
            monday: first,
            ground: Ground::load(app, from).await?,
            bookings,
            uses: booking::list_uses_between(app.store.read(), from, to).await?,
            from,
            to,
        })
    }

    pub fn sunday(&self) -> Date {
        days_after(self.monday, 6)
    }

    pub fn days(&self) -> impl Iterator<Item = Date> {
        (0..7).map(|offset| days_after(self.monday, offset))
    }

    /// What does not fit together any more, in words.
    pub fn conflicts(&self) -> Vec<String> {
        let time = &self.ground.time;
        let windows = self
            .ground
            .hours
            .windows(self.monday, days_after(self.monday, 7), None);
        let named = |booking: &Booking| format!("“{}” of “{}”", booking.name, booking.project_name);
        clashes(&self.bookings, &windows, time.now)
            .iter()
            .map(|clash| match clash {
                Clash::Shut(booking) => format!(
                    "{} ({}) is booked for {}, and the workshop is not open then.",
                    named(booking),
                    booking.member_name,
                    time.moment(booking.from)
                ),
                Clash::NoMachines(booking) => format!(
                    "{} ({}) is booked for {}, and no steward is at the machines then.",
                    named(booking),
                    booking.member_name,
                    time.moment(booking.from)
                ),
                Clash::TwoPlaces(one, other) => format!(
                    "{} has two things at once on {}: {} and {}.",
                    one.member_name,
                    time.moment(one.from.max(other.from)),
                    named(one),
                    named(other)
                ),
            })
            .collect()
    }
}

/// The end of each project's last step, which may lie in a later week, and of its due day.
type Ends = BTreeMap<ProjectId, (Option<Timestamp>, Option<Timestamp>)>;

async fn ends(app: &App, steps: &[TimedStep], zone: &TimeZone) -> Result<Ends, Error> {
    let here: BTreeSet<ProjectId> = steps.iter().map(|step| step.project).collect();
    let mut ends = Ends::new();
    for id in here {
        let known = project::find(app.store.read(), id).await?;
        let is_open = |known: &Project| known.ended_at.is_none() && known.stage < Stage::Ready;
        let due = known.filter(is_open).and_then(|known| known.about.due_day);
        let bookings = booking::list_of_project(app.store.read(), id).await?;
        let ready = bookings.iter().map(|known| known.to).max();
        ends.insert(id, (ready, due.map(|day| instant_of(day, 1440, zone))));
    }
    Ok(ends)
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    Query(ask): Query<Ask>,
) -> Result<Response, Error> {
    let week = Week::load(&app, ask.week.as_deref()).await?;
    let ground = &week.ground;
    let today = ground.time.today();
    let uses: Vec<Use> = week.uses.iter().map(|known| known.used.clone()).collect();
    let steps: Vec<TimedStep> = week
        .bookings
        .iter()
        .map(|known| {
            let of = week.uses.iter().filter(|used| used.booking == known.id);
            TimedStep::booked(known, of.map(|used| used.used.clone()).collect())
        })
        .collect();
    let is_shown = |id| week.bookings.iter().any(|known| known.id == id);
    let others: Vec<Use> = week
        .uses
        .iter()
        .filter(|used| !is_shown(used.booking))
        .map(|used| used.used.clone())
        .collect();
    let lengths = shell.lengths();
    let lanes = lanes(&steps, &ends(&app, &steps, &ground.time.zone).await?);
    let title = title(week.monday);
    let drawing = PlanDrawing {
        prefix: "week",
        title: &title,
        width: WIDTH,
        all_between: Some((week.from, week.to)),
        lanes: &lanes,
        steps: &steps,
        others: &others,
        resources: &ground.resources,
        hours: &ground.hours,
        time: &ground.time,
    };
    let days = week.days().map(|day| {
        let alone = steps
            .iter()
            .filter(|step| !step.attended && ground.time.day(step.from) == day);
        WeekDay {
            day: words::day(day),
            from_today: words::from_today(day, today),
            is_today: day == today,
            closed: ground
                .hours
                .closure_on(day)
                .map(|closure| closure.days.reason.clone()),
            openings: openings_of(ground, day, &steps, &uses, lengths),
            alone: alone
                .map(|step| line(step, &ground.resources, &ground.time))
                .collect(),
        }
    });
    let days: Vec<WeekDay> = days.collect();
    page(&WeekPage {
        previous: week
            .monday
            .saturating_sub(jiff::Span::new().days(7))
            .to_string(),
        next: days_after(week.monday, 7).to_string(),
        is_this_week: week.monday == monday(today),
        has_hours: !ground.hours.weekly.is_empty() || !ground.hours.extra.is_empty(),
        drawing: (!lanes.is_empty()).then(|| drawing.draw()),
        table: by_day(&steps, &ground.resources, &ground.time),
        conflicts: week.conflicts(),
        days,
        title,
        shell: shell.at(Section::GlueUps),
    })
}
