//! Several projects planned together by a steward: chosen, asked what if, proposed with before and after, booked.

use std::collections::BTreeSet;
use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use jiff::Timestamp;

use super::of_project::{
    Ground, overdue_words, planned_steps, ready_at, unlisted_words, used_by_others,
};
use super::shown::{DayList, DrawnLane, PlanDrawing, TimedStep, by_day};
use super::trouble::{Trouble, plan_error, trouble};
use super::what_if::{self, Difference, NOT_PROVEN, Offered};
use crate::app::App;
use crate::app::dates::{self, WhatIf};
use crate::app::days::instant_of;
use crate::app::plan::{self, PlanAnswer, PlanError, ReadyDate};
use crate::export::svg::Drawing;
use crate::store::booking::{self, Booking, BookingState};
use crate::store::project::{self, Project, Search, Stage};
use crate::store::{By, ProjectId, ProposalId};
use crate::web::local_time::LocalTime;
use crate::web::shell::page_with;
use crate::web::{
    Error, Flash, Path, Query, Section, Shell, Steward, Typed, page, page_again, see_other, words,
};

/// How long the solver may look, in seconds, and what the choice is called.
const TIMES: [(&str, &str); 3] = [("5", "5 seconds"), ("20", "20 seconds"), ("60", "a minute")];
/// So many projects are offered at most.
const MOST: u32 = 300;
/// The drawing fills a desk screen.
const WIDTH: f64 = 1060.0;

#[derive(Template)]
#[template(path = "plans/several.html")]
struct ChoosePage {
    shell: Shell,
    trouble: Option<Trouble>,
    typed: Typed,
    projects: Vec<Candidate>,
    times: [(&'static str, &'static str); 3],
    offered: Offered,
    effects: Option<Effects>,
}

/// What a supposition does to the ready dates.
struct Effects {
    title: String,
    words: String,
    is_better: bool,
    rows: Vec<EffectRow>,
}

struct EffectRow {
    project: ProjectId,
    name: String,
    due: String,
    now: String,
    then: String,
    difference: Difference,
}

struct Candidate {
    id: ProjectId,
    name: String,
    who: String,
    stage: &'static str,
    due: Option<String>,
    booked: String,
    is_chosen: bool,
}

#[derive(Template)]
#[template(path = "plans/several_proposed.html")]
struct ProposedPage {
    shell: Shell,
    trouble: Option<Trouble>,
    id: ProposalId,
    summary: String,
    is_late: bool,
    quality: String,
    is_accepted: bool,
    rows: Vec<ReadyRow>,
    moved: usize,
    overdue: Vec<String>,
    unlisted: Option<String>,
    loads: Vec<String>,
    days: Vec<DayList>,
    drawing: Drawing,
}

/// A project's dates before and after.
struct ReadyRow {
    project: ProjectId,
    name: String,
    who: String,
    due: String,
    before: String,
    after: String,
    late: Option<String>,
    moved: usize,
}

fn by(app: &App, steward: &Steward) -> By {
    By {
        member: Some(steward.0.member.id),
        at: app.clock.now(),
    }
}

async fn choose_page(
    app: &App,
    shell: Shell,
    mut typed: Typed,
    trouble: Option<Trouble>,
) -> Result<ChoosePage, Error> {
    let ground = Ground::load(app, app.clock.now()).await?;
    let time = &ground.time;
    let search = Search {
        limit: MOST,
        ..Search::default()
    };
    let is_new = typed.pairs().next().is_none();
    let mut projects = Vec::new();
    for known in project::list(app.store.read(), &search).await? {
        let bookings = booking::list_of_project(app.store.read(), known.id).await?;
        let open = bookings
            .iter()
            .filter(|booking| booking.state != BookingState::Done);
        let ready = bookings.iter().map(|booking| booking.to).max();
        let is_due = known.about.due_day.is_some();
        // What has its wood and is not finished is what a steward plans, unless they say otherwise.
        let is_chosen = if is_new {
            known.stage >= Stage::Claimed
                && known.stage < Stage::Curing
                && (is_due || bookings.is_empty())
        } else {
            typed.has("project", &known.id.to_string())
        };
        projects.push(Candidate {
            id: known.id,
            name: known.about.name.clone(),
            who: known.member_name.clone(),
            stage: known.stage.word(),
            due: known.about.due_day.map(|day| time.full_day(day)),
            booked: match (ready, open.count()) {
                (None, _) => "nothing booked".to_owned(),
                (Some(ready), open) => format!(
                    "{} to come, ready {}",
                    words::counted(open, "step", "steps"),
                    time.moment(ready)
                ),
            },
            is_chosen,
        });
    }
    if typed.text("seconds").is_empty() {
        typed.put("seconds", ["5".to_owned()]);
    }
    Ok(ChoosePage {
        trouble,
        typed,
        projects,
        times: TIMES,
        offered: Offered::new(&ground),
        effects: None,
        shell: shell.at(Section::GlueUps),
    })
}

