//! Why there is no plan, in words, and why a step is not earlier.

use crate::app::plan::PlanError;
use crate::app::planning::GroundError;
use crate::app::why::{Lent, UsedBy, WhyNot};
use crate::calc::schedule::Conflict;
use crate::store::ProjectId;
use crate::units::{Length, LengthFormat};
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
pub(in crate::web) fn trouble(error: PlanError, lengths: LengthFormat) -> Result<Trouble, Error> {
    match error {
        PlanError::NoSchedule(conflict) => Ok(Trouble {
            title: "There is no way to plan this.".to_owned(),
            reasons: conflict_words(&conflict, lengths),
        }),
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
        PlanError::NoSchedule(conflict) => Error::Conflict(format!(
            "There is no way to plan this. {}",
            conflict_words(&conflict, LengthFormat::Millimetres).join(" ")
        )),
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

/// The reasons of a conflict, without the quotes of ids, and what would cure it where that can be said.
fn conflict_words(conflict: &Conflict, lengths: LengthFormat) -> Vec<String> {
    let mut said: Vec<String> = conflict
        .reasons
        .iter()
        .map(|reason| {
            let mut words = reason.clone();
            for task in &conflict.tasks {
                let (job, step) = task.split_once(' ').unwrap_or(("", task));
                let name = format!("“{}” of {job}", step.replace('-', " "));
                words = words.replace(&format!("{task:?}"), &name);
            }
            for resource in &conflict.resources {
                words = words.replace(&format!("{resource:?}"), &resource_words(resource, lengths));
            }
            words
                .replace(&format!(" of {CLAMPS}"), &format!(" {CLAMPS}"))
                .replace("Task “", "The step “")
                .replace("Tasks “", "The steps “")
        })
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
