//! Steps with their times, booked or only planned, as a list by day and as a drawing.

use std::collections::BTreeMap;

use jiff::Timestamp;

use crate::app::hours::Hours;
use crate::app::plan::PlannedStep;
use crate::calc::schedule::Window;
use crate::calc::work::StepKind;
use crate::export::svg::{
    self, ClampUse, Colour, Drawing, Lane, LaneStep, PlanFace, Presence, Style,
};
use crate::store::booking::{Booking, BookingState, Use};
use crate::store::project::Project;
use crate::store::resource::{Resource, ResourceKind};
use crate::store::{BookingId, ProjectId};
use crate::units::{LengthFormat, Minutes, WallMinute};
use crate::web::local_time::LocalTime;
use crate::web::words;

/// A step with its times.
#[derive(Clone, Debug)]
pub(in crate::web) struct TimedStep {
    pub project: ProjectId,
    pub project_name: String,
    /// Whose project it is.
    pub member_name: String,
    /// The step's key within its project.
    pub step: String,
    /// The key of the kind of step.
    pub kind: String,
    pub name: String,
    pub from: Timestamp,
    pub to: Timestamp,
    pub attended: bool,
    pub uses: Vec<Use>,
    pub shares_clamps: bool,
    /// Where it is booked.
    pub booking: Option<BookingId>,
    pub state: BookingState,
    pub pinned: bool,
    /// Where a plan would move it from.
    pub before: Option<Timestamp>,
}

impl TimedStep {
    pub fn booked(booking: &Booking, uses: Vec<Use>) -> TimedStep {
        TimedStep {
            project: booking.project,
            project_name: booking.project_name.clone(),
            member_name: booking.member_name.clone(),
            step: booking.step.clone(),
            kind: booking.kind.clone(),
            name: booking.name.clone(),
            from: booking.from,
            to: booking.to,
            attended: booking.attended,
            uses,
            shares_clamps: booking.clamp_load.is_some(),
            booking: Some(booking.id),
            state: booking.state,
            pinned: booking.pinned,
            before: None,
        }
    }

    /// A step of a plan that waits to be accepted; `None` for times that no calendar has.
    pub fn planned(
        step: &PlannedStep,
        of: &Project,
        before: Option<&Booking>,
    ) -> Option<TimedStep> {
        let at = |seconds: i64| Timestamp::from_second(seconds).ok();
        let from = at(step.from_at)?;
        let uses = step.uses.iter().map(|used| {
            Some(Use {
                resource: used.resource,
                amount: used.amount,
                from: at(used.from_at)?,
                to: at(used.to_at)?,
            })
        });
        Some(TimedStep {
            project: step.project,
            project_name: of.about.name.clone(),
            member_name: of.member_name.clone(),
            step: step.step.clone(),
            kind: step.kind.clone(),
            name: step.name.clone(),
            from,
            to: at(step.to_at)?,
            attended: step.attended,
            uses: uses.collect::<Option<_>>()?,
            shares_clamps: step.clamp_load.is_some(),
            booking: before.map(|booking| booking.id),
            state: before.map_or(BookingState::Planned, |booking| booking.state),
            pinned: before.is_some_and(|booking| booking.pinned),
            before: before
                .map(|booking| booking.from)
                .filter(|before| *before != from),
        })
    }

    fn is_clamps(used: &Use, resources: &[Resource]) -> bool {
        resources.iter().any(|resource| {
            resource.id == used.resource && resource.about.kind == ResourceKind::ClampSet
        })
    }

    /// Until when the clamps that it sets stay on.
    pub fn clamped_until(&self, resources: &[Resource]) -> Option<Timestamp> {
        let clamps = self
            .uses
            .iter()
            .filter(|used| TimedStep::is_clamps(used, resources));
        clamps
            .map(|used| used.to)
            .max()
            .filter(|until| *until > self.to)
    }

    /// `glue bench and 8 bar clamps`.
    pub fn uses_words(&self, resources: &[Resource]) -> String {
        let mut amounts: BTreeMap<&str, (bool, u32)> = BTreeMap::new();
        for used in &self.uses {
            if let Some(known) = resources.iter().find(|known| known.id == used.resource) {
                let is_set = known.about.kind == ResourceKind::ClampSet;
                amounts.entry(&known.about.name).or_insert((is_set, 0)).1 += used.amount;
            }
        }
        let words: Vec<String> = amounts
            .iter()
            .map(|(name, (is_set, amount))| {
                if *is_set || *amount > 1 {
                    format!("{amount} × {name}")
                } else {
                    (*name).to_owned()
                }
            })
            .collect();
        words::listed(&words)
    }
}

