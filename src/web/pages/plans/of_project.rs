//! One project's glue-up and later steps: proposed, looked at, booked.

use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Deserialize;

use super::shown::{DayList, DrawnLane, PlanDrawing, TimedStep, by_day};
use super::trouble::{Trouble, plan_error, trouble, why_words};
use crate::app::days::instant_of;
use crate::app::hours::Hours;
use crate::app::plan::{self, PlanAnswer, PlanError, ReadyDate};
use crate::app::{App, booking as bookings, why};
use crate::export::svg::Drawing;
use crate::store::booking::{self, Booking, BookingState, Use};
use crate::store::project::Project;
use crate::store::resource::{self, Resource};
use crate::store::{ProjectId, ProposalId};
use crate::web::local_time::LocalTime;
use crate::web::pages::projects::{Head, Here, Opened, by, own};
use crate::web::shell::page_with;
use crate::web::{Error, Flash, Member, Path, Query, Section, Shell, Typed, see_other, words};

/// One project's plan is proven best in a moment; in a full workshop it may take longer.
const TIME: Duration = Duration::from_secs(6);

/// The drawing fills most of a desk screen.
const WIDTH: f64 = 860.0;

#[derive(Template)]
#[template(path = "plans/project.html")]
struct ProjectPlanPage {
    shell: Shell,
    head: Head,
    trouble: Option<Trouble>,
    proposed: Option<Proposed>,
    booked: Option<Booked>,
    has_openings: bool,
    needs_claim: bool,
}

/// A plan that waits to be accepted.
struct Proposed {
    id: ProposalId,
    verdict: Verdict,
    quality: String,
    days: Vec<DayList>,
    drawing: Drawing,
    overdue: Vec<String>,
    unlisted: Option<String>,
    moved: usize,
    why_path: String,
    why: Option<WhyStep>,
}

/// What is booked.
struct Booked {
    verdict: Verdict,
    days: Vec<DayList>,
    drawing: Drawing,
    can_cancel: bool,
    is_missed: bool,
    why_path: String,
    why: Option<WhyStep>,
}

/// Whether it is ready in time.
pub(super) struct Verdict {
    pub is_late: bool,
    pub title: String,
    pub words: String,
}

/// The answer to "why not earlier?" beside a step.
struct WhyStep {
    name: String,
    reasons: Vec<String>,
}

#[derive(Deserialize)]
pub(super) struct Ask {
    proposal: Option<ProposalId>,
    /// A step's key.
    why: Option<String>,
}

/// What pages of plans show beside the steps themselves.
pub(in crate::web) struct Ground {
    pub time: LocalTime,
    pub hours: Hours,
    pub resources: Vec<Resource>,
}

impl Ground {
    pub async fn load(app: &App, from: Timestamp) -> Result<Ground, Error> {
        let time = LocalTime::load(app).await?;
        let mut db = app.store.read().acquire().await?;
        Ok(Ground {
            time,
            hours: Hours::load(&mut db, from).await?,
            resources: resource::list(&mut *db).await?,
        })
    }
}

/// When it is ready against when it is due. `proven` where no plan can be ready sooner.
pub(super) fn verdict(
    ready: Timestamp,
    due: Option<Date>,
    proven: bool,
    time: &LocalTime,
) -> Verdict {
    // What ends at midnight is ready on the day that ends.
    let day = time.day(ready - jiff::SignedDuration::from_secs(1));
    let title = format!("Ready {}", time.full_day(day));
    let Some(due) = due else {
        return Verdict {
            is_late: false,
            title,
            words: "Drying and cure are counted. It has no due date.".to_owned(),
        };
    };
    let days = (due - day).get_days();
    if days >= 0 {
        let spare = match days {
            0 => "on the very day it is due".to_owned(),
            1 => "one day before it is due".to_owned(),
            _ => format!("{days} days before it is due"),
        };
        Verdict {
            is_late: false,
            title,
            words: format!("That is {spare}, with drying and cure counted."),
        }
    } else {
        let late = words::counted(days.unsigned_abs() as usize, "day", "days");
        let can = if proven {
            "This is the earliest day there is: no plan is ready sooner."
        } else {
            "This is the earliest day that was found."
        };
        Verdict {
            is_late: true,
            title,
            words: format!(
                "Its due date, {}, cannot be met: that is {late} too late, with drying and cure counted. {can}",
                words::day(due)
            ),
        }
    }
}

