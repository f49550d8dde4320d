//! Between a form and the body that a script would send: the example into the form, the form into a body, and what was
//! refused back beside its field.

use serde_json::{Map, Number, Value};

use super::form::{Field, Input, Part, n_rows, row_of};
use crate::units::{Length, LengthFormat, LengthUnit};
use crate::web::Typed;
use crate::wire::Problem;
use crate::wire::length::{from_json, to_json};

/// More rows than any form has use for.
const MOST_ROWS: usize = 100;

/// The form with a body's values in it.
pub(super) fn filled(body: &Value, parts: &[Part], lengths: LengthFormat) -> Typed {
    let mut values: Vec<(String, String)> = Vec::new();
    let mut put = |name: String, field: &Field, value: Option<&Value>| {
        let text = value.map_or_else(String::new, |value| text_of(value, field.input, lengths));
        if !(text.is_empty() && field.input == Input::Tick) {
            values.push((name, text));
        }
    };
    for part in parts {
        match part {
            Part::One(field) => put(
                field.name.to_owned(),
                field,
                body.pointer(&pointer(field.name)),
            ),
            Part::Rows { name, fields, .. } => {
                let list = body.pointer(&pointer(name)).and_then(Value::as_array);
                for (row, element) in list.into_iter().flatten().enumerate() {
                    for field in fields {
                        put(
                            format!("{name}-{row}-{}", field.name),
                            field,
                            element.get(field.name),
                        );
                    }
                }
            }
        }
    }
    Typed::filled(
        values
            .iter()
            .map(|(name, value)| (name.as_str(), value.clone())),
    )
}

fn pointer(name: &str) -> String {
    format!("/{}", name.replace('-', "/"))
}

fn text_of(value: &Value, input: Input, lengths: LengthFormat) -> String {
    match value {
        Value::String(text) if input == Input::Length => Length::parse(text, None)
            .map_or_else(|_| text.clone(), |length| lengths.show_exact(length)),
        Value::Number(_) if input == Input::Length => {
            from_json(value).map_or_else(|_| value.to_string(), |length| lengths.show_exact(length))
        }
        Value::String(text) => text.clone(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) | Value::Null => String::new(),
        Value::Array(values) => {
            let texts: Vec<String> = values
                .iter()
                .map(|value| text_of(value, input, lengths))
                .collect();
            texts.join(", ")
        }
        other => other.to_string(),
    }
}

/// The form as it was sent, its rows numbered anew without those that were left blank.
pub(super) fn tidied(pairs: &[(String, String)], parts: &[Part]) -> Typed {
    let mut values: Vec<(String, String)> = Vec::new();
    for part in parts {
        match part {
            Part::One(field) => {
                let sent = pairs.iter().filter(|(name, _)| name == field.name);
                values.extend(sent.cloned());
            }
            Part::Rows { name, .. } => {
                let mut rows: Vec<(usize, &str, &str)> = pairs
                    .iter()
                    .filter_map(|(key, value)| {
                        let (row, field) = row_of(key, name)?;
                        Some((row, field, value.as_str()))
                    })
                    .collect();
                rows.sort_by_key(|(row, ..)| *row);
                let mut count = 0;
                for row in rows.chunk_by(|(one, ..), (other, ..)| one == other) {
                    // What a choice offers by itself makes no row.
                    let is_blank = row.iter().all(|(_, field, value)| {
                        value.trim().is_empty() || *field == "growth_rings"
                    });
                    if is_blank || count == MOST_ROWS {
                        continue;
                    }
                    for (_, field, value) in row {
                        values.push((format!("{name}-{count}-{field}"), (*value).to_owned()));
                    }
                    count += 1;
                }
            }
        }
    }
    Typed::filled(
        values
            .iter()
            .map(|(name, value)| (name.as_str(), value.replace('\0', ""))),
    )
}

/// The body that a script would send. What cannot be read goes along as it is, for the calculator to refuse.
pub(super) fn to_body(typed: &Typed, parts: &[Part], unit: LengthUnit) -> Value {
    let mut body = Map::new();
    for part in parts {
        match part {
            Part::One(field) => {
                if let Some(value) = value_of(typed, field.name, field.input, unit) {
                    insert(&mut body, field.name, value);
                }
            }
            Part::Rows { name, fields, .. } => {
                let rows = (0..n_rows(typed, name)).map(|row| {
                    let mut element = Map::new();
                    for field in fields {
                        let place = format!("{name}-{row}-{}", field.name);
                        if let Some(value) = value_of(typed, &place, field.input, unit) {
                            element.insert(field.name.to_owned(), value);
                        }
                    }
                    Value::Object(element)
                });
                insert(&mut body, name, rows.collect());
            }
        }
    }
    // Prices are an object of their own even where none was typed.
    if parts
        .iter()
        .any(|part| matches!(part, Part::One(field) if field.name.starts_with("prices-")))
    {
        body.entry("prices")
            .or_insert_with(|| Value::Object(Map::new()));
    }
    Value::Object(body)
}

