//! Why there is no plan, in words, and why a step is not earlier.

use std::collections::BTreeMap;

use jiff::Timestamp;

use crate::app::App;
use crate::app::plan::PlanError;
use crate::app::planning::{GroundError, instant, project_of};
use crate::app::why::{Lent, UsedBy, WhyNot};
use crate::calc::schedule::Conflict;
use crate::store::{ProjectId, project};
use crate::units::{Length, LengthFormat, WallMinute};
use crate::web::Error;
use crate::web::local_time::LocalTime;
use crate::web::pages::projects::project_error;
use crate::web::words;

/// What somebody is told who gets no plan, and can do something about it.
pub(in crate::web) struct Trouble {
    pub title: String,
    pub reasons: Vec<String>,
}

/// Trouble that a page shows in place; everything else is an error of its own.
pub(in crate::web) async fn trouble(
    app: &App,
    error: PlanError,
    lengths: LengthFormat,
) -> Result<Trouble, Error> {
    match error {
        PlanError::NoSchedule(conflict) => {
            let time = LocalTime::load(app).await?;
            let mut names = BTreeMap::new();
            for job in conflict.tasks.iter().flat_map(|task| jobs_of(task)) {
                if let Some(id) = project_of(job)
                    && let Some(known) = project::find(app.store.read(), id).await?
                {
                    names.insert(job.to_owned(), format!("“{}”", known.about.name));
                }
            }
            let told = Told {
                lengths,
                project: &|job| names.get(job).cloned().unwrap_or_else(|| job.to_owned()),
                time: &|at| time.moment(at),
            };
            Ok(Trouble {
                title: "There is no way to plan this.".to_owned(),
                reasons: told.conflict(&conflict),
            })
        }
        PlanError::NotFoundInTime => Ok(Trouble {
            title: "No plan was found in time.".to_owned(),
            reasons: vec!["It may still be possible: try again, or plan fewer projects at once.".to_owned()],
        }),
        PlanError::BookedMeanwhile => Ok(Trouble {
            title: "Somebody booked in between, so nothing was booked.".to_owned(),
            reasons: vec!["The clamps or stations of this plan are not all free any more. A new plan goes around what is booked now.".to_owned()],
        }),
        PlanError::Stale => Ok(Trouble {
            title: "What the plan was made for has changed, so nothing was booked.".to_owned(),
            reasons: vec!["The design, the bookings or the openings are not what they were, or the first step would begin in the past. A new plan counts with what is there now.".to_owned()],
        }),
        PlanError::TooLarge(why) => Ok(Trouble {
            title: "This is more than one plan takes.".to_owned(),
            reasons: vec![why],
        }),
        PlanError::Ground(GroundError::Design(id, flaw)) => match flaw {
            crate::app::project::ProjectError::Wrong(_) => Ok(Trouble {
                title: format!("Project P{id} cannot be made as it stands."),
                reasons: vec!["Its design page says what is wrong; correct it first.".to_owned()],
            }),
            other => Err(project_error(other)),
        },
        other => Err(plan_error(other)),
    }
}

/// What a call or a form is answered that shows no page of its own.
pub(in crate::web) fn plan_error(error: PlanError) -> Error {
    match error {
        PlanError::Unknown | PlanError::Ground(GroundError::Unknown(_)) => {
            Error::NotFound("There is no such project, booking or plan.".into())
        }
        PlanError::Ground(GroundError::Ended(id)) => {
            Error::Conflict(format!("Project P{id} has ended, so nothing is planned for it."))
        }
        PlanError::Ground(GroundError::Design(_, error)) => project_error(error),
        PlanError::Ground(GroundError::Store(error)) => error.into(),
        PlanError::NoSchedule(conflict) => {
            let told = Told {
                lengths: LengthFormat::Millimetres,
                project: &str::to_owned,
                time: &|at| at.to_string(),
            };
            let reasons = told.conflict(&conflict).join(" ");
            Error::Conflict(format!("There is no way to plan this. {reasons}"))
        }
        PlanError::NotFoundInTime => Error::Conflict(
            "No plan was found in time, and none was shown to be impossible. Give it more seconds."
                .into(),
        ),
        PlanError::TooLarge(why) => Error::Conflict(why),
        PlanError::Busy => Error::Busy,
        PlanError::Stale => Error::Conflict(
            "Projects, bookings or openings have changed since the plan was made, so nothing was booked. Ask for a new plan."
                .into(),
        ),
        PlanError::BookedMeanwhile => Error::Conflict(
            "Somebody booked the same clamps or stations in between, so nothing was booked. Ask for a new plan."
                .into(),
        ),
        PlanError::AlreadyAccepted => Error::Conflict("This plan was accepted already.".into()),
        PlanError::Unreadable(error) => Error::Internal(error.into()),
        PlanError::Store(refusal) => refusal.into(),
    }
}

/// A resource of a conflict; the reach of clamps in the reader's unit.
fn resource_words(resource: &str, lengths: LengthFormat) -> String {
    let clamps = resource
        .strip_prefix(CLAMPS)
        .and_then(|rest| rest.split_once(" or more"));
    let reach = clamps.and_then(|(reach, force)| Some((Length::parse(reach, None).ok()?, force)));
    match reach {
        Some((reach, force)) => format!("{CLAMPS}{} or more{force}", lengths.show(reach)),
        None => resource.to_owned(),
    }
}

/// How plans call clamps in conflicts, before their reach.
const CLAMPS: &str = "clamps that reach ";

/// How a conflict is told to its reader.
struct Told<'a> {
    lengths: LengthFormat,
    /// What a job is called.
    project: &'a dyn Fn(&str) -> String,
    time: &'a dyn Fn(Timestamp) -> String,
}