pub(super) async fn choose(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    page(&choose_page(&app, shell, Typed::default(), None).await?)
}

/// The projects that were ticked, and how long to look.
fn chosen(typed: &mut Typed) -> Option<(Vec<ProjectId>, Duration)> {
    let ids: BTreeSet<ProjectId> = typed
        .all("project")
        .filter_map(|id| id.parse().ok())
        .collect();
    let seconds = typed.take("seconds", |text| match text {
        "5" | "20" | "60" => Ok(text.parse::<u64>().unwrap_or(5)),
        _ => Err("is none of those offered; choose one"),
    });
    if ids.is_empty() {
        typed.refuse("project", "are none; choose at least one");
        return None;
    }
    Some((ids.into_iter().collect(), Duration::from_secs(seconds?)))
}

fn effects(found: &WhatIf, supposed: &[String], time: &LocalTime) -> Effects {
    let rows: Vec<EffectRow> = found
        .now
        .iter()
        .zip(&found.then)
        .map(|(now, then)| EffectRow {
            project: now.project,
            name: now.name.clone(),
            due: due_words(now),
            now: ready_words(now, time),
            then: ready_words(then, time),
            difference: Difference::new(ready_at(now, time), ready_at(then, time)),
        })
        .collect();
    let late = |list: &[ReadyDate]| list.iter().filter(|ready| ready.late_minutes > 0).count();
    let n_sooner = rows.iter().filter(|row| row.difference.is_better).count();
    let mut said = format!(
        "With {}, {n_sooner} of {} would be ready sooner",
        words::listed(supposed),
        words::counted(rows.len(), "project", "projects"),
    );
    said.push_str(&match (late(&found.now), late(&found.then)) {
        (0, 0) => ".".to_owned(),
        (now, then) if now == then => format!(", and {then} late as now."),
        (now, then) => format!(", and {then} late instead of {now}."),
    });
    if !found.proven {
        said = format!("{said} {NOT_PROVEN}");
    }
    let is_same = rows.iter().all(|row| row.difference.is_none);
    Effects {
        title: if is_same {
            "No difference.".to_owned()
        } else if n_sooner > 0 {
            "It helps.".to_owned()
        } else {
            "It does not help.".to_owned()
        },
        words: said,
        is_better: n_sooner > 0,
        rows,
    }
}

fn due_words(ready: &ReadyDate) -> String {
    let day = ready.due_day.as_deref().and_then(|day| day.parse().ok());
    day.map_or_else(|| "no date".to_owned(), words::short_day)
}

/// When it is ready, and how late that is.
fn ready_words(ready: &ReadyDate, time: &LocalTime) -> String {
    let at = time.moment(ready_at(ready, time));
    match late_words(ready) {
        Some(late) => format!("{at}, {late}"),
        None => at,
    }
}

fn late_words(ready: &ReadyDate) -> Option<String> {
    (ready.late_minutes > 0).then(|| {
        let days = (ready.late_minutes + 1439) / 1440;
        let days = usize::try_from(days).unwrap_or(0);
        format!("{} late", words::counted(days, "day", "days"))
    })
}

