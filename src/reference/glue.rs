//! Glues and figures of gluing.

use std::sync::LazyLock;

use super::property::{Properties, Property, by_name, read_property};
use super::table::read_table;
use crate::units::{GlueFigures, GlueHazard, Temperature, WaterClass};

/// A family of glues with its figures.
#[derive(Clone, Debug, PartialEq)]
pub struct Glue {
    /// The trade name, unique over the table.
    pub name: String,
    pub other_names: Vec<String>,
    pub figures: GlueFigures,
    /// Everything that is worth knowing, row by row with its source.
    pub properties: Properties,
}

static GLUES: LazyLock<Vec<Glue>> = LazyLock::new(|| {
    let rows = read_table("glues", include_str!("glues.csv"), |row| {
        (row.required("glue").to_owned(), read_property(row))
    });
    by_name(rows)
        .into_iter()
        .map(|(name, properties)| from_properties(name, properties))
        .collect()
});

static FIGURES: LazyLock<Vec<Property>> =
    LazyLock::new(|| read_table("gluing", include_str!("gluing.csv"), read_property));

/// All families of glues.
pub fn glues() -> &'static [Glue] {
    &GLUES
}

/// The glue of that name or other name, whatever its capitals.
pub fn glue(name: &str) -> Option<&'static Glue> {
    let name = name.trim();
    GLUES.iter().find(|glue| {
        std::iter::once(&glue.name)
            .chain(&glue.other_names)
            .any(|known| known.eq_ignore_ascii_case(name))
    })
}

/// Figures that hold for gluing in general.
pub fn gluing_figures() -> &'static [Property] {
    &FIGURES
}

/// The general figure about `property`.
pub fn gluing_figure(property: &str) -> Option<&'static Property> {
    FIGURES.iter().find(|figure| figure.name == property)
}

fn from_properties(name: String, properties: Properties) -> Glue {
    let span = |property: &str| properties.find(property).map(Property::minutes);
    let water_class = WaterClass::parse(&properties.required("water class").text)
        .unwrap_or_else(|| panic!("table glues: the water class of {name} cannot be read"));
    let celsius = |celsius| {
        Temperature::from_celsius(celsius)
            .unwrap_or_else(|error| panic!("table glues: the temperature of {name} {error}"))
    };
    let figures = GlueFigures {
        water_class,
        open_assembly: properties.required("open assembly").minutes(),
        closed_assembly: span("closed assembly"),
        clamp_time: properties.required("clamp time").minutes(),
        full_cure: span("full cure"),
        least_temperature: properties
            .find("least temperature")
            .and_then(|property| property.range)
            .map(|range| range.map(celsius)),
        contact_pressure_only: properties.find("contact pressure").is_some(),
        hazard: properties.find("hazard").map(|property| {
            GlueHazard::from_word(&property.text)
                .unwrap_or_else(|| panic!("table glues: the hazard of {name} cannot be read"))
        }),
    };
    Glue {
        other_names: properties.other_names(),
        name,
        figures,
        properties,
    }
}
