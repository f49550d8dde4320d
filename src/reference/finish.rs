//! Finishes: oils, waxes and varnishes.

use std::sync::LazyLock;

use super::property::{Properties, Property, by_name, read_property};
use super::table::read_table;
use crate::units::{FinishFigures, FinishFoodUse};

/// A family of finishes with its figures.
#[derive(Clone, Debug, PartialEq)]
pub struct Finish {
    /// The trade name, unique over the table.
    pub name: String,
    pub other_names: Vec<String>,
    pub figures: FinishFigures,
    /// Everything that is worth knowing, row by row with its source.
    pub properties: Properties,
}

static FINISHES: LazyLock<Vec<Finish>> = LazyLock::new(|| {
    let rows = read_table("finishes", include_str!("finishes.csv"), |row| {
        (row.required("finish").to_owned(), read_property(row))
    });
    by_name(rows)
        .into_iter()
        .map(|(name, properties)| from_properties(name, properties))
        .collect()
});

/// All families of finishes.
pub fn finishes() -> &'static [Finish] {
    &FINISHES
}

/// The finish of that name or other name, whatever its capitals.
pub fn finish(name: &str) -> Option<&'static Finish> {
    let name = name.trim();
    FINISHES.iter().find(|finish| {
        std::iter::once(&finish.name)
            .chain(&finish.other_names)
            .any(|known| known.eq_ignore_ascii_case(name))
    })
}

fn from_properties(name: String, properties: Properties) -> Finish {
    let says = |property: &str| properties.find(property).is_some();
    let food_use = if says("not for food") {
        FinishFoodUse::No
    } else if says("ask maker") {
        FinishFoodUse::AskMaker
    } else if says("food contact") {
        FinishFoodUse::Listed
    } else {
        panic!("table finishes: {name} says nothing about food")
    };
    let figures = FinishFigures {
        coats: properties.numbers("coats").map(|count| count as i64),
        soak: properties.required("soak").minutes(),
        recoat: properties.required("recoat").minutes(),
        water_contact: properties.required("water contact").minutes(),
        full_cure: properties.find("full cure").map(Property::minutes),
        coverage: properties.numbers("coverage"),
        food_use,
        rags_self_heat: properties.required("rag hazard").text == "yes",
        film: says("film"),
        flammable: says("flammable"),
        tree_nut: says("tree nut"),
    };
    Finish {
        other_names: properties.other_names(),
        name,
        figures,
        properties,
    }
}