async fn booked_steps(app: &App, bookings: &[Booking]) -> Result<Vec<TimedStep>, Error> {
    let mut steps = Vec::with_capacity(bookings.len());
    for booking in bookings {
        let uses = booking::list_uses(app.store.read(), booking.id).await?;
        steps.push(TimedStep::booked(booking, uses));
    }
    Ok(steps)
}

/// What bookings of other projects use in the time of some steps.
pub(super) async fn used_by_others(
    app: &App,
    steps: &[TimedStep],
    ids: &[ProjectId],
) -> Result<Vec<Use>, Error> {
    let from = steps.iter().map(|step| step.from).min();
    let to = steps.iter().map(|step| step.to).max();
    let (Some(from), Some(to)) = (from, to) else {
        return Ok(Vec::new());
    };
    let uses = booking::list_uses_between(app.store.read(), from, to).await?;
    Ok(uses
        .into_iter()
        .filter(|booked| !ids.contains(&booked.project))
        .map(|booked| booked.used)
        .collect())
}

async fn draw(
    app: &App,
    ground: &Ground,
    project: &Project,
    prefix: &str,
    steps: &[TimedStep],
) -> Result<Drawing, Error> {
    let others = used_by_others(app, steps, &[project.id]).await?;
    let due = project.about.due_day;
    let lanes = [DrawnLane {
        project: project.id,
        name: project.about.name.clone(),
        ready: None,
        due: due.map(|due| instant_of(due, 1440, &ground.time.zone)),
    }];
    Ok(PlanDrawing {
        prefix,
        title: &format!("Plan of {}", project.about.name),
        width: WIDTH,
        all_between: None,
        lanes: &lanes,
        steps,
        others: &others,
        resources: &ground.resources,
        hours: &ground.hours,
        time: &ground.time,
    }
    .draw())
}

async fn booked(
    app: &App,
    opened: &Opened,
    bookings: &[Booking],
    lengths: crate::units::LengthFormat,
    why: Option<&str>,
) -> Result<Option<Booked>, Error> {
    let (Some(first), Some(last)) = (
        bookings.iter().map(|booking| booking.from).min(),
        bookings.iter().map(|booking| booking.to).max(),
    ) else {
        return Ok(None);
    };
    let ground = Ground::load(app, first).await?;
    let steps = booked_steps(app, bookings).await?;
    let asked = bookings
        .iter()
        .find(|booking| Some(booking.step.as_str()) == why);
    let why = match asked {
        None => None,
        Some(booking) => {
            let mut db = app.store.read().acquire().await?;
            let acting = crate::store::By {
                member: None,
                at: ground.time.now,
            };
            let reasons = why::of_booking(&mut db, acting, booking.id)
                .await
                .map_err(plan_error)?;
            Some(WhyStep {
                name: booking.name.clone(),
                reasons: why_words(&reasons, opened.project.id, lengths, &ground.time),
            })
        }
    };
    Ok(Some(Booked {
        verdict: verdict(last, opened.project.about.due_day, false, &ground.time),
        days: by_day(&steps, &ground.resources, &ground.time),
        drawing: draw(app, &ground, &opened.project, "booked", &steps).await?,
        can_cancel: bookings
            .iter()
            .any(|booking| booking.state == BookingState::Planned),
        is_missed: bookings
            .iter()
            .any(|booking| booking.state == BookingState::Planned && booking.to < ground.time.now),
        why_path: format!("/projects/{}/plan?why=", opened.project.id),
        why,
    }))
}