/// Puts a value at `one-species`, one object deep at most.
fn insert(body: &mut Map<String, Value>, name: &str, value: Value) {
    match name.split_once('-') {
        None => {
            body.insert(name.to_owned(), value);
        }
        Some((outer, inner)) => {
            let object = body
                .entry(outer)
                .or_insert_with(|| Value::Object(Map::new()));
            if let Value::Object(object) = object {
                object.insert(inner.to_owned(), value);
            }
        }
    }
}

fn value_of(typed: &Typed, name: &str, input: Input, unit: LengthUnit) -> Option<Value> {
    let text = typed.text(name);
    match input {
        Input::Tick => return Some(Value::Bool(typed.is_ticked(name))),
        Input::Always(value) => return Some(Value::from(value)),
        _ if text.is_empty() => return None,
        _ => {}
    }
    let words = || {
        text.split(',')
            .map(str::trim)
            .filter(|word| !word.is_empty())
    };
    Some(match input {
        Input::Length => match Length::parse(text, Some(unit)) {
            Ok(length) => to_json(length),
            Err(_) => Value::from(text),
        },
        Input::Number(units) => number(text, units),
        Input::NumberChoice(_) => number(text, &[]),
        Input::Words => words().map(Value::from).collect(),
        Input::Numbers => words().map(|word| number(word, &[])).collect(),
        _ => Value::from(text),
    })
}

/// A number with or without one of `units` behind it, or the text as it is.
fn number(text: &str, units: &[(&str, f64, f64)]) -> Value {
    let lower = text.to_lowercase();
    let read = |text: &str| {
        text.trim()
            .parse::<f64>()
            .ok()
            .filter(|number| number.is_finite())
    };
    let in_unit = || {
        units.iter().find_map(|(unit, scale, first)| {
            let number = read(lower.strip_suffix(unit)?)?;
            // Six decimals are finer than anybody measures.
            Some((((number + first) * scale) * 1e6).round() / 1e6)
        })
    };
    if let Ok(whole) = text.trim().parse::<i64>() {
        return Value::from(whole);
    }
    read(&lower)
        .or_else(in_unit)
        .and_then(Number::from_f64)
        .map_or_else(|| Value::from(text), Value::Number)
}

/// Puts what the calculator refused beside the fields. What belongs to no field stands beside the first.
pub(super) fn refuse(typed: &mut Typed, parts: &[Part], problem: &Problem) {
    for error in &problem.errors {
        let mut place = error.pointer.trim_start_matches('/').replace('/', "-");
        loop {
            if is_place(&place, parts) {
                break;
            }
            match place.rsplit_once('-') {
                Some((outer, _)) => place.truncate(outer.len()),
                None => {
                    place = first_place(&place, parts);
                    break;
                }
            }
        }
        let detail = error
            .detail
            .replace(
                "say \"accept_glue\": true",
                "tick \"Use this glue all the same\"",
            )
            .replace(
                "say \"accept_finish\": true",
                "tick \"Use this finish all the same\"",
            )
            .replace("is missing; must be given", "is empty; must be filled in");
        typed.refuse(place, detail);
    }
    if problem.errors.is_empty() {
        typed.refuse(first_place("", parts), problem.detail.clone());
    }
}

fn is_place(place: &str, parts: &[Part]) -> bool {
    parts.iter().any(|part| match part {
        Part::One(field) => field.name == place,
        Part::Rows { name, fields, .. } => {
            *name == place
                || row_of(place, name)
                    .is_some_and(|(_, inner)| fields.iter().any(|field| field.name == inner))
        }
    })
}

/// The first field inside the object `outer`, or of all.
fn first_place(outer: &str, parts: &[Part]) -> String {
    let names = || {
        parts.iter().filter_map(|part| match part {
            Part::One(field) if matches!(field.input, Input::Always(_)) => None,
            Part::One(field) => Some(field.name),
            Part::Rows { name, .. } => Some(*name),
        })
    };
    names()
        .find(|name| !outer.is_empty() && name.starts_with(outer))
        .or_else(|| names().next())
        .unwrap_or_default()
        .to_owned()
}
