//! Allowances, glue, finish and flattening, where a project differs from its workshop. An empty field is the workshop's.

use super::lengths::{length_if_any, whole};
use crate::app::choice;
use crate::app::settings::LONGEST_STEP;
use crate::calc::work::{Kind, Practice, StepKind};
use crate::reference;
use crate::store::practice::{FLATTENING_TOOLS, PracticeChanges};
use crate::units::{Length, LengthFormat};
use crate::web::Typed;

/// The lengths of the practice: field, label, and what it is for.
pub const PRACTICE_LENGTHS: [(&str, &str, &str); 7] = [
    (
        "rough_length",
        "Extra length",
        "On a strip's length, cut off when the ends are squared.",
    ),
    (
        "flattening",
        "For flattening",
        "On each face of a panel, sanded or planed off.",
    ),
    (
        "squaring",
        "For squaring",
        "Off each long side when the panel is squared.",
    ),
    (
        "glue_face",
        "On glue faces",
        "Planed off each glue face of a strip before gluing.",
    ),
    (
        "end_grain",
        "On end faces",
        "On each cut face of an end-grain board, for flattening.",
    ),
    (
        "outline",
        "Around an outline",
        "Wood around a shape that is sawn out of a blank.",
    ),
    (
        "panel_end",
        "Panel ends",
        "Off each end of a first panel before slices are cut.",
    ),
];

fn field<'a>(changes: &'a mut PracticeChanges, name: &str) -> &'a mut Option<Length> {
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

/// What the workshop has for one of [`PRACTICE_LENGTHS`].
pub fn workshop_value(practice: &Practice, name: &str) -> Length {
    let allowances = &practice.allowances;
    match name {
        "rough_length" => allowances.rough_length,
        "flattening" => allowances.flattening,
        "squaring" => allowances.squaring,
        "glue_face" => allowances.glue_face,
        "end_grain" => allowances.end_grain,
        "outline" => allowances.outline,
        _ => allowances.panel_end,
    }
}

/// The field of a step's minutes.
pub fn minutes_field(kind: StepKind) -> String {
    format!("minutes-{}", kind.row().key)
}

pub fn fill_practice(
    values: &mut Vec<(String, String)>,
    changes: &PracticeChanges,
    lengths: LengthFormat,
) {
    let mut changes = changes.clone();
    for (name, _, _) in PRACTICE_LENGTHS {
        if let Some(length) = *field(&mut changes, name) {
            values.push((name.to_owned(), lengths.show_exact(length)));
        }
    }
    let mut put = |name: &str, value: Option<String>| {
        values.push((name.to_owned(), value.unwrap_or_default()));
    };
    put("glue", changes.glue);
    put("finish", changes.finish);
    put("coats", changes.coats.map(|coats| coats.to_string()));
    put("flattening_tool", changes.flattening_tool);
    for kind in StepKind::worked() {
        let minutes = changes.step_minutes.get(kind.row().key);
        put(&minutes_field(kind), minutes.map(u32::to_string));
    }
}

/// `before` keeps what this form does not show.
pub fn read_practice(
    typed: &mut Typed,
    lengths: LengthFormat,
    before: &PracticeChanges,
) -> Option<PracticeChanges> {
    let mut changes = before.clone();
    let mut is_fine = true;
    for (name, _, _) in PRACTICE_LENGTHS {
        match length_if_any(typed, name, lengths) {
            Some(length) => *field(&mut changes, name) = length,
            None => is_fine = false,
        }
    }
    let glue = typed.take_if_any("glue", |text| {
        reference::glue(text)
            .ok_or_else(|| format!("is \"{text}\"; must be a glue of the reference"))
    });
    let finish = typed.take_if_any("finish", |text| {
        reference::finish(text)
            .ok_or_else(|| format!("is \"{text}\"; must be a finish of the reference"))
    });
    let coats = if typed.text("coats").is_empty() {
        Some(None)
    } else {
        whole(typed, "coats", 0, 20).map(Some)
    };
    let tool = typed.take_if_any("flattening_tool", |text| {
        FLATTENING_TOOLS
            .iter()
            .find(|(word, _)| *word == text)
            .map(|(word, _)| (*word).to_owned())
            .ok_or_else(|| format!("is \"{text}\"; must be one of the tools"))
    });
    for kind in StepKind::worked() {
        let (name, key) = (minutes_field(kind), kind.row().key);
        // Only the steps of the design are in the form; the others keep what they have.
        if typed.pairs().all(|(known, _)| known != name) {
            continue;
        }
        if typed.text(&name).is_empty() {
            changes.step_minutes.remove(key);
        } else {
            match whole(typed, &name, 0, LONGEST_STEP) {
                Some(minutes) => _ = changes.step_minutes.insert(key.to_owned(), minutes),
                None => is_fine = false,
            }
        }
    }
    choice::choose_glue(&mut changes, glue?);
    choice::choose_finish(&mut changes, finish?);
    if let Some(coats) = coats? {
        changes.coats = Some(coats);
    }
    changes.flattening_tool = tool?;
    is_fine.then_some(changes)
}

/// Refuses a glue or a finish that does not suit food ware, unless the box beside it says that it is meant. What was
/// chosen before is not asked about again.
pub fn judge_choices(
    typed: &mut Typed,
    kind: Kind,
    changes: &PracticeChanges,
    before: &PracticeChanges,
) {
    if let Some(why) = choice::unsuited_glue(changes, before)
        && !typed.is_ticked("glue_anyway")
    {
        typed.refuse("glue", format!("{why}, or tick that you mean it"));
    }
    if let Some(why) = choice::unsuited_finish(kind, changes, before)
        && !typed.is_ticked("finish_anyway")
    {
        typed.refuse("finish", format!("{why}, or tick that you mean it"));
    }
}
