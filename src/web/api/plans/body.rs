//! Bookings and plans as JSON prints them. Instants are in UTC.

use std::collections::BTreeMap;

use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::app::plan::{PlanAnswer, PlannedStep, ReadyDate};
use crate::app::why::WhyNot;
use crate::store::booking::{BookedUse, Booking, Use};
use crate::store::project::Project;
use crate::store::resource::Resource;
use crate::store::{BookingId, ProjectId, ProposalId};
use crate::units::LengthFormat;
use crate::web::Error;
use crate::web::local_time::LocalTime;
use crate::web::pages::plans::of_project::overdue_words;
use crate::web::pages::plans::trouble::why_words;

/// Something with a name.
#[derive(Clone, Serialize, ToSchema)]
pub(super) struct Named {
    #[schema(example = 7)]
    pub id: i64,
    #[schema(example = "Board for Ines")]
    pub name: String,
}

/// A use of clamps or of a station; clamps stay on after the step that sets them.
#[derive(Serialize, ToSchema)]
pub(super) struct UseBody {
    pub resource: Named,
    #[schema(example = 4)]
    pub amount: u32,
    #[schema(value_type = String, format = DateTime)]
    pub from: Timestamp,
    #[schema(value_type = String, format = DateTime)]
    pub to: Timestamp,
}

/// A step of a project with its time.
#[derive(Serialize, ToSchema)]
pub(super) struct BookingBody {
    #[schema(example = 31)]
    pub id: i64,
    pub project: Named,
    /// Whose project it is.
    pub member: Named,
    /// The step's key within its project.
    #[schema(example = "glue-up")]
    pub step: String,
    #[schema(example = "Glue up")]
    pub name: String,
    #[schema(value_type = String, format = DateTime, example = "2027-03-02T23:00:00Z")]
    pub from: Timestamp,
    #[schema(value_type = String, format = DateTime, example = "2027-03-02T23:40:00Z")]
    pub to: Timestamp,
    /// Somebody must be there, so it lies in an opening.
    pub is_attended: bool,
    /// `planned`, `running` or `done`.
    #[schema(example = "planned")]
    pub state: &'static str,
    /// No plan moves it.
    pub is_pinned: bool,
    /// In one set of clamps with panels of other projects.
    pub shares_clamps: bool,
    pub uses: Vec<UseBody>,
    #[schema(example = 1)]
    pub version: i64,
}

fn use_body(used: &Use, resources: &[Resource]) -> UseBody {
    let known = resources
        .iter()
        .find(|resource| resource.id == used.resource);
    UseBody {
        resource: Named {
            id: used.resource.0,
            name: known.map_or_else(String::new, |known| known.about.name.clone()),
        },
        amount: used.amount,
        from: used.from,
        to: used.to,
    }
}

impl BookingBody {
    /// `uses` may hold those of other bookings too.
    pub fn new(booking: &Booking, uses: &[BookedUse], resources: &[Resource]) -> BookingBody {
        BookingBody {
            id: booking.id.0,
            project: Named {
                id: booking.project.0,
                name: booking.project_name.clone(),
            },
            member: Named {
                id: booking.member.0,
                name: booking.member_name.clone(),
            },
            step: booking.step.clone(),
            name: booking.name.clone(),
            from: booking.from,
            to: booking.to,
            is_attended: booking.attended,
            state: booking.state.word(),
            is_pinned: booking.pinned,
            shares_clamps: booking.clamp_load.is_some(),
            uses: uses
                .iter()
                .filter(|used| used.booking == booking.id)
                .map(|used| use_body(&used.used, resources))
                .collect(),
            version: booking.version,
        }
    }
}

/// A list that is never long enough to need pages.
#[derive(Serialize, ToSchema)]
pub(super) struct BookingsBody {
    pub items: Vec<BookingBody>,
}