/// Words of a schedule's request that mean nothing to whoever reads a plan.
const PLAIN: [(&str, &str); 8] = [
    (
        "`from` and `to`",
        "now and the end of the time that is planned",
    ),
    ("from `from` to `to`", "in the time that is planned"),
    (
        "`busy` and the tasks with `at` use",
        "what is booked already uses",
    ),
    (
        "; the `max_gap` is below the `min_gap`",
        ", which cannot be",
    ),
    ("Task “", "The step “"),
    ("Tasks “", "The steps “"),
    ("no window of \"shop", "no opening of \"shop"),
    (
        "no window of \"machines",
        "no opening with machines of \"machines",
    ),
];

impl Told<'_> {
    /// The reasons of a conflict, without the quotes of ids, and what would cure it where that can be said.
    fn conflict(&self, conflict: &Conflict) -> Vec<String> {
        let reasons = conflict.reasons.iter();
        let mut said: Vec<String> = reasons
            .map(|reason| self.reason(reason, conflict))
            .collect();
        if conflict
            .resources
            .iter()
            .any(|resource| resource.starts_with(CLAMPS))
        {
            said.push(
                "What would help: a narrower or shorter panel, or more, longer or stronger clamps. Workshop lists those that there are; a steward can add some."
                    .to_owned(),
            );
        }
        said
    }

    fn reason(&self, reason: &str, conflict: &Conflict) -> String {
        let mut words = reason.to_owned();
        for task in &conflict.tasks {
            words = words.replace(&format!("{task:?}"), &self.steps(task));
        }
        for resource in &conflict.resources {
            let known = resource_words(resource, self.lengths);
            words = words.replace(&format!("{resource:?}"), &known);
        }
        words = words.replace(&format!(" of {CLAMPS}"), &format!(" {CLAMPS}"));
        for (technical, plain) in PLAIN {
            words = words.replace(technical, plain);
        }
        // Calendars have names that nobody gave them.
        if let Some((before, rest)) = words.split_once(" of \"")
            && let Some((_, after)) = rest.split_once('"')
        {
            words = format!("{before}{after}");
        }
        let told: Vec<String> = words.split(' ').map(|word| self.moment(word)).collect();
        told.join(" ")
    }

    /// The step of a task, or the steps of a clamp load, with whose they are.
    fn steps(&self, task: &str) -> String {
        let steps: Vec<String> = task
            .split(" with ")
            .map(|step| {
                let (job, key) = step.split_once(' ').unwrap_or(("", step));
                format!("“{}” of {}", key.replace('-', " "), (self.project)(job))
            })
            .collect();
        words::listed(&steps)
    }

    /// A word, or the moment that it stands for.
    fn moment(&self, word: &str) -> String {
        let bare = word.trim_end_matches(['.', ',']);
        match WallMinute::parse(bare) {
            Some(at) => format!("{}{}", (self.time)(instant(at)), &word[bare.len()..]),
            None => word.to_owned(),
        }
    }
}

/// The jobs whose steps a task holds.
fn jobs_of(task: &str) -> impl Iterator<Item = &str> {
    task.split(" with ")
        .filter_map(|step| Some(step.split_once(' ')?.0))
}

fn user_words(user: &UsedBy, own: ProjectId) -> String {
    if user.project == own {
        format!("“{}” of this project", user.step)
    } else {
        format!(
            "{} of “{}” ({})",
            user.step, user.project_name, user.member_name
        )
    }
}

/// Why a step is not earlier, a sentence for each thing that stands in the way.
pub(in crate::web) fn why_words(
    reasons: &[WhyNot],
    own: ProjectId,
    lengths: LengthFormat,
    time: &LocalTime,
) -> Vec<String> {
    reasons
        .iter()
        .map(|reason| match reason {
            WhyNot::Now => "It begins as soon as anything can: now.".to_owned(),
            WhyNot::Settled => {
                "It is done, running or pinned, and so stays where it is.".to_owned()
            }
            WhyNot::Waits { step, ends, gap } if gap.0 > 0 => format!(
                "“{step}” ends {}, and {} must pass after it.",
                time.moment(*ends),
                words::span(*gap)
            ),
            WhyNot::Waits { step, ends, .. } => {
                format!("“{step}” comes before it and ends {}.", time.moment(*ends))
            }
            WhyNot::TooLong { step, at_most } => format!(
                "“{step}” must follow within {}, and would come too late after it.",
                words::span(*at_most)
            ),
            WhyNot::Shut {
                until,
                machines,
                closure,
            } => {
                let what = if *machines {
                    "no steward is at the machines for long enough"
                } else {
                    "the workshop is not open for long enough"
                };
                let why = closure
                    .as_ref()
                    .map(|reason| format!(" (closed: {reason})"))
                    .unwrap_or_default();
                format!("Before {} {what}{why}.", time.moment(*until))
            }
            WhyNot::AtWork {
                member_name,
                until,
                by,
            } => {
                let work: Vec<String> = by.iter().map(|user| user_words(user, own)).collect();
                format!(
                    "Until {} {member_name} is at other work: {}.",
                    time.moment(*until),
                    words::listed(&work)
                )
            }
            WhyNot::InUse {
                what,
                free,
                asked,
                until,
                by,
            } => {
                let what = match what {
                    Lent::ClampsThatReach(reach) => {
                        format!("clamps that reach {}", lengths.show(*reach))
                    }
                    Lent::Station(name) => (*name).to_owned(),
                };
                let users: Vec<String> = by.iter().map(|user| user_words(user, own)).collect();
                let by = if users.is_empty() {
                    String::new()
                } else {
                    format!(": in use by {}", words::listed(&users))
                };
                format!(
                    "Until {} it asks for {asked} × {what}, and {free} are free{by}.",
                    time.moment(*until)
                )
            }
        })
        .collect()
}
