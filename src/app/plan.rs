//! Plans: the bookings of one or several projects, made together and accepted together.
//!
//! A plan is solved without holding the database, kept as a proposal with what it was made for,
//! and booked only when somebody accepts it. If anything it rests on has changed by then, or
//! somebody booked the same clamps in between, accepting fails whole and nothing is booked.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;

use super::book::{book, new_booking, still_open};
use super::planning::{Ground, GroundError, Suppose, instant, label_of, project_of};
use super::{App, Busy, stage};
use crate::calc::budget::Budget;
use crate::calc::schedule::{self, Bound, Conflict, Problem, Progress, Tardiness};
use crate::calc::work::{self, ClampLoad, Plan, PlanOutcome, Planning};
use crate::store::booking::{self, NewBooking};
use crate::store::proposal::{self, ProposalKind};
use crate::store::{BookingId, By, MemberId, ProjectId, ProposalId, Refusal, ResourceId, project};

/// Threads of one solve.
const THREADS: usize = 2;
/// The share of the time that is left which each round of one solve may take.
const SHARE_OF_ROUND: f64 = 0.75;
/// The most projects of one plan.
const MOST_PROJECTS: usize = 300;

/// Why there is no plan, or why one was not booked.
#[derive(Debug, thiserror::Error)]
pub enum PlanError {
    #[error("there is no such project, booking or plan")]
    Unknown,
    /// A project that cannot be planned.
    #[error(transparent)]
    Ground(GroundError),
    /// Proven: no plan keeps all rules. What stands in the way, in words.
    #[error("there is no way to plan this")]
    NoSchedule(Conflict),
    /// None was found in the time given, and none was proven impossible.
    #[error("no plan was found in time")]
    NotFoundInTime,
    /// More than one plan takes; in words.
    #[error("{0}")]
    TooLarge(String),
    #[error("the solvers are busy")]
    Busy,
    /// Projects, bookings or hours have changed since the plan was made.
    #[error("what the plan was made for has changed")]
    Stale,
    /// Somebody booked the same clamps or stations in between.
    #[error("somebody booked in between")]
    BookedMeanwhile,
    #[error("the plan was accepted already")]
    AlreadyAccepted,
    /// A stored proposal cannot be read.
    #[error("a stored plan cannot be read")]
    Unreadable(#[from] serde_json::Error),
    #[error("failed to store the plan")]
    Store(#[source] Refusal),
}

impl From<sqlx::Error> for PlanError {
    fn from(error: sqlx::Error) -> PlanError {
        PlanError::Store(error.into())
    }
}

impl From<Refusal> for PlanError {
    fn from(refusal: Refusal) -> PlanError {
        match refusal {
            Refusal::Stale | Refusal::Reference => PlanError::Stale,
            Refusal::ResourceInUse | Refusal::Taken(_) => PlanError::BookedMeanwhile,
            other => PlanError::Store(other),
        }
    }
}

impl From<GroundError> for PlanError {
    fn from(error: GroundError) -> PlanError {
        match error {
            GroundError::Store(error) => error.into(),
            other => PlanError::Ground(other),
        }
    }
}

impl From<Busy> for PlanError {
    fn from(_: Busy) -> PlanError {
        PlanError::Busy
    }
}

/// A planned step, in the form in which a proposal keeps it. Times are UTC seconds since 1970.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlannedStep {
    pub project: ProjectId,
    pub step: String,
    pub kind: String,
    pub name: String,
    pub clamp_load: Option<String>,
    pub from_at: i64,
    pub to_at: i64,
    pub attended: bool,
    pub uses: Vec<PlannedUse>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlannedUse {
    pub resource: ResourceId,
    pub amount: u32,
    pub from_at: i64,
    pub to_at: i64,
}

/// A booking as it stood when the plan was made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepBefore {
    pub booking: BookingId,
    pub version: i64,
    pub project: ProjectId,
    pub step: String,
    pub name: String,
    pub from_at: i64,
    pub to_at: i64,
}

/// When a project would be ready, beside its due date.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadyDate {
    pub project: ProjectId,
    pub name: String,
    /// The end of its last step.
    pub ready_at: i64,
    /// Local day, if it has one.
    pub due_day: Option<String>,
    /// Minutes after the end of the due day; 0 in time.
    pub late_minutes: i64,
}