/// What one more opening, more clamps or coats left out would do to the dates of the chosen projects.
pub(super) async fn suppose(
    State(app): State<App>,
    shell: Shell,
    steward: Steward,
    Query(asked): Query<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let mut typed = Typed::filled(
        asked
            .iter()
            .map(|(name, value)| (name.as_str(), value.clone())),
    );
    let ground = Ground::load(&app, app.clock.now()).await?;
    let chosen = chosen(&mut typed);
    let ids = chosen.as_ref().map_or(&[][..], |(ids, _)| ids);
    let supposed = what_if::read(&mut typed, ids, &ground);
    if let Some(supposed) = &supposed
        && supposed.words.is_empty()
    {
        typed.refuse(
            "on",
            "is empty, and so is the rest; suppose an opening, more clamps or coats left out",
        );
    }
    let (Some((ids, limit)), Some(supposed)) = (chosen, supposed.filter(|_| typed.is_fine()))
    else {
        return page_again(&choose_page(&app, shell, typed, None).await?);
    };
    let by = by(&app, &steward);
    match dates::what_if(&app, by, &ids, &supposed.suppose, limit).await {
        Ok(found) => {
            let mut shown = choose_page(&app, shell, typed, None).await?;
            shown.effects = Some(effects(&found, &supposed.words, &ground.time));
            page(&shown)
        }
        Err(error) => {
            let trouble = trouble(&app, error, shell.lengths()).await?;
            page(&choose_page(&app, shell, typed, Some(trouble)).await?)
        }
    }
}

pub(super) async fn propose(
    State(app): State<App>,
    shell: Shell,
    steward: Steward,
    mut typed: Typed,
) -> Result<Response, Error> {
    let Some((ids, time)) = chosen(&mut typed) else {
        return page_again(&choose_page(&app, shell, typed, None).await?);
    };
    let by = by(&app, &steward);
    match plan::propose(&app, by, steward.0.member.id, &ids, time, |_| ()).await {
        Ok((id, _)) => Ok(see_other(format!("/glue-ups/plan/{id}")).response(&app)),
        Err(error) => {
            let trouble = trouble(&app, error, shell.lengths()).await?;
            let page = choose_page(&app, shell, typed, Some(trouble)).await?;
            page_with(StatusCode::CONFLICT, &page)
        }
    }
}

/// Everything that a kept plan's page rests on.
struct Kept {
    answer: PlanAnswer,
    accepted_at: Option<Timestamp>,
    projects: Vec<Project>,
    bookings: Vec<Booking>,
}

async fn kept(app: &App, id: ProposalId) -> Result<Kept, Error> {
    let mut db = app.store.read().acquire().await?;
    let (answer, _, accepted_at) = plan::find(&mut db, id).await.map_err(plan_error)?;
    let mut projects = Vec::new();
    let mut bookings = Vec::new();
    for ready in &answer.ready {
        if let Some(found) = project::find(&mut *db, ready.project).await? {
            bookings.extend(booking::list_of_project(&mut *db, found.id).await?);
            projects.push(found);
        }
    }
    Ok(Kept {
        answer,
        accepted_at,
        projects,
        bookings,
    })
}

fn row(kept: &Kept, project: &Project, steps: &[TimedStep], time: &LocalTime) -> Option<ReadyRow> {
    let ready = kept
        .answer
        .ready
        .iter()
        .find(|ready| ready.project == project.id)?;
    let before = kept.answer.before.iter();
    let before = before
        .filter(|before| before.project == project.id)
        .map(|before| before.to_at)
        .max()
        .and_then(|at| Timestamp::from_second(at).ok());
    Some(ReadyRow {
        project: project.id,
        name: project.about.name.clone(),
        who: project.member_name.clone(),
        due: due_words(ready),
        before: before.map_or_else(|| "not booked".to_owned(), |at| time.moment(at)),
        after: time.moment(ready_at(ready, time)),
        late: late_words(ready),
        moved: steps
            .iter()
            .filter(|step| step.project == project.id && step.before.is_some())
            .count(),
    })
}

/// Panels that share clamps, a sentence for each load.
fn load_words(answer: &PlanAnswer, projects: &[Project]) -> Vec<String> {
    let mut labels: Vec<&str> = answer
        .steps
        .iter()
        .filter_map(|step| step.clamp_load.as_deref())
        .collect();
    labels.sort_unstable();
    labels.dedup();
    labels
        .iter()
        .map(|label| {
            let members = answer
                .steps
                .iter()
                .filter(|step| step.clamp_load.as_deref() == Some(label));
            let names: Vec<String> = members
                .map(|step| {
                    let of = projects.iter().find(|known| known.id == step.project);
                    of.map_or_else(String::new, |known| format!("“{}”", known.about.name))
                })
                .collect();
            format!("{} go into one set of clamps.", words::listed(&names))
        })
        .collect()
}

