use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;

use super::drawn::Drawer;
use crate::app::basis::Basis;
use crate::app::{App, days, project as projects};
use crate::calc::work::Kind;
use crate::export::svg::Drawing;
use crate::store::practice::PracticeChanges;
use crate::store::project::{self, Project, Search, Stage};
use crate::store::{MemberId, ProjectId, workshop};
use crate::web::{Error, Member, Query, Section, Shell, page, words};

/// Projects on one page.
const LIMIT: u32 = 40;

#[derive(Template)]
#[template(path = "projects/list.html")]
struct ListPage {
    shell: Shell,
    projects: Vec<Line>,
    whose: &'static str,
    stage: String,
    stages: Vec<&'static str>,
    ended: bool,
    /// The id to go on from.
    next: Option<ProjectId>,
    is_filtered: bool,
}

struct Line {
    id: ProjectId,
    name: String,
    kind: &'static str,
    who: Option<String>,
    stage: &'static str,
    is_ready: bool,
    due: Option<String>,
    is_late: bool,
    drawing: Option<Drawing>,
}

#[derive(Deserialize)]
pub(super) struct Filter {
    /// `mine` or `all`.
    #[serde(default)]
    whose: String,
    #[serde(default)]
    stage: String,
    #[serde(default)]
    ended: String,
    before: Option<i64>,
}

pub(super) async fn list(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Query(filter): Query<Filter>,
) -> Result<Response, Error> {
    let is_all = filter.whose == "all";
    let stage = Stage::ALL
        .iter()
        .copied()
        .find(|stage| stage.word() == filter.stage);
    let ended = !filter.ended.is_empty();
    let search = Search {
        member: (!is_all).then(|| member.id()),
        stage,
        ended,
        before: filter.before.map(ProjectId),
        limit: LIMIT + 1,
    };
    let mut db = app.store.read().acquire().await?;
    let mut found = project::list(&mut *db, &search).await?;
    let basis = Basis::load(&mut db, &PracticeChanges::default()).await?;
    let workshop = workshop::get(&mut *db).await?;
    let today = days::day_of(app.clock.now(), &workshop.time_zone);
    let has_more = found.len() > LIMIT as usize;
    found.truncate(LIMIT as usize);
    let drawer = Drawer {
        basis: &basis,
        lengths: shell.lengths(),
    };
    let line = |project: &Project| line(project, member.id(), today, &drawer);
    page(&ListPage {
        projects: found.iter().map(line).collect(),
        whose: if is_all { "all" } else { "mine" },
        stage: stage.map_or_else(String::new, |stage| stage.word().to_owned()),
        stages: Stage::ALL.iter().map(|stage| stage.word()).collect(),
        ended,
        next: if has_more {
            found.last().map(|project| project.id)
        } else {
            None
        },
        is_filtered: stage.is_some() || is_all || ended,
        shell: shell.at(Section::Projects),
    })
}

fn line(
    project: &Project,
    reader: MemberId,
    today: jiff::civil::Date,
    drawer: &Drawer<'_>,
) -> Line {
    let due = project.about.due_day;
    let is_open = project.stage < Stage::Ready && project.ended_at.is_none();
    let drawing = projects::design(project)
        .ok()
        .map(|design| drawer.small(&format!("p{}", project.id), &project.about.name, &design));
    Line {
        id: project.id,
        name: project.about.name.clone(),
        kind: Kind::from_slug(&project.about.kind).map_or("", Kind::title),
        who: (project.member != reader).then(|| project.member_name.clone()),
        stage: if project.ended_at.is_some() && project.stage != Stage::HandedOver {
            "given up"
        } else {
            project.stage.word()
        },
        is_ready: project.stage >= Stage::Ready,
        due: due.map(|day| {
            format!(
                "{}, {}",
                words::short_day(day),
                words::from_today(day, today)
            )
        }),
        is_late: is_open && due.is_some_and(|day| day < today),
        drawing,
    }
}