/// A step that follows a done one later than it should: glue on faces that were milled days ago.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OverdueStep {
    pub project: ProjectId,
    pub step: String,
    pub after: String,
    pub at_most_minutes: i64,
}

/// A plan that waits to be accepted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlanAnswer {
    pub steps: Vec<PlannedStep>,
    pub before: Vec<StepBefore>,
    pub ready: Vec<ReadyDate>,
    /// Weighted minutes late of all projects, as a decimal.
    pub tardiness: String,
    pub tardiness_bound: String,
    /// The end of the last step, and the earliest that any plan of this tardiness could have.
    pub finish_at: i64,
    pub finish_bound_at: i64,
    /// Whether no plan can be better.
    pub proven: bool,
    /// Bookings that start at another time than before.
    pub moved: usize,
    /// Kinds of stations that steps ask for and the workshop does not list.
    pub unlisted: Vec<String>,
    /// Steps that follow a done one later than they should.
    pub overdue: Vec<OverdueStep>,
    pub seconds: f64,
}

/// What a plan was made for: it is refused when any of this has changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct MadeFor {
    /// Each with the version of its design.
    projects: Vec<(ProjectId, i64)>,
    bookings: Vec<(BookingId, i64)>,
}

/// Solves off the async threads. Dropping the future stops the solver.
pub(super) async fn solve(
    app: &App,
    planning: Planning,
    time: Duration,
    progress: impl Fn(Progress) + Send + Sync + 'static,
) -> Result<(Plan, Duration), PlanError> {
    let time = time.min(app.slots.longest());
    let solved = app
        .slots
        .run(move |stop| {
            let started = Instant::now();
            let outcome = work::plan(&planning, |request| {
                // Clamps may turn out not to go round; then a stricter plan needs its time too.
                let began = started.elapsed();
                let share = time.saturating_sub(began).mul_f64(SHARE_OF_ROUND);
                let budget = Budget::until(share, move || started.elapsed() - began)
                    .with_stop(stop)
                    .with_threads(THREADS);
                Problem::new(request).map(|problem| schedule::solve(&problem, &budget, &progress))
            });
            (outcome, started.elapsed())
        })
        .await?;
    match solved {
        (Ok(PlanOutcome::Planned(plan)), elapsed) => Ok((plan, elapsed)),
        (Ok(PlanOutcome::NoSchedule(conflict)), _) => Err(PlanError::NoSchedule(conflict)),
        (Ok(PlanOutcome::NotFoundInTime), _) => Err(PlanError::NotFoundInTime),
        (Err(flaws), _) => {
            let first = flaws
                .first()
                .map_or_else(String::new, |flaw| flaw.detail.clone());
            Err(PlanError::TooLarge(format!(
                "The plan asks for something that cannot be: {first}"
            )))
        }
    }
}

