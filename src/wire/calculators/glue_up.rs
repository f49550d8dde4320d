//! The glue of a board: whether it suits, how much, how long, in how many sub-panels.

use serde_json::{Value, json};

use super::super::length::to_json;
use super::super::problem::Problem;
use super::super::reading::{Node, read};
use super::answer::{CitedSource, MOST_PIECES, cautions, number, range, source, species};
use crate::calc::gluing::{
    GLUE_AMOUNT_SOURCE, GlueFlaw, GlueLines, Spreading, WATER_CLASS_SOURCE, glue_amount,
    judge_glue, plan_assembly,
};
use crate::reference::{Glue, glue, glues};
use crate::units::{Length, Minutes, Source, Temperature};

/// The middle of what is published for PVA, in grams per square metre of glue line.
const USUAL_SPREAD: f64 = 200.0;
/// For what is squeezed out and left in the pot; common practice, no single source.
const USUAL_EXTRA: f64 = 0.15;
/// For one strip; common practice, no single source.
const USUAL_SECONDS: f64 = 30.0;
/// More strips than any board has.
const MOST_STRIPS: usize = 500;

pub(super) fn glue_up(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&[
            "length",
            "height",
            "strips",
            "glue",
            "for_food",
            "accept_glue",
            "workshop_temperature_c",
            "seconds_per_line",
            "planer_width",
            "spread_g_m2",
        ])?;
        let length = body.required("length", |field| field.positive_length());
        let height = body.required("height", |field| field.positive_length());
        let strips = body.required("strips", |field| strip_widths(&field));
        let chosen = body.required("glue", |field| known_glue(&field));
        let for_food = body.required("for_food", |field| field.boolean());
        let accepted = match body.field("accept_glue") {
            Some(field) => field.boolean(),
            None => Some(false),
        };
        let temperature = body.field("workshop_temperature_c").map(|field| {
            let celsius = field.number(-20.0..=60.0)?;
            Temperature::from_celsius(celsius).ok()
        });
        let seconds = match body.field("seconds_per_line") {
            Some(field) => field.number(1.0..=3600.0),
            None => Some(USUAL_SECONDS),
        };
        let planer = body
            .field("planer_width")
            .map(|field| field.positive_length());
        let spread = match body.field("spread_g_m2") {
            Some(field) => field.number(10.0..=2000.0),
            None => Some(USUAL_SPREAD),
        };
        let (length, height, widths, chosen) = (length?, height?, strips?, chosen?);
        let (for_food, accepted, seconds, spread) = (for_food?, accepted?, seconds?, spread?);
        let temperature = temperature.map_or(Some(None), |read| read.map(Some))?;
        let planer = planer.map_or(Some(None), |read| read.map(Some))?;

        let flaws = judge_glue(&chosen.figures, for_food, temperature);
        if !flaws.is_empty() && !accepted {
            let reasons: Vec<String> = flaws.iter().map(|flaw| reason(flaw, chosen)).collect();
            return body.field("glue")?.refuse(format!(
                "is \"{}\": {} Must be another glue{}, or say \"accept_glue\": true",
                chosen.name,
                reasons.join(" "),
                if for_food {
                    ", such as crosslinked PVA"
                } else {
                    ""
                },
            ));
        }
        let figures = &chosen.figures;
        let lines = GlueLines::between(widths.len(), length, height);
        let spreading = Spreading {
            seconds_per_line: seconds,
            open_time: figures.open_assembly.low,
            widest: planer,
        };
        let plan = plan_assembly(&widths, &spreading);
        let rounds: Vec<Value> = plan
            .rounds
            .iter()
            .map(|round| {
                round
                    .parts
                    .iter()
                    .map(|part| {
                        json!({
                            "strips": {"from": part.strips.start + 1, "to": part.strips.end},
                            "width": to_json(widths[part.strips.clone()].iter().copied().sum()),
                            "glue_lines": part.glue_lines(),
                        })
                    })
                    .collect()
            })
            .collect();
        let minutes = |span: Minutes| json!(span.0);
        let mut keys = vec!["gluing"];
        keys.extend(crate::calc::cautions::of_glue(figures));
        Some(json!({
            "glue_lines": lines.count,
            "glue_g": number(glue_amount(&lines, spread, USUAL_EXTRA).grams()),
            "water_class": figures.water_class.to_string(),
            "flaws": flaws.iter().map(|flaw| reason(flaw, chosen)).collect::<Vec<_>>(),
            "spread_minutes": plan.spread_time.0,
            "open_minutes": range(figures.open_assembly, minutes),
            "fits_open_time": plan.rounds.len() <= 1 && !plan.too_slow,
            "too_slow_for_one_line": plan.too_slow,
            "rounds": rounds,
            "sub_panels": plan.sub_panels(),
            "too_wide_for_planer": plan.too_wide.iter().map(|strip| strip + 1).collect::<Vec<_>>(),
            "clamp_minutes": range(figures.clamp_time, minutes),
            "extra_clamp_minutes": plan.extra_clamp_time(figures.clamp_time.high).0,
            "full_cure_minutes": figures.full_cure.map(|cure| range(cure, minutes)),
            "contact_pressure_only": figures.contact_pressure_only,
            "cautions": cautions(&keys),
            "sources": sources(chosen),
        }))
    })
}