fn step_name(answer: &PlanAnswer, key: &str) -> String {
    let found = answer.steps.iter().find(|step| step.step == key);
    found.map_or_else(|| key.to_owned(), |step| step.name.clone())
}

fn quality(answer: &PlanAnswer) -> String {
    if answer.proven {
        "Proven: no plan is ready sooner.".to_owned()
    } else {
        "A good plan; it was not shown that none is ready sooner.".to_owned()
    }
}

/// The steps of a kept plan.
pub(super) fn planned_steps(
    answer: &PlanAnswer,
    projects: &[Project],
    bookings: &[Booking],
) -> Vec<TimedStep> {
    answer
        .steps
        .iter()
        .filter_map(|step| {
            let before = bookings
                .iter()
                .find(|known| known.project == step.project && known.step == step.step);
            let of = projects.iter().find(|project| project.id == step.project)?;
            TimedStep::planned(step, of, before)
        })
        .collect()
}

pub(super) fn ready_at(ready: &ReadyDate, time: &LocalTime) -> Timestamp {
    Timestamp::from_second(ready.ready_at).unwrap_or(time.now)
}

/// Waits that became too long, and stations that nobody lists.
pub(in crate::web) fn overdue_words(answer: &PlanAnswer) -> Vec<String> {
    answer
        .overdue
        .iter()
        .map(|overdue| {
            format!(
                "“{}” should have followed “{}” within {}. Look at the wood before you go on: faces that have lain for long want a fresh cut or a light sanding before glue.",
                overdue.step,
                overdue.after,
                words::span(crate::units::Minutes(overdue.at_most_minutes))
            )
        })
        .collect()
}

pub(super) fn unlisted_words(answer: &PlanAnswer) -> Option<String> {
    (!answer.unlisted.is_empty()).then(|| {
        format!(
            "The workshop lists no {}; the plan counts on there being enough.",
            words::listed(&answer.unlisted)
        )
    })
}

async fn proposed(
    app: &App,
    opened: &Opened,
    member: &Member,
    bookings: &[Booking],
    lengths: crate::units::LengthFormat,
    ask: &Ask,
) -> Result<Option<Proposed>, Error> {
    let Some(id) = ask.proposal else {
        return Ok(None);
    };
    let mut db = app.store.read().acquire().await?;
    let (answer, asked_by, accepted_at) = plan::find(&mut db, id).await.map_err(plan_error)?;
    let project = &opened.project;
    let ready = match answer.ready.as_slice() {
        [ready] if ready.project == project.id => ready,
        _ => return Err(plan_error(PlanError::Unknown)),
    };
    if accepted_at.is_some() || member.require_owner(asked_by).is_err() {
        return Ok(None);
    }
    let why = match &ask.why {
        None => None,
        Some(step) => {
            let reasons = why::of_proposal(&mut db, by(app, member), id, project.id, step)
                .await
                .map_err(plan_error)?;
            Some((step.clone(), reasons))
        }
    };
    drop(db);
    let steps = planned_steps(&answer, std::slice::from_ref(project), bookings);
    let first = steps.iter().map(|step| step.from).min();
    let ground = Ground::load(app, first.unwrap_or_else(|| app.clock.now())).await?;
    Ok(Some(Proposed {
        id,
        verdict: verdict(
            ready_at(ready, &ground.time),
            project.about.due_day,
            answer.proven,
            &ground.time,
        ),
        quality: quality(&answer),
        days: by_day(&steps, &ground.resources, &ground.time),
        drawing: draw(app, &ground, project, "proposed", &steps).await?,
        overdue: overdue_words(&answer),
        unlisted: unlisted_words(&answer),
        moved: answer.moved,
        why_path: format!("/projects/{}/plan?proposal={id}&why=", project.id),
        why: why.map(|(step, reasons)| WhyStep {
            name: step_name(&answer, &step),
            reasons: why_words(&reasons, project.id, lengths, &ground.time),
        }),
    }))
}

