//! Glues and finishes: every figure of each, with its source and its cautions.

use askama::Template;
use axum::response::Response;

use crate::calc::cautions::{of_finish, of_glue};
use crate::reference::{
    Caution, Properties, Property, anchor, cautions_about, finishes, glues, gluing_figures,
};
use crate::web::{Error, Section, Shell, page, words};

#[derive(Template)]
#[template(path = "reference/materials.html")]
struct MaterialsPage {
    shell: Shell,
    title: &'static str,
    lead: &'static str,
    materials: Vec<Material>,
    /// What holds for all of them.
    general: Vec<Figure>,
    cautions: Vec<&'static Caution>,
}

struct Material {
    anchor: String,
    name: String,
    other_names: String,
    figures: Vec<Figure>,
    cautions: Vec<&'static Caution>,
}

/// A figure in words with where it comes from.
pub(super) struct Figure {
    pub what: String,
    pub value: String,
    pub source: String,
}

impl Figure {
    pub fn of(property: &Property) -> Figure {
        Figure {
            what: capital(&property.name),
            value: value(property),
            source: property.source.to_string(),
        }
    }
}

/// `Open assembly`.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters
        .next()
        .map(|letter| letter.to_uppercase().to_string());
    format!("{}{}", first.unwrap_or_default(), letters.as_str())
}

/// `5 to 10 min`, with what else is said.
pub(super) fn value(property: &Property) -> String {
    let unit = match property.unit.as_str() {
        "" => String::new(),
        "m2/L" => " m²/L".to_owned(),
        "g/m2" => " g/m²".to_owned(),
        "C" => " °C".to_owned(),
        unit => format!(" {unit}"),
    };
    let figures = property.range.map(|range| {
        if range.low == range.high {
            format!("{}{unit}", range.low)
        } else {
            format!("{} to {}{unit}", range.low, range.high)
        }
    });
    match (figures, property.text.as_str()) {
        (Some(figures), "") => figures,
        (Some(figures), text) => format!("{figures}: {text}"),
        (None, text) => text.to_owned(),
    }
}

fn figures(properties: &Properties) -> Vec<Figure> {
    properties
        .iter()
        .filter(|property| property.name != "other names")
        .map(Figure::of)
        .collect()
}

fn about(subjects: Vec<&str>) -> Vec<&'static Caution> {
    subjects
        .into_iter()
        .flat_map(|subject| cautions_about(subject).collect::<Vec<_>>())
        .collect()
}

pub(super) async fn list_glues(shell: Shell) -> Result<Response, Error> {
    let materials = glues().iter().map(|glue| Material {
        anchor: anchor(&glue.name),
        name: capital(&glue.name),
        other_names: words::listed(&glue.other_names),
        figures: figures(&glue.properties),
        cautions: about(of_glue(&glue.figures)),
    });
    page(&MaterialsPage {
        title: "Glues",
        lead: "Families of glue, not makes: the maker's sheet of the bottle in your hand goes first. What is washed asks for water class D3 or better, so a food board with a lower one is refused unless you say that you want it.",
        materials: materials.collect(),
        general: gluing_figures().iter().map(Figure::of).collect(),
        cautions: about(vec!["gluing", "clamping"]),
        shell: shell.at(Section::Reference),
    })
}

pub(super) async fn list_finishes(shell: Shell) -> Result<Response, Error> {
    let materials = finishes().iter().map(|finish| Material {
        anchor: anchor(&finish.name),
        name: capital(&finish.name),
        other_names: words::listed(&finish.other_names),
        figures: figures(&finish.properties),
        cautions: about(of_finish(&finish.figures)),
    });
    page(&MaterialsPage {
        title: "Finishes",
        lead: "Families of finish, not makes: the maker's sheet goes first. Rags with a drying oil heat up by themselves and can set a workshop on fire.",
        materials: materials.collect(),
        general: Vec::new(),
        cautions: about(vec!["finishing"]),
        shell: shell.at(Section::Reference),
    })
}
