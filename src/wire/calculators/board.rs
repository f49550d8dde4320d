//! Movement of whole boards and of joints across the grain.

use serde_json::{Value, json};

use super::super::length::to_json;
use super::super::problem::Problem;
use super::super::reading::{Node, read};
use super::air::moisture_or_air;
use super::answer::{growth_rings, length_range, number, source, species};
use crate::calc::wood::{
    CrossGrain, EQUILIBRIUM_SOURCE, GrowthRings, Run, Side, Strip, mismatch, movement_source,
};
use crate::reference::Species;
use crate::units::Source;

pub(super) fn board_movement(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&[
            "thickness",
            "strips",
            "from_mc_percent",
            "to_mc_percent",
            "from_air",
            "to_air",
        ])?;
        let thickness = body.required("thickness", |field| field.positive_length());
        let strips = body.required("strips", |strips| {
            let read = strips.list(|strip| {
                let strip = strip.object(&["species", "width", "growth_rings"])?;
                let wood = strip.required("species", |field| species(&field));
                let width = strip.required("width", |field| field.positive_length());
                let rings = match strip.field("growth_rings") {
                    Some(field) => growth_rings(&field),
                    None => Some(GrowthRings::Unknown),
                };
                Some(Strip {
                    width: width?,
                    wood: wood?.figures,
                    rings: rings?,
                })
            })?;
            if read.is_empty() {
                return strips.refuse("is empty; must hold at least one strip");
            }
            Some(read)
        });
        let from = moisture_or_air(&body, "from");
        let to = moisture_or_air(&body, "to");
        let (thickness, strips) = (thickness?, strips?);
        let (from, to) = (from?, to?);
        let board = match crate::calc::wood::board_movement(&strips, thickness, from, to) {
            Ok(board) => board,
            Err((place, error)) => {
                return body.field("strips")?.refuse(format!(
                    "holds strip {}, whose species {error}; must be another species",
                    place + 1
                ));
            }
        };
        Some(json!({
            "from_mc_percent": number(from.percent()),
            "to_mc_percent": number(to.percent()),
            "width_change": length_range(board.width),
            "strips": board.strips.iter().map(|range| length_range(*range)).collect::<Vec<_>>(),
            "ridges": board.ridges.iter().map(|ridge| to_json(*ridge)).collect::<Vec<_>>(),
            "sources": [
                source("width_change", &movement_source(from, to)),
                source("moisture from air", &EQUILIBRIUM_SOURCE),
                source("ridges", &Source::PRACTICE),
            ],
        }))
    })
}

pub(super) fn cross_grain(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&[
            "joint",
            "one",
            "other",
            "from_mc_percent",
            "to_mc_percent",
            "from_air",
            "to_air",
            "longest",
        ])?;
        let joint = body.required("joint", |field| field.positive_length());
        let one = body.required("one", |field| side(&field));
        let other = body.required("other", |field| side(&field));
        let longest = match body.field("longest") {
            Some(field) => field.positive_length(),
            None => Some(CrossGrain::USUAL_LONGEST),
        };
        let from = moisture_or_air(&body, "from");
        let to = moisture_or_air(&body, "to");
        let (joint, longest) = (joint?, longest?);
        let ((_, one), (_, other)) = (one?, other?);
        let (from, to) = (from?, to?);
        let parted = match mismatch(joint, &one, &other, from, to) {
            Ok(parted) => parted,
            Err(error) => {
                return body.node().refuse(format!(
                    "names a species that {error}; must be another species"
                ));
            }
        };
        let judged = CrossGrain {
            joint,
            mismatch: parted,
            longest,
        };
        Some(json!({
            "mismatch": length_range(parted),
            "longest_solid_joint": to_json(longest),
            "too_long": judged.is_too_long(),
            "text": if judged.is_too_long() {
                format!(
                    "Glued solid over {joint} the two want to part by up to {}: let one side slide (slots, a spline without glue) or shorten the joint to at most {longest}.",
                    parted.high
                )
            } else {
                format!("The two want to part by up to {}; so short a joint is glued solid.", parted.high)
            },
            "sources": [
                source("mismatch", &movement_source(from, to)),
                source("longest_solid_joint", &Source::PRACTICE),
            ],
        }))
    })
}

fn side(node: &Node<'_>) -> Option<(&'static Species, Side)> {
    let side = node.object(&["species", "run", "growth_rings"])?;
    let wood = side.required("species", |field| species(&field));
    let along = side.required("run", |field| {
        field.one_of(&[("along", true), ("across", false)])
    });
    let rings = match side.field("growth_rings") {
        Some(field) => growth_rings(&field),
        None => Some(GrowthRings::Unknown),
    };
    let (wood, along, rings) = (wood?, along?, rings?);
    let run = if along {
        Run::Along
    } else {
        Run::Across(rings)
    };
    Some((
        wood,
        Side {
            wood: wood.figures,
            run,
        },
    ))
}