async fn plan_page(
    app: &App,
    shell: Shell,
    member: &Member,
    id: ProjectId,
    ask: &Ask,
    trouble: Option<Trouble>,
) -> Result<Response, Error> {
    let opened = Opened::find(app, id).await?;
    let list = booking::list_of_project(app.store.read(), id).await?;
    let lengths = shell.lengths();
    let proposed = proposed(app, &opened, member, &list, lengths, ask).await?;
    let booked = match proposed {
        Some(_) => None,
        None => booked(app, &opened, &list, lengths, ask.why.as_deref()).await?,
    };
    let ground = Ground::load(app, app.clock.now()).await?;
    let status = if trouble.is_some() {
        StatusCode::CONFLICT
    } else {
        StatusCode::OK
    };
    let page = ProjectPlanPage {
        head: opened.head(member, Here::Plan),
        trouble,
        proposed,
        booked,
        has_openings: !ground.hours.weekly.is_empty() || !ground.hours.extra.is_empty(),
        needs_claim: opened.project.stage < crate::store::project::Stage::Claimed,
        shell: shell.at(Section::Projects),
    };
    page_with(status, &page)
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
    Query(ask): Query<Ask>,
) -> Result<Response, Error> {
    plan_page(&app, shell, &member, id, &ask, None).await
}

const NOTHING: Ask = Ask {
    proposal: None,
    why: None,
};

/// Plans the project around everybody else's bookings, and shows the plan. Nothing is booked yet.
pub(super) async fn propose(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    match plan::propose(&app, by(&app, &member), member.id(), &[id], TIME, |_| ()).await {
        Ok((proposal, _)) => {
            Ok(see_other(format!("/projects/{id}/plan?proposal={proposal}")).response(&app))
        }
        Err(error) => {
            let trouble = trouble(&app, error, shell.lengths()).await?;
            plan_page(&app, shell, &member, id, &NOTHING, Some(trouble)).await
        }
    }
}

/// Books all of the plan or nothing.
pub(super) async fn accept(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
    typed: Typed,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let proposal = typed
        .text("proposal")
        .parse()
        .map_err(|_| plan_error(PlanError::Unknown))?;
    let mut db = app.store.begin().await?;
    let (answer, asked_by, _) = plan::find(&mut db, proposal).await.map_err(plan_error)?;
    member.require_owner(asked_by)?;
    if answer.ready.iter().any(|ready| ready.project != id) {
        return Err(plan_error(PlanError::Unknown));
    }
    match plan::accept(&mut db, by(&app, &member), proposal).await {
        Ok(_) => {
            db.commit().await?;
            Ok(see_other(format!("/projects/{id}/plan"))
                .saying(Flash::done(
                    "The steps are booked. The bench sheet shows each with its time.",
                ))
                .response(&app))
        }
        // The button was pressed twice: what was wanted is there.
        Err(PlanError::AlreadyAccepted) => {
            Ok(see_other(format!("/projects/{id}/plan")).response(&app))
        }
        Err(error) => {
            drop(db);
            let trouble = trouble(&app, error, shell.lengths()).await?;
            plan_page(&app, shell, &member, id, &NOTHING, Some(trouble)).await
        }
    }
}

/// Cancels every booking that has not begun.
pub(super) async fn cancel(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let mut db = app.store.begin().await?;
    let count = bookings::cancel_all(&mut db, by(&app, &member), id)
        .await
        .map_err(|error| match error {
            bookings::BookingError::Plan(error) => plan_error(error),
            _ => Error::Stale,
        })?;
    db.commit().await?;
    let said = format!(
        "{} cancelled; clamps and benches are free for others.",
        if count == 1 {
            "One booking is".to_owned()
        } else {
            format!("{count} bookings are")
        }
    );
    Ok(see_other(format!("/projects/{id}/plan"))
        .saying(Flash::done(said))
        .response(&app))
}
