//! Rows of the form: property, figures or words, source.

use super::table::Row;
use crate::units::{Between, Minutes, Source};

/// One figure or sentence about a glue, a finish or gluing, with its source.
#[derive(Clone, Debug, PartialEq)]
pub struct Property {
    pub name: String,
    /// In `unit`; `None` where only words are known.
    pub range: Option<Between<f64>>,
    pub unit: String,
    pub text: String,
    pub source: Source,
}

pub(super) fn read_property(row: &Row<'_>) -> Property {
    let low = row.optional_number("low");
    let high = row.optional_number("high").or(low);
    Property {
        name: row.required("property").to_owned(),
        range: low.zip(high).map(|(low, high)| {
            assert!(low <= high, "a range ends before it starts");
            Between { low, high }
        }),
        unit: row.text("unit").to_owned(),
        text: row.text("text").to_owned(),
        source: row.source("source", "provenance"),
    }
}

/// The properties of each thing, whose rows must stand together.
pub(super) fn by_name(rows: Vec<(String, Property)>) -> Vec<(String, Properties)> {
    let mut things: Vec<(String, Properties)> = Vec::new();
    for (name, property) in rows {
        match things.last_mut() {
            Some((last, properties)) if *last == name => properties.0.push(property),
            _ => things.push((name, Properties(vec![property]))),
        }
    }
    things
}

/// What is known of one glue or finish.
#[derive(Clone, Debug, PartialEq)]
pub struct Properties(pub(super) Vec<Property>);

impl Properties {
    pub fn iter(&self) -> impl Iterator<Item = &Property> {
        self.0.iter()
    }

    /// The row about `name`.
    pub fn find(&self, name: &str) -> Option<&Property> {
        self.0.iter().find(|property| property.name == name)
    }

    pub(super) fn required(&self, name: &str) -> &Property {
        self.find(name)
            .unwrap_or_else(|| panic!("a table lacks a row: {name}"))
    }

    /// The figures about `name`.
    pub(super) fn numbers(&self, name: &str) -> Between<f64> {
        self.required(name)
            .range
            .unwrap_or_else(|| panic!("a row of a table has no figures: {name}"))
    }

    /// The names in the row `other names`.
    pub(super) fn other_names(&self) -> Vec<String> {
        self.find("other names")
            .into_iter()
            .flat_map(|property| property.text.split("; "))
            .filter(|name| !name.is_empty())
            .map(str::to_owned)
            .collect()
    }
}

impl Property {
    /// The range in minutes; the unit must be one of time.
    pub(super) fn minutes(&self) -> Between<Minutes> {
        let scale = match self.unit.as_str() {
            "min" => 1.0,
            "h" => 60.0,
            "days" => 1440.0,
            unit => panic!("the unit of {} is {unit}, not one of time", self.name),
        };
        let range = self
            .range
            .unwrap_or_else(|| panic!("a row of a table has no figures: {}", self.name));
        range.map(|count| Minutes::from_minutes_up(count * scale))
    }
}