/// A day of a list.
pub(in crate::web) struct DayList {
    pub day: String,
    pub from_today: String,
    pub lines: Vec<DayLine>,
}

pub(in crate::web) struct DayLine {
    pub project: ProjectId,
    pub project_name: String,
    pub member_name: String,
    pub step: String,
    pub name: String,
    /// `18:00 to 18:40`.
    pub time: String,
    pub booking: Option<BookingId>,
    /// What it uses, how long clamps stay on.
    pub notes: Vec<String>,
    /// Nobody needs to be there.
    pub is_alone: bool,
    pub is_done: bool,
    pub is_running: bool,
    pub is_pinned: bool,
    /// `moved from Tue 2 Mar, 18:05`.
    pub moved: Option<String>,
}

pub(in crate::web) fn line(step: &TimedStep, resources: &[Resource], time: &LocalTime) -> DayLine {
    let mut notes = Vec::new();
    let uses = step.uses_words(resources);
    if !uses.is_empty() {
        notes.push(uses);
    }
    if let Some(until) = step.clamped_until(resources) {
        notes.push(format!("in clamps until {}", time.moment(until)));
    }
    if step.shares_clamps && StepKind::from_key(&step.kind) == Some(StepKind::GlueUp) {
        notes.push("in one set of clamps with another panel".to_owned());
    }
    let minutes = Minutes((step.to.as_second() - step.from.as_second()) / 60);
    DayLine {
        project: step.project,
        project_name: step.project_name.clone(),
        member_name: step.member_name.clone(),
        step: step.step.clone(),
        name: if step.attended {
            step.name.clone()
        } else {
            format!("{} for {}", step.name, words::span(minutes))
        },
        time: time.span(step.from, step.to),
        booking: step.booking,
        notes,
        is_alone: !step.attended,
        is_done: step.state == BookingState::Done,
        is_running: step.state == BookingState::Running,
        is_pinned: step.pinned,
        moved: step
            .before
            .map(|before| format!("moved from {}", time.moment(before))),
    }
}

/// The steps by day; they are sorted by time.
pub(in crate::web) fn by_day(
    steps: &[TimedStep],
    resources: &[Resource],
    time: &LocalTime,
) -> Vec<DayList> {
    let mut sorted: Vec<&TimedStep> = steps.iter().collect();
    sorted.sort_by_key(|step| (step.from, step.to, step.project));
    let mut days: BTreeMap<jiff::civil::Date, Vec<DayLine>> = BTreeMap::new();
    for step in sorted {
        let lines = days.entry(time.day(step.from)).or_default();
        lines.push(line(step, resources, time));
    }
    days.into_iter()
        .map(|(day, lines)| DayList {
            day: words::day(day),
            from_today: words::from_today(day, time.today()),
            lines,
        })
        .collect()
}

/// A project in a drawing.
pub(in crate::web) struct DrawnLane {
    pub project: ProjectId,
    pub name: String,
    /// The end of its last step, where not all of its steps are shown.
    pub ready: Option<Timestamp>,
    /// The end of the due day.
    pub due: Option<Timestamp>,
}

/// What a drawing of plans shows.
pub(in crate::web) struct PlanDrawing<'a> {
    pub prefix: &'a str,
    pub title: &'a str,
    pub width: f64,
    /// Which openings: all that touch this span, or only those with work in them.
    pub all_between: Option<(Timestamp, Timestamp)>,
    pub lanes: &'a [DrawnLane],
    pub steps: &'a [TimedStep],
    /// Use by bookings that are not among the steps.
    pub others: &'a [Use],
    pub resources: &'a [Resource],
    pub hours: &'a Hours,
    pub time: &'a LocalTime,
}