/// When a project is ready.
#[derive(Serialize, ToSchema)]
pub(super) struct ReadyBody {
    pub project: Named,
    /// The end of its last step, drying and cure counted.
    #[schema(value_type = String, format = DateTime)]
    pub ready_at: Timestamp,
    #[schema(value_type = Option<String>, format = Date, example = "2027-03-20")]
    pub due_day: Option<String>,
    /// Minutes after the end of the due day; 0 in time.
    pub late_minutes: i64,
}

fn instant(seconds: i64) -> Result<Timestamp, Error> {
    Timestamp::from_second(seconds).map_err(|error| Error::Internal(error.into()))
}

impl ReadyBody {
    pub fn new(ready: &ReadyDate) -> Result<ReadyBody, Error> {
        Ok(ReadyBody {
            project: Named {
                id: ready.project.0,
                name: ready.name.clone(),
            },
            ready_at: instant(ready.ready_at)?,
            due_day: ready.due_day.clone(),
            late_minutes: ready.late_minutes,
        })
    }
}

/// A step of a plan that waits to be accepted.
#[derive(Serialize, ToSchema)]
pub(super) struct PlannedStepBody {
    pub project: Named,
    #[schema(example = "glue-up")]
    pub step: String,
    #[schema(example = "Glue up")]
    pub name: String,
    #[schema(value_type = String, format = DateTime)]
    pub from: Timestamp,
    #[schema(value_type = String, format = DateTime)]
    pub to: Timestamp,
    pub is_attended: bool,
    pub uses: Vec<UseBody>,
    /// The booking that this step has now, if it has one.
    pub booking: Option<i64>,
    /// Where that booking starts now, if the plan moves it.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub moved_from: Option<Timestamp>,
    /// The number of the clamp load that it shares with panels of other projects, from 1.
    pub clamp_load: Option<usize>,
}

/// A plan of one or several projects. Nothing of it is booked until it is accepted.
#[derive(Serialize, ToSchema)]
pub(super) struct PlanBody {
    #[schema(example = 12)]
    pub id: i64,
    #[schema(value_type = Option<String>, format = DateTime)]
    pub accepted_at: Option<Timestamp>,
    pub steps: Vec<PlannedStepBody>,
    pub ready: Vec<ReadyBody>,
    /// Bookings that start at another time than before.
    pub moved: usize,
    /// Weighted minutes late of all projects together.
    pub late_minutes: f64,
    /// No plan can be less late than this.
    pub late_minutes_at_least: f64,
    /// The end of the last step.
    #[schema(value_type = String, format = DateTime)]
    pub finish_at: Timestamp,
    /// No plan that is as little late ends before this.
    #[schema(value_type = String, format = DateTime)]
    pub finish_at_earliest: Timestamp,
    /// Whether no plan can be better.
    pub proven: bool,
    /// Kinds of stations that steps ask for and the workshop does not list: the plan counts on enough of them.
    pub unlisted: Vec<String>,
    /// Steps that follow a done one later than they should, and what to look at before going on.
    pub warnings: Vec<String>,
    /// How long it was looked for.
    pub seconds: f64,
}

fn decimal(text: &str) -> f64 {
    text.parse().unwrap_or_default()
}

