//! Pieces of answers and of requests that several calculators share.

use serde::Serialize;
use serde_json::{Value, json};
use utoipa::ToSchema;

use super::super::length::to_json;
use super::super::reading::{Node, Object};
use crate::calc::wood::GrowthRings;
use crate::reference::{self, Caution, Species};
use crate::units::{Between, Length, Moisture, Source};

/// A calculated number to six decimals; what is finer is noise of the machine.
pub(in crate::wire) fn rounded(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

pub(in crate::wire) fn number(value: f64) -> Value {
    json!(rounded(value))
}

pub(in crate::wire) fn range<T>(range: Between<T>, value: impl Fn(T) -> Value) -> Value {
    json!({"low": value(range.low), "high": value(range.high)})
}

pub(in crate::wire) fn length_range(lengths: Between<Length>) -> Value {
    range(lengths, to_json)
}

/// One entry of `sources`.
#[derive(Serialize, ToSchema)]
pub struct CitedSource {
    /// The figure that it is of.
    of: String,
    publication: String,
    /// How well it is known.
    #[schema(example = "read", pattern = "^(read|memory|practice|workshop)$")]
    provenance: &'static str,
    /// The whole as a page shows it.
    text: String,
}

pub(in crate::wire) fn source(of: &str, source: &Source) -> CitedSource {
    CitedSource {
        of: of.to_owned(),
        publication: source.publication.to_string(),
        provenance: source.provenance.word(),
        text: source.to_string(),
    }
}

/// A caution with its source.
#[derive(Serialize, ToSchema)]
pub struct CitedCaution {
    text: String,
    source: CitedSource,
}

pub(super) fn caution(caution: &Caution) -> CitedCaution {
    CitedCaution {
        text: caution.text.clone(),
        source: source("caution", &caution.source),
    }
}

/// The cautions of these keys.
pub(in crate::wire) fn cautions(keys: &[&str]) -> Vec<CitedCaution> {
    keys.iter()
        .flat_map(|key| reference::cautions_about(key))
        .map(caution)
        .collect()
}

/// The name of a known species; an unknown one is refused with the names most like it.
pub(super) fn species(node: &Node<'_>) -> Option<&'static Species> {
    let name = node.text()?;
    reference::species(name).or_else(|| {
        let nearest = reference::nearest_species(name);
        let shown: String = name.chars().take(40).collect();
        let known = if nearest.is_empty() {
            "a known species, such as hard maple".to_owned()
        } else {
            format!("a known species; nearest are {}", nearest.join(", "))
        };
        node.refuse(format!("is \"{shown}\"; must be {known}"))
    })
}

pub(super) fn growth_rings(node: &Node<'_>) -> Option<GrowthRings> {
    node.one_of(&[
        ("flat-sawn", GrowthRings::FlatSawn),
        ("quarter-sawn", GrowthRings::QuarterSawn),
        ("unknown", GrowthRings::Unknown),
    ])
}

/// A moisture content in per cent of ovendry mass.
pub(super) fn moisture(node: &Node<'_>) -> Option<Moisture> {
    let percent = node.number(0.0..=200.0)?;
    match Moisture::from_percent(percent) {
        Ok(moisture) => Some(moisture),
        Err(error) => node.refuse(error.to_string()),
    }
}

/// The largest number of equal pieces that a request may name.
pub(super) const MOST_PIECES: i64 = 10_000;

/// The field `count`, one where it is left out.
pub(super) fn count(object: &Object<'_>) -> Option<i64> {
    match object.field("count") {
        None => Some(1),
        Some(field) => field.whole(1..=MOST_PIECES),
    }
}