fn quality(answer: &PlanAnswer) -> String {
    let seconds = answer.seconds;
    if answer.proven {
        format!("Proven: no plan is better. Found in {seconds:.1} s.")
    } else if answer.tardiness == "0" {
        format!("Found in {seconds:.1} s; it was not shown that none ends sooner.")
    } else {
        format!(
            "Found in {seconds:.1} s; it was not shown that no plan is better. Altogether {} minutes late; at least {} are certain.",
            answer.tardiness, answer.tardiness_bound
        )
    }
}

async fn proposed_page(
    app: &App,
    shell: Shell,
    id: ProposalId,
    trouble: Option<Trouble>,
) -> Result<ProposedPage, Error> {
    let kept = kept(app, id).await?;
    let answer = &kept.answer;
    let steps = planned_steps(answer, &kept.projects, &kept.bookings);
    let first = steps.iter().map(|step| step.from).min();
    let ground = Ground::load(app, first.unwrap_or_else(|| app.clock.now())).await?;
    let time = &ground.time;
    let ids: Vec<ProjectId> = kept.projects.iter().map(|known| known.id).collect();
    let others = used_by_others(app, &steps, &ids).await?;
    let lanes: Vec<DrawnLane> = kept
        .projects
        .iter()
        .map(|known| DrawnLane {
            project: known.id,
            name: format!("{} ({})", known.about.name, known.member_name),
            ready: None,
            due: known
                .about
                .due_day
                .map(|due| instant_of(due, 1440, &time.zone)),
        })
        .collect();
    let n_late = answer
        .ready
        .iter()
        .filter(|ready| ready.late_minutes > 0)
        .count();
    let n_due = answer
        .ready
        .iter()
        .filter(|ready| ready.due_day.is_some())
        .count();
    let drawing = PlanDrawing {
        prefix: "several",
        title: "Plan of several projects",
        width: WIDTH,
        all_between: None,
        lanes: &lanes,
        steps: &steps,
        others: &others,
        resources: &ground.resources,
        hours: &ground.hours,
        time,
    };
    Ok(ProposedPage {
        trouble,
        id,
        summary: if n_late == 0 {
            format!(
                "All {} with a due date are ready in time.",
                words::counted(n_due, "project", "projects")
            )
        } else {
            format!(
                "{n_late} of {} with a due date would be late.",
                words::counted(n_due, "project", "projects")
            )
        },
        is_late: n_late > 0,
        quality: quality(answer),
        is_accepted: kept.accepted_at.is_some(),
        rows: kept
            .projects
            .iter()
            .filter_map(|project| row(&kept, project, &steps, time))
            .collect(),
        moved: answer.moved,
        overdue: overdue_words(answer),
        unlisted: unlisted_words(answer),
        loads: load_words(answer, &kept.projects),
        days: by_day(&steps, &ground.resources, time),
        drawing: drawing.draw(),
        shell: shell.at(Section::GlueUps),
    })
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    Path(id): Path<ProposalId>,
) -> Result<Response, Error> {
    page(&proposed_page(&app, shell, id, None).await?)
}

pub(super) async fn accept(
    State(app): State<App>,
    shell: Shell,
    steward: Steward,
    Path(id): Path<ProposalId>,
) -> Result<Response, Error> {
    let mut db = app.store.begin().await?;
    match plan::accept(&mut db, by(&app, &steward), id).await {
        Ok(ids) => {
            db.commit().await?;
            let said = format!(
                "The steps of {} are booked.",
                words::counted(ids.len(), "project", "projects")
            );
            Ok(see_other("/glue-ups")
                .saying(Flash::done(said))
                .response(&app))
        }
        Err(PlanError::AlreadyAccepted) => Ok(see_other("/glue-ups").response(&app)),
        Err(error) => {
            drop(db);
            let trouble = trouble(&app, error, shell.lengths()).await?;
            let page = proposed_page(&app, shell, id, Some(trouble)).await?;
            page_with(StatusCode::CONFLICT, &page)
        }
    }
}
