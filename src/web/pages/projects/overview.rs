use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::advised::{Advised, Fact, cautions, costs};
use super::drawn::Drawer;
use super::live::{NeedLine, WarningLine, need_lines, size_words, warning_line};
use super::opened::{Opened, by, error, flaw_words, own};
use super::path::{Head, Here, Next};
use crate::app::{App, advice, project as projects};
use crate::calc::work::Needs;
use crate::export::svg::{Drawing, Style};
use crate::store::ProjectId;
use crate::store::project::Stage;
use crate::web::{Error, Flash, Member, Path, Section, Shell, Typed, page, see_other, words};

#[derive(Template)]
#[template(path = "projects/overview.html")]
struct OverviewPage {
    shell: Shell,
    head: Head,
    next: Option<Next>,
    drawing: Drawing,
    size: String,
    note: String,
    flaws: Vec<String>,
    made: Option<Made>,
    /// The stages that can be said by hand from here on.
    stages: Vec<&'static str>,
    version: i64,
}

/// What a design that can be made asks for.
struct Made {
    needs: Vec<NeedLine>,
    figures: Vec<(&'static str, String)>,
    steps: Vec<StepLine>,
    warnings: Vec<WarningLine>,
    cautions: Vec<Fact>,
    /// What it costs, line by line.
    costs: Vec<(String, String)>,
    advised: Advised,
}

struct StepLine {
    name: String,
    minutes: String,
    /// What must pass before it.
    wait: Option<String>,
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
) -> Result<Response, Error> {
    let opened = Opened::find(&app, id).await?;
    let lengths = shell.lengths();
    let drawer = Drawer {
        basis: &opened.basis,
        lengths,
    };
    let project = &opened.project;
    let head = opened.head(&member, Here::Overview);
    let (flaws, made) = match opened.needs() {
        Ok(needs) => (
            Vec::new(),
            Some(made(&app, &opened, &needs, &drawer).await?),
        ),
        Err(flaws) => (
            flaws.iter().map(|flaw| flaw_words(flaw, lengths)).collect(),
            None,
        ),
    };
    page(&OverviewPage {
        next: head.next(),
        drawing: drawer.finished("board", Style::PHONE, &project.about.name, &opened.design),
        size: size_words(opened.design.finished(&opened.basis.practice), lengths),
        note: project.about.note.clone(),
        flaws,
        made,
        stages: Stage::ALL
            .iter()
            .filter(|stage| **stage >= Stage::Milled && **stage > project.stage)
            .map(|stage| stage.word())
            .collect(),
        version: project.version,
        head,
        shell: shell.at(Section::Projects),
    })
}

async fn made(
    app: &App,
    opened: &Opened,
    needs: &Needs,
    drawer: &Drawer<'_>,
) -> Result<Made, Error> {
    let lengths = drawer.lengths;
    let mut db = app.store.read().acquire().await?;
    let of = advice::of_project(
        &mut db,
        &opened.project,
        needs,
        &opened.basis,
        &opened.settings,
    )
    .await?;
    let advice = &of.advice;
    let advised = Advised::new(&of, needs, &opened.basis, lengths);
    let attended = needs.steps.iter().filter(|step| step.is_attended());
    let at_work: i64 = attended.map(|step| step.minutes.0).sum();
    let figures = vec![
        (
            "Weight",
            format!(
                "{:.1} kg ({:.1} lb)",
                needs.weight.kilograms(),
                needs.weight.pounds()
            ),
        ),
        (
            "Wood, finished",
            format!("{:.2} board feet", needs.finished_board_feet()),
        ),
        (
            "Wood, rough",
            format!("{:.2} board feet", needs.rough_board_feet()),
        ),
        ("Time at work", words::span(crate::units::Minutes(at_work))),
        ("Cost", advice.cost.total().to_string()),
    ];
    let warnings = needs.warnings.iter();
    Ok(Made {
        needs: need_lines(needs, drawer),
        figures,
        steps: needs.steps.iter().map(step_line).collect(),
        warnings: warnings.map(|about| warning_line(about, lengths)).collect(),
        cautions: cautions(&advice.cautions),
        costs: costs(&of),
        advised,
    })
}

fn step_line(step: &crate::calc::work::Step) -> StepLine {
    let wait = step
        .after
        .iter()
        .map(|after| after.min_gap)
        .max()
        .filter(|gap| gap.0 > 0);
    StepLine {
        name: step.name.clone(),
        minutes: words::span(step.minutes),
        wait: wait.map(words::span),
    }
}

/// Says by hand how far a project is.
pub(super) async fn reach(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    typed: Typed,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let stage = Stage::ALL
        .iter()
        .copied()
        .find(|stage| stage.word() == typed.text("stage"));
    let Some(stage) = stage else {
        return Err(Error::Conflict(
            "The stage is none of the stages of a project.".into(),
        ));
    };
    let version = typed.text("version").parse().unwrap_or_default();
    let mut db = app.store.begin().await?;
    projects::reach(&mut db, by(&app, &member), id, version, stage)
        .await
        .map_err(error)?;
    db.commit().await?;
    Ok(see_other(format!("/projects/{id}"))
        .saying(Flash::done(format!("The project is {stage} now.")))
        .response(&app))
}

/// Ends a project that will not be made.
pub(super) async fn give_up(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    typed: Typed,
) -> Result<Response, Error> {
    own(&app, &member, id).await?;
    let version = typed.text("version").parse().unwrap_or_default();
    let mut db = app.store.begin().await?;
    projects::give_up(&mut db, by(&app, &member), id, version)
        .await
        .map_err(error)?;
    db.commit().await?;
    Ok(see_other("/projects")
        .saying(Flash::done(
            "The project is given up; its pieces are free again and its bookings are cancelled.",
        ))
        .response(&app))
}