fn sources(chosen: &Glue) -> Vec<CitedSource> {
    let mut sources = vec![
        source("glue_g", &GLUE_AMOUNT_SOURCE),
        source("water class asked", &WATER_CLASS_SOURCE),
        source("seconds_per_line", &Source::PRACTICE),
    ];
    sources.extend(
        chosen
            .properties
            .iter()
            .filter(|property| property.name != "other names")
            .map(|property| source(&property.name, &property.source)),
    );
    sources
}

/// Why a glue is refused, in one sentence.
fn reason(flaw: &GlueFlaw, chosen: &Glue) -> String {
    match flaw {
        GlueFlaw::NoWaterClass => format!(
            "Nobody gives {} a class for water, and what touches food is washed.",
            chosen.name
        ),
        GlueFlaw::TooLittleWater { has, least_level } => format!(
            "Its class {has} is too low: what touches food is washed and asks D{least_level} or better (EN 204)."
        ),
        GlueFlaw::TooCold { has, least } => {
            format!("At {has} it may not harden: some makes ask for at least {least}.")
        }
    }
}

pub(super) fn known_glue(node: &Node<'_>) -> Option<&'static Glue> {
    let name = node.text()?;
    glue(name).or_else(|| {
        let known: Vec<&str> = glues().iter().map(|glue| glue.name.as_str()).collect();
        let shown: String = name.chars().take(40).collect();
        node.refuse(format!(
            "is \"{shown}\"; must be one of {}",
            known.join(", ")
        ))
    })
}

/// The width of each strip in order; a strip may stand for several equal ones.
fn strip_widths(node: &Node<'_>) -> Option<Vec<Length>> {
    let strips = node.list(|strip| {
        let strip = strip.object(&["species", "width", "count"])?;
        let wood = match strip.field("species") {
            Some(field) => species(&field).map(|_| ()),
            None => Some(()),
        };
        let width = strip.required("width", |field| field.positive_length());
        let count = match strip.field("count") {
            Some(field) => field.whole(1..=MOST_PIECES),
            None => Some(1),
        };
        wood?;
        Some((width?, count?))
    })?;
    let total: i64 = strips.iter().map(|(_, count)| count).sum();
    if total < 1 || total > MOST_STRIPS as i64 {
        return node.refuse(format!(
            "has {total} strips; must have from 1 to {MOST_STRIPS}"
        ));
    }
    Some(
        strips
            .into_iter()
            .flat_map(|(width, count)| std::iter::repeat_n(width, count as usize))
            .collect(),
    )
}
