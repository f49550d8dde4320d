//! Projects as JSON reads and prints them.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde_json::{Value, json};

use crate::app::choice;
use crate::app::settings::LONGEST_STEP;
use crate::calc::work::{Design, Kind, StepKind};
use crate::reference;
use crate::store::practice::{FLATTENING_TOOLS, PracticeChanges};
use crate::store::project::Project;
use crate::units::Length;
use crate::wire::design::design;
use crate::wire::length::to_json;
use crate::wire::{self, FieldError, Node, Object, Problem};

/// What a body may say of a project; what is left out is `None`.
#[derive(Default)]
pub struct ProjectFields {
    pub name: Option<String>,
    pub design: Option<Design>,
    pub practice: Option<PracticeChanges>,
    /// The glue or the finish is meant although it does not suit food ware.
    pub accept_glue: bool,
    pub accept_finish: bool,
    /// `Some(None)` takes the due day away.
    pub due_day: Option<Option<Date>>,
    pub note: Option<String>,
}

/// Reads the fields of a new project (`is_new`: name and design must be there) or of a change.
pub fn read_project(body: &[u8], is_new: bool) -> Result<ProjectFields, Problem> {
    wire::read(body, |body| {
        let fields = body.object(&["name", "design", "practice", "due_day", "note"])?;
        if is_new {
            for needed in ["name", "design"] {
                fields.required(needed, |_| Some(()));
            }
        }
        let practice = fields.optional("practice", |field| practice(&field));
        let (practice, accepted): (_, Option<[bool; 2]>) = practice.unzip();
        let [accept_glue, accept_finish] = accepted.unwrap_or_default();
        Some(ProjectFields {
            name: fields.optional("name", |field| field.text().map(str::to_owned)),
            design: fields.optional("design", |field| design(&field)),
            practice,
            accept_glue,
            accept_finish,
            due_day: fields.optional("due_day", |field| {
                if field.is_null() {
                    Some(None)
                } else {
                    day(&field).map(Some)
                }
            }),
            note: fields.optional("note", |field| note(&field)),
        })
    })
}

impl ProjectFields {
    /// Refuses a glue or a finish that is newly chosen and does not suit food ware, unless the body says that it is
    /// meant.
    pub fn judge_choices(&self, kind: Kind, before: &PracticeChanges) -> Result<(), Problem> {
        let Some(changes) = &self.practice else {
            return Ok(());
        };
        let glue = choice::unsuited_glue(changes, before).filter(|_| !self.accept_glue);
        let finish = choice::unsuited_finish(kind, changes, before).filter(|_| !self.accept_finish);
        let errors: Vec<FieldError> = [("glue", glue), ("finish", finish)]
            .into_iter()
            .filter_map(|(field, why)| {
                Some(FieldError {
                    pointer: format!("/practice/{field}"),
                    detail: format!("{}, or say \"accept_{field}\": true", why?),
                })
            })
            .collect();
        if errors.is_empty() {
            Ok(())
        } else {
            Err(Problem::wrong_content(errors))
        }
    }
}

/// A text that may be empty.
fn note(node: &Node<'_>) -> Option<String> {
    if node.is_empty_text() {
        Some(String::new())
    } else {
        node.text().map(str::to_owned)
    }
}

/// A day such as `2027-03-05`.
pub fn day(node: &Node<'_>) -> Option<Date> {
    let text = node.text()?;
    match text.parse() {
        Ok(day) => Some(day),
        Err(_) => node.refuse(format!("is {text:?}; must be a day such as \"2027-03-05\"")),
    }
}

const LENGTHS: [&str; 7] = [
    "rough_length",
    "flattening",
    "squaring",
    "glue_face",
    "end_grain",
    "outline",
    "panel_end",
];

fn length_field<'a>(changes: &'a mut PracticeChanges, name: &str) -> &'a mut Option<Length> {
    match name {
        "rough_length" => &mut changes.rough_length,
        "flattening" => &mut changes.flattening,
        "squaring" => &mut changes.squaring,
        "glue_face" => &mut changes.glue_face,
        "end_grain" => &mut changes.end_grain,
        "outline" => &mut changes.outline,
        _ => &mut changes.panel_end,
    }
}