/// The plan of some projects, with panels in one set of clamps where that makes it better. `time` is for all of it.
///
/// It is made with each panel in clamps of its own and with all loads; where that is quick, each load is tried apart too.
/// That is not every way to share, so what is certain about all of them comes from a plan with room for everybody.
pub(super) async fn best(
    app: &App,
    ground: &Ground,
    time: Duration,
    progress: impl Fn(Progress) + Send + Sync + Clone + 'static,
) -> Result<(Plan, Vec<ClampLoad>, Duration), PlanError> {
    let loads = ground.loads();
    let with = |loads: &[ClampLoad]| Planning {
        loads: loads.to_vec(),
        ..ground.planning.clone()
    };
    if loads.is_empty() {
        let (plan, elapsed) = solve(app, with(&[]), time, progress).await?;
        return Ok((plan, loads, elapsed));
    }
    let started = Instant::now();
    let left = || time.saturating_sub(started.elapsed());
    let alone = solve(app, with(&[]), time / 2, progress.clone()).await;
    let is_proven =
        |tried: &Result<(Plan, Duration), PlanError>| matches!(tried, Ok((plan, _)) if plan.proven);
    let is_quick = is_proven(&alone);
    let share = if is_quick { left() / 2 } else { left() };
    let together = solve(app, with(&loads), share, progress.clone()).await;
    let are_proven = is_quick && is_proven(&together);
    let cost = |plan: &Plan| (plan.tardiness, plan.finish, plan.moved);
    let (mut plan, mut shared) = match (alone, together) {
        (Ok((alone, _)), Ok((together, _))) if cost(&together) < cost(&alone) => {
            (together, loads.clone())
        }
        (Ok((alone, _)), _) => (alone, Vec::new()),
        (Err(_), Ok((together, _))) => (together, loads.clone()),
        (Err(error), Err(_)) => return Err(error),
    };
    if are_proven && ground.may_share() == 2 {
        return Ok((plan, shared, started.elapsed()));
    }
    let apart = if is_quick && loads.len() > 1 {
        loads.as_slice()
    } else {
        &[]
    };
    for (place, load) in apart.iter().enumerate() {
        let mut tried = shared.clone();
        match tried.iter().position(|known| known == load) {
            Some(known) => _ = tried.remove(known),
            None => tried.push(load.clone()),
        }
        let share = left() / u32::try_from(apart.len() - place + 1).unwrap_or(u32::MAX);
        let found = solve(app, with(&tried), share, progress.clone()).await;
        if let Ok((other, _)) = found
            && cost(&other) < cost(&plan)
        {
            (plan, shared) = (other, tried);
        }
    }
    let roomy = ground.planning.with_room_to_share();
    plan.bound = match solve(app, roomy, left().max(time / 10), |_| {}).await {
        // Of later plans that finish is certain only where none of them is less late.
        Ok((roomy, _)) if plan.tardiness > roomy.tardiness => Bound {
            finish: ground.planning.from,
            ..roomy.bound
        },
        Ok((roomy, _)) => roomy.bound,
        // Nothing is certain but that work has yet to be done.
        Err(_) => Bound {
            tardiness: Tardiness::default(),
            finish: ground.planning.from,
        },
    };
    plan.proven = plan.tardiness == plan.bound.tardiness && plan.finish == plan.bound.finish;
    Ok((plan, shared, started.elapsed()))
}

/// When each project would be ready.
pub(super) fn ready_dates(ground: &Ground, plan: &Plan) -> Vec<ReadyDate> {
    ground
        .projects
        .iter()
        .zip(&ground.planning.jobs)
        .map(|(project, job)| {
            let ends = plan.bookings.iter().filter(|booking| booking.job == job.id);
            let ready = ends
                .map(|booking| booking.to)
                .max()
                .unwrap_or(ground.planning.from);
            let late = job.due.map_or(0, |(by, _)| (ready - by).0.max(0));
            ReadyDate {
                project: project.id,
                name: project.about.name.clone(),
                ready_at: instant(ready).as_second(),
                due_day: project.about.due_day.map(|day| day.to_string()),
                late_minutes: late,
            }
        })
        .collect()
}

