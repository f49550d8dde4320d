//! The small calculators as pages: a form for each, and the answer below it in the member's units with its sources.
//!
//! A form is sent as a query, so that an answer has an address that can be kept and shared. It is turned into the body that
//! scripts send, answered by the same code, and what that refuses goes back beside its field.

mod answer;
mod body;
mod form;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde_json::Value;

use answer::Answered;
use body::{filled, refuse, tidied, to_body};
use form::{Block, Kind, Part, blocks, parts};

use crate::app::{App, advice};
use crate::reference::{finishes, glues};
use crate::store::settings::Settings;
use crate::store::{species, workshop};
use crate::web::{Error, Path, Query, Section, Shell, Typed, page, page_again};
use crate::wire::calculators::{CALCULATORS, calculator};

/// What a calculator is called on a page.
pub(super) fn title(name: &str) -> &'static str {
    match name {
        "emc" => "Moisture that wood settles at",
        "moisture-check" => "Are the pieces ready to glue?",
        "movement" => "Movement of one piece",
        "board-movement" => "Movement of a glued board",
        "cross-grain" => "A joint across the grain",
        "food-check" => "Woods and food",
        "board-feet" => "Board feet",
        "weight" => "Weight",
        "clamping" => "Clamps for a panel",
        "clamp-load" => "Panels that share clamps",
        "glue-up" => "Glue and open time",
        "circle" => "Circles with a router",
        "flattening" => "Sanding flat",
        "grits" => "Grits",
        "finish" => "Coats and curing",
        "cost" => "Cost",
        "advice" => "Everything about a striped board",
        _ => "Calculator",
    }
}

#[derive(Template)]
#[template(path = "reference/calculators.html")]
struct ListPage {
    shell: Shell,
    calculators: Vec<(&'static str, &'static str, &'static str)>,
}

pub(super) async fn list(shell: Shell) -> Result<Response, Error> {
    page(&ListPage {
        calculators: CALCULATORS
            .iter()
            .map(|calculator| (calculator.name, title(calculator.name), calculator.summary))
            .collect(),
        shell: shell.at(Section::Reference),
    })
}

#[derive(Template)]
#[template(path = "reference/calculator.html")]
struct CalculatorPage {
    shell: Shell,
    name: &'static str,
    title: &'static str,
    summary: &'static str,
    typed: Typed,
    blocks: Vec<Block>,
    answered: Option<Answered>,
    is_example: bool,
    /// The workshop's own air is filled in.
    has_air: bool,
    /// The workshop corrected or added woods, which these calculators do not take from it.
    has_own_woods: bool,
    /// The body that a script would send for the same answer.
    body: String,
}

/// Puts values into the fields that this calculator has, and tells whether it has any.
fn put_known(typed: &mut Typed, parts: &[Part], values: &[(String, String)]) -> bool {
    let mut has_any = false;
    for (name, value) in values {
        if parts
            .iter()
            .any(|part| matches!(part, Part::One(field) if field.name == name))
        {
            typed.put(name, [value.clone()]);
            has_any = true;
        }
    }
    has_any
}

/// What the workshop has read of its air, by the fields that ask for it: the air now, and the two ends of the year.
fn air_of(settings: &Settings) -> Vec<(String, String)> {
    let mut values: Vec<(&str, f64)> = Vec::new();
    if let Some(now) = settings.air_now() {
        let (celsius, percent) = (now.temperature_c, now.relative_humidity_percent);
        values.extend([
            ("temperature_c", celsius),
            ("relative_humidity_percent", percent),
            ("workshop_temperature_c", celsius),
            ("workshop_air-temperature_c", celsius),
            ("workshop_air-relative_humidity_percent", percent),
        ]);
    }
    if !settings.air.is_empty() {
        let (dry, damp) = advice::seasons(settings);
        values.extend([
            ("from_air-temperature_c", dry.air.temperature.celsius()),
            (
                "from_air-relative_humidity_percent",
                dry.air.humidity.percent(),
            ),
            ("to_air-temperature_c", damp.air.temperature.celsius()),
            (
                "to_air-relative_humidity_percent",
                damp.air.humidity.percent(),
            ),
        ]);
    }
    let tenths = |figure: f64| format!("{}", (figure * 10.0).round() / 10.0);
    values
        .into_iter()
        .map(|(name, figure)| (name.to_owned(), tenths(figure)))
        .collect()
}

/// Sent along by the form, so that an empty field is told from one that was never asked for.
const ASKED: &str = "asked";

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    Path(name): Path<String>,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Error> {
    let calculator = calculator(&name).ok_or_else(|| {
        Error::NotFound("There is no such calculator; the list of calculators has them all.".into())
    })?;
    let lengths = shell.lengths();
    let parts = parts(calculator.name);
    let example: Value = serde_json::from_str(calculator.example).unwrap_or_default();
    let is_asked = pairs.iter().any(|(name, _)| name == ASKED);
    let mut has_air = false;
    let mut typed = if is_asked {
        tidied(&pairs, &parts)
    } else {
        let mut typed = filled(&example, &parts, lengths);
        let settings = workshop::get(app.store.read()).await?.settings;
        has_air = put_known(&mut typed, &parts, &air_of(&settings));
        // An address from elsewhere in the pages may say a thing or two beforehand.
        put_known(&mut typed, &parts, &pairs);
        typed
    };
    let body = to_body(&typed, &parts, lengths.unit());
    let answered = match (calculator.answer)(body.to_string().as_bytes()) {
        Ok(answer) => Some(Answered::new(calculator.name, &answer, lengths)),
        Err(problem) => {
            refuse(&mut typed, &parts, &problem);
            None
        }
    };
    let names = |names: Vec<&str>| -> Vec<(String, String)> {
        names
            .into_iter()
            .map(|name| (name.to_owned(), name.to_owned()))
            .collect()
    };
    let options = form::Options {
        woods: names(
            crate::reference::woods()
                .iter()
                .map(|wood| wood.name.as_str())
                .collect(),
        ),
        glues: names(glues().iter().map(|glue| glue.name.as_str()).collect()),
        finishes: names(
            finishes()
                .iter()
                .map(|finish| finish.name.as_str())
                .collect(),
        ),
    };
    let is_answered = answered.is_some();
    let template = CalculatorPage {
        name: calculator.name,
        title: title(calculator.name),
        summary: calculator.summary,
        blocks: blocks(&parts, &typed, &options),
        typed,
        answered,
        is_example: pairs.is_empty(),
        has_air,
        has_own_woods: !species::list(app.store.read()).await?.is_empty(),
        body: serde_json::to_string_pretty(&body).unwrap_or_default(),
        shell: shell.at(Section::Reference),
    };
    if is_answered {
        page(&template)
    } else {
        page_again(&template)
    }
}