fn named<T>(
    fields: &Object<'_>,
    name: &str,
    find: impl FnOnce(&str) -> Option<&'static T>,
) -> Option<&'static T> {
    fields.optional(name, |field| {
        let text = field.text()?;
        find(text)
            .or_else(|| field.refuse(format!("is {text:?}; must be a {name} of the reference")))
    })
}

/// Minutes of steps by the key of their kind, as `needs` of the project names them.
fn step_minutes(node: &Node<'_>) -> Option<BTreeMap<String, u32>> {
    let read: Vec<Option<(String, u32)>> = node
        .table()?
        .into_iter()
        .map(|(key, field)| {
            if StepKind::worked().all(|kind| kind.row().key != key) {
                return field.refuse("is for no kind of step that somebody works at");
            }
            let minutes = field.whole(0..=i64::from(LONGEST_STEP))?;
            Some((key.to_owned(), u32::try_from(minutes).ok()?))
        })
        .collect();
    read.into_iter().collect()
}

/// What differs, and whether glue and finish are meant all the same.
fn practice(node: &Node<'_>) -> Option<(PracticeChanges, [bool; 2])> {
    let mut known = LENGTHS.to_vec();
    known.extend([
        "glue",
        "accept_glue",
        "finish",
        "accept_finish",
        "coats",
        "flattening_tool",
        "step_minutes",
    ]);
    let fields = node.object(&known)?;
    let mut changes = PracticeChanges::default();
    for name in LENGTHS {
        *length_field(&mut changes, name) = fields.optional(name, |field| field.length());
    }
    choice::choose_glue(&mut changes, named(&fields, "glue", reference::glue));
    choice::choose_finish(&mut changes, named(&fields, "finish", reference::finish));
    if let Some(coats) = fields.optional("coats", |field| field.whole(0..=20)) {
        changes.coats = u32::try_from(coats).ok();
    }
    if let Some(minutes) = fields.optional("step_minutes", |field| step_minutes(&field)) {
        changes.step_minutes = minutes;
    }
    let tools = FLATTENING_TOOLS.map(|(word, _)| (word, word));
    changes.flattening_tool = fields
        .optional("flattening_tool", |field| field.one_of(&tools))
        .map(str::to_owned);
    let accepted = ["accept_glue", "accept_finish"]
        .map(|name| fields.optional(name, |field| field.boolean()) == Some(true));
    Some((changes, accepted))
}

fn print_practice(changes: &PracticeChanges) -> Value {
    let mut changes = changes.clone();
    let mut printed = serde_json::Map::new();
    for name in LENGTHS {
        if let Some(length) = *length_field(&mut changes, name) {
            printed.insert(name.to_owned(), to_json(length));
        }
    }
    let words = [
        ("glue", changes.glue),
        ("finish", changes.finish),
        ("flattening_tool", changes.flattening_tool),
    ];
    for (name, word) in words {
        if let Some(word) = word {
            printed.insert(name.to_owned(), json!(word));
        }
    }
    if let Some(coats) = changes.coats {
        printed.insert("coats".to_owned(), json!(coats));
    }
    if !changes.step_minutes.is_empty() {
        printed.insert("step_minutes".to_owned(), json!(changes.step_minutes));
    }
    Value::Object(printed)
}

/// A project without its match.
pub fn print_project(project: &Project) -> Value {
    let design: Value = serde_json::from_str(&project.about.design).unwrap_or_default();
    json!({
        "id": project.id,
        "name": project.about.name,
        "kind": project.about.kind,
        "member": {"id": project.member, "name": project.member_name},
        "stage": project.stage.word(),
        "due_day": project.about.due_day.map(|day| day.to_string()),
        "note": project.about.note,
        "design": design,
        "practice": print_practice(&project.about.practice),
        "is_matched": project.current_match().is_some(),
        "created_at": project.created_at.to_string(),
        "ended_at": project.ended_at.map(|at| at.to_string()),
        "version": project.version,
    })
}