impl PlanDrawing<'_> {
    /// The openings as columns.
    fn openings(&self) -> Vec<Window> {
        let attended = self.steps.iter().filter(|step| step.attended);
        let (from, to) = match self.all_between {
            Some(span) => span,
            None => {
                let from = attended.clone().map(|step| step.from).min();
                let to = attended.clone().map(|step| step.to).max();
                match (from, to) {
                    (Some(from), Some(to)) => (from, to),
                    _ => return Vec::new(),
                }
            }
        };
        let windows = self
            .hours
            .windows(self.time.day(from), self.time.day(to), None);
        let mut openings: Vec<Window> = Vec::new();
        for (opens, shuts) in windows.open {
            let is_shown = match self.all_between {
                Some((from, to)) => opens < to && shuts > from,
                None => attended
                    .clone()
                    .any(|step| step.from < shuts && step.to > opens),
            };
            let window = Window {
                from: self.time.wall(opens),
                to: self.time.wall(shuts),
            };
            // Across a clock change two openings might overlap on the wall's clock.
            let is_after = openings.last().is_none_or(|last| last.to <= window.from);
            if is_shown && is_after && window.from < window.to {
                openings.push(window);
            }
        }
        openings
    }

    fn lane_steps(&self, project: ProjectId) -> Vec<LaneStep<'_>> {
        let mut drawn = Vec::new();
        for step in self.steps.iter().filter(|step| step.project == project) {
            drawn.push(LaneStep {
                name: &step.name,
                from: self.time.wall(step.from),
                to: self.time.wall(step.to),
                is: if step.attended {
                    Presence::Attended
                } else {
                    Presence::Curing
                },
            });
            if let Some(until) = step.clamped_until(self.resources) {
                drawn.push(LaneStep {
                    name: "in clamps",
                    from: self.time.wall(step.to),
                    to: self.time.wall(until),
                    is: Presence::Clamped,
                });
            }
        }
        drawn
    }

    /// The clamps of a set in use from each minute on.
    fn in_use(&self, set: &Resource) -> Vec<(WallMinute, u32)> {
        let of_steps = self.steps.iter().flat_map(|step| &step.uses);
        let mut changes: BTreeMap<WallMinute, i64> = BTreeMap::new();
        for used in of_steps.chain(self.others) {
            if used.resource == set.id {
                *changes.entry(self.time.wall(used.from)).or_default() += i64::from(used.amount);
                *changes.entry(self.time.wall(used.to)).or_default() -= i64::from(used.amount);
            }
        }
        let mut used = 0_i64;
        changes
            .into_iter()
            .map(|(at, change)| {
                used += change;
                (at, u32::try_from(used).unwrap_or(0))
            })
            .collect()
    }

    /// The clamp sets that are in use at some time, or all.
    fn sets(&self) -> Vec<&Resource> {
        let sets = self
            .resources
            .iter()
            .filter(|resource| resource.about.kind == ResourceKind::ClampSet);
        sets.filter(|set| {
            let is_used = |used: &Use| used.resource == set.id;
            self.all_between.is_some()
                || self.steps.iter().any(|step| step.uses.iter().any(is_used))
        })
        .collect()
    }

    pub fn draw(&self) -> Drawing {
        let openings = self.openings();
        let steps: Vec<Vec<LaneStep<'_>>> = self
            .lanes
            .iter()
            .map(|lane| self.lane_steps(lane.project))
            .collect();
        let lanes: Vec<Lane<'_>> = self
            .lanes
            .iter()
            .zip(&steps)
            .map(|(lane, steps)| Lane {
                project: &lane.name,
                steps,
                ready: lane
                    .ready
                    .map(|ready| self.time.wall(ready))
                    .or_else(|| steps.iter().map(|step| step.to).max()),
                due: lane.due.map(|due| self.time.wall(due)),
            })
            .collect();
        let sets = self.sets();
        let uses: Vec<Vec<(WallMinute, u32)>> = sets.iter().map(|set| self.in_use(set)).collect();
        let clamps: Vec<ClampUse<'_>> = sets
            .iter()
            .zip(&uses)
            .map(|(set, from)| ClampUse {
                name: &set.about.name,
                capacity: set.about.capacity,
                from,
            })
            .collect();
        // No wood is drawn here, and no length.
        let colour = |_: &str| Colour::new(190, 160, 120);
        let style = Style {
            prefix: self.prefix,
            width: self.width,
            lengths: LengthFormat::Millimetres,
            colour: &colour,
        };
        svg::plan(
            &style,
            &PlanFace {
                title: self.title,
                openings: &openings,
                lanes: &lanes,
                clamps: &clamps,
            },
        )
    }
}