/// The steps of a plan as they would be booked.
pub(super) fn steps_of(ground: &Ground, plan: &Plan, loads: &[ClampLoad]) -> Vec<PlannedStep> {
    let labels: Vec<(String, Vec<(ProjectId, String)>)> = loads
        .iter()
        .map(|load| {
            let members: Vec<(ProjectId, String)> = load
                .members
                .iter()
                .map(|(job, key)| (ground.projects[*job].id, key.clone()))
                .collect();
            (label_of(&members), members)
        })
        .collect();
    let resource = |name: &str| {
        ground
            .resources
            .iter()
            .find(|resource| resource.about.name == name)
            .map(|found| found.id)
    };
    plan.bookings
        .iter()
        .filter_map(|planned| {
            let project = project_of(&planned.job)?;
            let position = ground
                .projects
                .iter()
                .position(|known| known.id == project)?;
            let steps = &ground.planning.jobs[position].steps;
            let step = steps.iter().find(|step| step.key == planned.key)?;
            let before = ground.booking(project, &planned.key);
            let label = labels
                .iter()
                .find(|(_, members)| {
                    members
                        .iter()
                        .any(|(other, key)| *other == project && *key == planned.key)
                })
                .map(|(label, _)| label.clone());
            // What stays as it is keeps its load too.
            let kept = before
                .filter(|booking| instant(planned.from) == booking.from)
                .and_then(|booking| booking.clamp_load.clone());
            Some(PlannedStep {
                project,
                step: planned.key.clone(),
                kind: step.kind.row().key.to_owned(),
                name: planned.name.clone(),
                clamp_load: label.or(kept),
                from_at: instant(planned.from).as_second(),
                to_at: instant(planned.to).as_second(),
                attended: planned.is_attended,
                uses: planned
                    .uses
                    .iter()
                    .filter_map(|used| {
                        Some(PlannedUse {
                            resource: resource(&used.id)?,
                            amount: used.amount,
                            from_at: instant(used.from).as_second(),
                            to_at: instant(used.to).as_second(),
                        })
                    })
                    .collect(),
            })
        })
        .collect()
}

pub(super) fn answer(
    ground: &Ground,
    plan: &Plan,
    loads: &[ClampLoad],
    elapsed: Duration,
) -> PlanAnswer {
    let steps = steps_of(ground, plan, loads);
    let before: Vec<StepBefore> = ground
        .bookings
        .iter()
        .map(|booking| StepBefore {
            booking: booking.id,
            version: booking.version,
            project: booking.project,
            step: booking.step.clone(),
            name: booking.name.clone(),
            from_at: booking.from.as_second(),
            to_at: booking.to.as_second(),
        })
        .collect();
    let moved = before
        .iter()
        .filter(|before| {
            let same =
                |step: &&PlannedStep| step.project == before.project && step.step == before.step;
            steps
                .iter()
                .find(same)
                .is_none_or(|step| step.from_at != before.from_at)
        })
        .count();
    PlanAnswer {
        ready: ready_dates(ground, plan),
        tardiness: plan.tardiness.to_string(),
        tardiness_bound: plan.bound.tardiness.to_string(),
        finish_at: instant(plan.finish).as_second(),
        finish_bound_at: instant(plan.bound.finish).as_second(),
        proven: plan.proven,
        moved,
        unlisted: plan
            .unlisted
            .iter()
            .map(|station| station.name().to_owned())
            .collect(),
        overdue: ground
            .overdue
            .iter()
            .map(|overdue| OverdueStep {
                project: overdue.project,
                step: overdue.step.clone(),
                after: overdue.after.clone(),
                at_most_minutes: overdue.at_most.0,
            })
            .collect(),
        seconds: elapsed.as_secs_f64(),
        steps,
        before,
    }
}

/// Each project once, if they are not too many for one plan.
pub(super) fn each_once(ids: &[ProjectId]) -> Result<Vec<ProjectId>, PlanError> {
    let mut ids = ids.to_vec();
    ids.sort_unstable();
    ids.dedup();
    if ids.len() > MOST_PROJECTS {
        return Err(PlanError::TooLarge(format!(
            "The plan is for {} projects; it must be for at most {MOST_PROJECTS}.",
            ids.len()
        )));
    }
    Ok(ids)
}

