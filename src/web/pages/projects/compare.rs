use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;

use super::drawn::Drawer;
use super::live::{NeedLine, WarningLine, need_lines, size_words, warning_line};
use super::opened::{Opened, flaw_words};
use crate::app::{App, advice};
use crate::export::svg::{Drawing, Style};
use crate::store::ProjectId;
use crate::store::project::{self, Search, Stage};
use crate::units::{LengthFormat, Minutes, Money, Volume};
use crate::web::{Error, Member, Query, Section, Shell, page, words};
use crate::wire::kept_match::KeptMatch;

#[derive(Template)]
#[template(path = "projects/compare.html")]
struct ComparePage {
    shell: Shell,
    options: Vec<(String, String)>,
    left: String,
    right: String,
    sides: Vec<Side>,
    /// The name of a figure, and what it is on either side.
    rows: Vec<(&'static str, String, String)>,
}

struct Side {
    id: ProjectId,
    name: String,
    kind: &'static str,
    drawing: Drawing,
    size: String,
    needs: Vec<NeedLine>,
    warnings: Vec<WarningLine>,
    flaws: Vec<String>,
    figures: Vec<(&'static str, String)>,
}

#[derive(Deserialize)]
pub(super) struct Chosen {
    left: Option<i64>,
    right: Option<i64>,
}

/// Two designs side by side.
pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Query(chosen): Query<Chosen>,
) -> Result<Response, Error> {
    let search = Search {
        member: Some(member.id()),
        limit: 200,
        ..Search::default()
    };
    let mine = project::list(app.store.read(), &search).await?;
    let mut options: Vec<(String, String)> = mine
        .iter()
        .map(|project| (project.id.to_string(), project.about.name.clone()))
        .collect();
    let mut sides = Vec::new();
    for (place, id) in [chosen.left, chosen.right].into_iter().enumerate() {
        let Some(id) = id.map(ProjectId) else {
            continue;
        };
        let side = side(&app, id, place, shell.lengths()).await?;
        if options.iter().all(|(known, _)| *known != id.to_string()) {
            options.push((id.to_string(), side.name.clone()));
        }
        sides.push(side);
    }
    let rows = match sides.as_slice() {
        [left, right] => left
            .figures
            .iter()
            .zip(&right.figures)
            .map(|((name, left), (_, right))| (*name, left.clone(), right.clone()))
            .collect(),
        _ => Vec::new(),
    };
    let word = |id: Option<i64>| id.map_or_else(String::new, |id| id.to_string());
    page(&ComparePage {
        options,
        left: word(chosen.left),
        right: word(chosen.right),
        sides,
        rows,
        shell: shell.at(Section::Projects),
    })
}

async fn side(
    app: &App,
    id: ProjectId,
    place: usize,
    lengths: LengthFormat,
) -> Result<Side, Error> {
    let opened = Opened::find(app, id).await?;
    let drawer = Drawer {
        basis: &opened.basis,
        lengths,
    };
    let project = &opened.project;
    let name = project.about.name.clone();
    let mut side = Side {
        id,
        kind: opened.design.kind().title(),
        drawing: drawer.finished(&format!("side{place}"), Style::PHONE, &name, &opened.design),
        size: size_words(opened.design.finished(&opened.basis.practice), lengths),
        name,
        needs: Vec::new(),
        warnings: Vec::new(),
        flaws: Vec::new(),
        figures: Vec::new(),
    };
    let needs = match opened.needs() {
        Ok(needs) => needs,
        Err(flaws) => {
            side.flaws = flaws.iter().map(|flaw| flaw_words(flaw, lengths)).collect();
            return Ok(side);
        }
    };
    let mut db = app.store.read().acquire().await?;
    let of = advice::of_project(&mut db, project, &needs, &opened.basis, &opened.settings).await?;
    let attended = needs.steps.iter().filter(|step| step.is_attended());
    let at_work: i64 = attended.map(|step| step.minutes.0).sum();
    let clamps: Vec<u32> = needs
        .panels
        .iter()
        .map(|panel| panel.clamp_count())
        .collect();
    let found = project
        .current_match()
        .and_then(|found| KeptMatch::parse(&found.answer).ok());
    let matched = found.map_or_else(
        || match project.stage {
            Stage::Drawn => "not matched yet".to_owned(),
            stage => stage.word().to_owned(),
        },
        |kept| {
            format!(
                "{} of {} strips, {:.2} board feet net",
                kept.outcome.covered,
                kept.wanted(),
                Volume::from_mm3(kept.outcome.net_wood.mm3()).board_feet()
            )
        },
    );
    let money = |amount: Money| {
        if amount == Money::ZERO {
            "nothing".to_owned()
        } else {
            amount.to_string()
        }
    };
    side.figures = vec![
        ("Finished", side.size.clone()),
        (
            "Weight",
            format!(
                "{:.1} kg ({:.1} lb)",
                needs.weight.kilograms(),
                needs.weight.pounds()
            ),
        ),
        (
            "Wood, rough",
            format!("{:.2} board feet", needs.rough_board_feet()),
        ),
        ("Matched", matched),
        ("Wood from the bins", money(of.advice.cost.bin_wood)),
        ("Wood to buy", money(of.advice.cost.bought_wood)),
        ("Glue", format!("{:.0} g", of.advice.glue.amount.grams())),
        (
            "Clamps at once",
            clamps.iter().max().copied().unwrap_or(0).to_string(),
        ),
        ("Glue-ups", needs.panels.len().to_string()),
        ("Time at work", words::span(Minutes(at_work))),
        (
            "First coat to water",
            words::span(of.advice.finish.plan.ready),
        ),
    ];
    side.needs = need_lines(&needs, &drawer);
    let warnings = needs.warnings.iter();
    side.warnings = warnings.map(|about| warning_line(about, lengths)).collect();
    Ok(side)
}