impl PlanBody {
    pub fn new(
        id: ProposalId,
        answer: &PlanAnswer,
        accepted_at: Option<Timestamp>,
        projects: &[Project],
        resources: &[Resource],
    ) -> Result<PlanBody, Error> {
        let name_of = |id: ProjectId| {
            let found = projects.iter().find(|project| project.id == id);
            found.map_or_else(String::new, |project| project.about.name.clone())
        };
        let mut loads: BTreeMap<&str, usize> = BTreeMap::new();
        for step in &answer.steps {
            if let Some(label) = step.clamp_load.as_deref() {
                let number = loads.len() + 1;
                loads.entry(label).or_insert(number);
            }
        }
        let step = |step: &PlannedStep| {
            let before = answer
                .before
                .iter()
                .find(|before| before.project == step.project && before.step == step.step);
            let uses = step.uses.iter().map(|used| {
                let used = Use {
                    resource: used.resource,
                    amount: used.amount,
                    from: instant(used.from_at)?,
                    to: instant(used.to_at)?,
                };
                Ok(use_body(&used, resources))
            });
            Ok(PlannedStepBody {
                project: Named {
                    id: step.project.0,
                    name: name_of(step.project),
                },
                step: step.step.clone(),
                name: step.name.clone(),
                from: instant(step.from_at)?,
                to: instant(step.to_at)?,
                is_attended: step.attended,
                uses: uses.collect::<Result<_, Error>>()?,
                booking: before.map(|before| before.booking.0),
                moved_from: before
                    .filter(|before| before.from_at != step.from_at)
                    .map(|before| instant(before.from_at))
                    .transpose()?,
                clamp_load: step
                    .clamp_load
                    .as_deref()
                    .and_then(|label| loads.get(label).copied()),
            })
        };
        Ok(PlanBody {
            id: id.0,
            accepted_at,
            steps: answer
                .steps
                .iter()
                .map(step)
                .collect::<Result<_, Error>>()?,
            ready: answer
                .ready
                .iter()
                .map(ReadyBody::new)
                .collect::<Result<_, Error>>()?,
            moved: answer.moved,
            late_minutes: decimal(&answer.tardiness),
            late_minutes_at_least: decimal(&answer.tardiness_bound),
            finish_at: instant(answer.finish_at)?,
            finish_at_earliest: instant(answer.finish_bound_at)?,
            proven: answer.proven,
            unlisted: answer.unlisted.clone(),
            warnings: overdue_words(answer),
            seconds: answer.seconds,
        })
    }
}

/// One thing that keeps a step from starting earlier.
#[derive(Serialize, ToSchema)]
pub(super) struct WhyBody {
    /// `now`, `settled`, `waits`, `too long`, `shut`, `at work` or `in use`.
    #[schema(example = "in use")]
    pub because: &'static str,
    /// The same in words, in the caller's unit.
    pub text: String,
    /// Until when, where that is known.
    #[schema(value_type = Option<String>, format = DateTime)]
    pub until: Option<Timestamp>,
    /// The projects that use what it asks for, or its member's time.
    pub projects: Vec<Named>,
}

/// Why a step is not earlier, in the order in which things stand in the way.
#[derive(Serialize, ToSchema)]
pub(super) struct WhysBody {
    pub items: Vec<WhyBody>,
}

impl WhysBody {
    pub fn new(
        reasons: &[WhyNot],
        own: ProjectId,
        lengths: LengthFormat,
        time: &LocalTime,
    ) -> WhysBody {
        let said = why_words(reasons, own, lengths, time);
        let items = reasons.iter().zip(said).map(|(reason, text)| {
            let (because, until) = match reason {
                WhyNot::Now => ("now", None),
                WhyNot::Settled => ("settled", None),
                WhyNot::Waits { ends, .. } => ("waits", Some(*ends)),
                WhyNot::TooLong { .. } => ("too long", None),
                WhyNot::Shut { until, .. } => ("shut", Some(*until)),
                WhyNot::AtWork { until, .. } => ("at work", Some(*until)),
                WhyNot::InUse { until, .. } => ("in use", Some(*until)),
            };
            let mut projects: Vec<Named> = Vec::new();
            if let WhyNot::InUse { by, .. } | WhyNot::AtWork { by, .. } = reason {
                for user in by {
                    if projects.iter().all(|known| known.id != user.project.0) {
                        projects.push(Named {
                            id: user.project.0,
                            name: user.project_name.clone(),
                        });
                    }
                }
            }
            WhyBody {
                because,
                text,
                until,
                projects,
            }
        });
        WhysBody {
            items: items.collect(),
        }
    }
}

/// Which bookings a set of uses belongs to, for [`BookingBody::new`].
pub(super) fn of_booking(project: ProjectId, booking: BookingId, uses: Vec<Use>) -> Vec<BookedUse> {
    uses.into_iter()
        .map(|used| BookedUse {
            booking,
            project,
            used,
        })
        .collect()
}