/// Plans projects together and keeps the plan as a proposal of `member`. What runs, was done or is
/// pinned stays; other bookings move as little as the better dates allow.
pub async fn propose(
    app: &App,
    by: By,
    member: MemberId,
    ids: &[ProjectId],
    time: Duration,
    progress: impl Fn(Progress) + Send + Sync + Clone + 'static,
) -> Result<(ProposalId, PlanAnswer), PlanError> {
    let ids = &each_once(ids)?;
    let mut read = app.store.read().acquire().await?;
    let ground = Ground::load(&mut read, by.at, ids, &Suppose::default()).await?;
    drop(read);
    let (plan, loads, elapsed) = best(app, &ground, time, progress).await?;
    let answer = answer(&ground, &plan, &loads, elapsed);
    let made_for = MadeFor {
        projects: ground
            .projects
            .iter()
            .map(|known| (known.id, known.design_version))
            .collect(),
        bookings: ground
            .bookings
            .iter()
            .map(|known| (known.id, known.version))
            .collect(),
    };
    let made_for = serde_json::to_string(&made_for)?;
    let text = serde_json::to_string(&answer)?;
    let mut db = app.store.begin().await?;
    let id = proposal::insert(&mut db, by, member, ProposalKind::Plan, &made_for, &text).await?;
    db.commit().await?;
    Ok((id, answer))
}

/// A kept plan, who asked for it, and whether it was accepted.
pub async fn find(
    db: &mut SqliteConnection,
    id: ProposalId,
) -> Result<(PlanAnswer, MemberId, Option<Timestamp>), PlanError> {
    let kept = proposal::find(db, id)
        .await?
        .filter(|kept| kept.kind == ProposalKind::Plan)
        .ok_or(PlanError::Unknown)?;
    Ok((
        serde_json::from_str(&kept.answer)?,
        kept.member,
        kept.accepted_at,
    ))
}

/// Books a kept plan, all of it or nothing.
pub async fn accept(
    db: &mut SqliteConnection,
    by: By,
    id: ProposalId,
) -> Result<Vec<ProjectId>, PlanError> {
    let kept = proposal::find(&mut *db, id)
        .await?
        .filter(|kept| kept.kind == ProposalKind::Plan)
        .ok_or(PlanError::Unknown)?;
    if kept.accepted_at.is_some() {
        return Err(PlanError::AlreadyAccepted);
    }
    let made_for: MadeFor = serde_json::from_str(&kept.made_for)?;
    let answer: PlanAnswer = serde_json::from_str(&kept.answer)?;
    let mut existing = Vec::new();
    for (id, design_version) in &made_for.projects {
        let project = project::find(&mut *db, *id)
            .await?
            .ok_or(PlanError::Stale)?;
        if project.ended_at.is_some() || project.design_version != *design_version {
            return Err(PlanError::Stale);
        }
        existing.extend(booking::list_of_project(&mut *db, *id).await?);
    }
    let versions = existing.iter().map(|booking| (booking.id, booking.version));
    let versions: BTreeMap<BookingId, i64> = versions.collect();
    if versions != made_for.bookings.iter().copied().collect() {
        return Err(PlanError::Stale);
    }
    still_open(db, by, &answer.steps, &existing).await?;
    let bookings: Vec<NewBooking> = answer
        .steps
        .iter()
        .map(new_booking)
        .collect::<Option<_>>()
        .ok_or(PlanError::Stale)?;
    book(db, by, &existing, &bookings).await?;
    proposal::accept(db, by, id)
        .await
        .map_err(|refusal| match refusal {
            Refusal::Stale => PlanError::AlreadyAccepted,
            other => other.into(),
        })?;
    let ids: Vec<ProjectId> = made_for.projects.iter().map(|(id, _)| *id).collect();
    for id in &ids {
        stage::refresh(db, by, *id).await?;
    }
    Ok(ids)
}
