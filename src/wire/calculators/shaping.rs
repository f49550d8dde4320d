//! Circles with a router.

use serde_json::{Value, json};

use super::super::length::to_json;
use super::super::problem::Problem;
use super::super::reading::read;
use super::answer::{cautions, source};
use crate::calc::shaping::{CIRCLE_SOURCE, Circle, CircleFlaw, Pivot, cut_circle};
use crate::units::{Length, Source};

/// What two makers of routers allow in one pass.
const MAKERS_DEPTH: Length = Length::from_inches(1, 8);

pub(super) fn circle(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&["diameter", "rim", "bit", "thickness", "depth_per_pass"])?;
        let diameter = body.required("diameter", |field| field.positive_length());
        let rim = body.field("rim").map(|field| field.positive_length());
        let bit = body.required("bit", |field| field.positive_length());
        let thickness = body.required("thickness", |field| field.positive_length());
        let depth = body.required("depth_per_pass", |field| field.positive_length());
        let circle = Circle {
            diameter: diameter?,
            rim: rim.map_or(Some(None), |read| read.map(Some))?,
            bit: bit?,
            thickness: thickness?,
            depth_per_pass: depth?,
        };
        let cuts = match cut_circle(&circle) {
            Ok(cuts) => cuts,
            Err(flaw @ CircleFlaw::RimTooWide { .. }) => {
                return body.field("rim")?.refuse(flaw.to_string());
            }
            Err(flaw @ CircleFlaw::TooManyPasses) => {
                return body.field("depth_per_pass")?.refuse(flaw.to_string());
            }
            Err(flaw @ CircleFlaw::NotPositive(_)) => {
                return body.node().refuse(flaw.to_string());
            }
        };
        let mut depth_settings = Vec::with_capacity(cuts.passes.len());
        let mut reached = Length::ZERO;
        for pass in &cuts.passes {
            reached += *pass;
            depth_settings.push(to_json(reached));
        }
        let mut answer = json!({
            "outside": pivot(cuts.outside),
            "inside": cuts.inside.map(pivot),
            "disc_diameter": cuts.falls_out.map(to_json),
            "passes": cuts.passes.len(),
            "pass_depths": cuts.passes.iter().map(|pass| to_json(*pass)).collect::<Vec<_>>(),
            "depth_settings": depth_settings,
            "blank_at_least": to_json(cuts.blank_at_least),
            "cautions": cautions(&["any machine", "routing", "circle routing"]),
            "sources": [
                source("all lengths", &CIRCLE_SOURCE),
                source("depth in one pass", &Source::read("Router manuals of two makers")),
            ],
        });
        if circle.depth_per_pass > MAKERS_DEPTH {
            answer["note"] = json!(format!(
                "{} in one pass is more than the {MAKERS_DEPTH} (1/8 in) that router makers allow; take more passes in hard wood.",
                circle.depth_per_pass
            ));
        }
        Some(answer)
    })
}

fn pivot(pivot: Pivot) -> Value {
    json!({
        "pivot_to_near_edge": to_json(pivot.to_near_edge),
        "pivot_to_bit_centre": to_json(pivot.to_bit_centre),
    })
}
