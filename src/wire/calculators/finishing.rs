//! Flattening, grits and coats.

use serde_json::{Value, json};

use super::super::advice::moment;
use super::super::problem::Problem;
use super::super::reading::{Node, read};
use super::answer::{CitedSource, cautions, number, range, source};
use crate::calc::finishing::{
    FinishChoice, FinishFlaw, GRIT_SOURCE, LARGEST_STEP, SANDING_SOURCE, SandingRate,
    flattening_time, grit_sequence, judge_finish, plan_finish, surface_area,
};
use crate::reference::{self, Finish, GritSystem};
use crate::units::{Area, Minutes, Source};

pub(super) fn flattening(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&["length", "width", "faces", "minutes_for_18_by_10_in"])?;
        let length = body.required("length", |field| field.positive_length());
        let width = body.required("width", |field| field.positive_length());
        let faces = match body.field("faces") {
            Some(field) => field.whole(1..=2),
            None => Some(2),
        };
        let mut rate = SandingRate::usual();
        if let Some(field) = body.field("minutes_for_18_by_10_in") {
            rate.minutes = Minutes(field.whole(1..=600)?);
        }
        let area = Area::of(length?, width?) * faces?;
        Some(json!({
            "minutes": flattening_time(area, &rate).0,
            "cautions": cautions(&["sanding", "wood dust"]),
            "sources": [source("minutes", &SANDING_SOURCE)],
        }))
    })
}

pub(super) fn grits(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&["owned", "first", "last", "largest_step"])?;
        let owned = body.required("owned", |grits| {
            let owned = grits.list(|grit| grit.whole(12..=2500))?;
            if owned.is_empty() {
                return grits.refuse("is empty; must name at least one grit");
            }
            Some(owned)
        });
        let first = body.required("first", |field| field.whole(12..=2500));
        let last = match body.field("last") {
            Some(field) => field.whole(12..=2500),
            None => Some(220),
        };
        let largest_step = match body.field("largest_step") {
            Some(field) => field.number(1.1..=4.0),
            None => Some(LARGEST_STEP),
        };
        let (owned, first, last, largest_step) = (owned?, first?, last?, largest_step?);
        if last < first {
            return body.node().refuse(format!(
                "goes from {first} to {last}; must go from coarse to fine"
            ));
        }
        let made: Vec<i64> = reference::grits()
            .iter()
            .filter(|grit| grit.system == GritSystem::Fepa)
            .map(|grit| grit.number)
            .collect();
        let sequence = grit_sequence(&owned, &made, first, last, largest_step);
        let gaps: Vec<Value> = sequence
            .gaps
            .iter()
            .map(|gap| {
                json!({
                    "from": gap.from,
                    "to": gap.to,
                    "ratio": number(gap.ratio),
                    "buy": gap.buy,
                })
            })
            .collect();
        Some(json!({
            "grits": sequence.grits,
            "gaps": gaps,
            "raise_grain": "For what will be washed: wet the wood, let it dry, and sand once more with the last grit; one to three times.",
            "cautions": cautions(&["sanding"]),
            "sources": [
                source("grits", &GRIT_SOURCE),
                source("grit numbers", &Source::read("FEPA 43-1 and ISO 6344, P grades")),
            ],
        }))
    })
}

pub(super) fn finish(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&[
            "finish",
            "length",
            "width",
            "thickness",
            "coats",
            "for_food",
            "cut_on",
            "accept_finish",
        ])?;
        let chosen = body.required("finish", |field| known_finish(&field));
        let length = body.required("length", |field| field.positive_length());
        let width = body.required("width", |field| field.positive_length());
        let thickness = body.required("thickness", |field| field.positive_length());
        let for_food = body.required("for_food", |field| field.boolean());
        let flag = |name| match body.field(name) {
            Some(field) => field.boolean(),
            None => Some(false),
        };
        let (cut_on, accepted) = (flag("cut_on"), flag("accept_finish"));
        let coats = body.field("coats").map(|field| field.whole(1..=20));
        let chosen = chosen?;
        let area = surface_area(length?, width?, thickness?);
        let (for_food, cut_on, accepted) = (for_food?, cut_on?, accepted?);
        let mut choice = FinishChoice::usual(&chosen.figures);
        if let Some(coats) = coats {
            choice.coats = coats?;
        }
        let flaws = judge_finish(&chosen.figures, for_food, cut_on);
        if flaws.contains(&FinishFlaw::NotForFood) && !accepted {
            return body.field("finish")?.refuse(format!(
                "is \"{}\": {} Must be another finish, such as tung oil or mineral oil, or say \"accept_finish\": true",
                chosen.name,
                reason(FinishFlaw::NotForFood)
            ));
        }
        let plan = plan_finish(&chosen.figures, &choice, area);
        let calendar: Vec<Value> = plan
            .calendar
            .iter()
            .map(|step| {
                let what = moment(step.moment);
                json!({"after_minutes": step.after.0, "after": step.after.to_string(), "what": what})
            })
            .collect();
        let minutes = |span: Minutes| json!(span.0);
        let figures = &chosen.figures;
        let mut keys = vec!["finishing"];
        keys.extend(crate::calc::cautions::of_finish(figures));
        let sources: Vec<CitedSource> = chosen
            .properties
            .iter()
            .filter(|property| property.name != "other names")
            .map(|property| source(&property.name, &property.source))
            .collect();
        Some(json!({
            "area_m2": number(plan.area.m2()),
            "litres": number(plan.litres),
            "coats": choice.coats,
            "calendar": calendar,
            "ready_after_minutes": plan.ready.0,
            "published": {
                "soak_minutes": range(figures.soak, minutes),
                "recoat_minutes": range(figures.recoat, minutes),
                "water_contact_minutes": range(figures.water_contact, minutes),
                "full_cure_minutes": figures.full_cure.map(|cure| range(cure, minutes)),
                "coverage_m2_l": range(figures.coverage, number),
            },
            "flaws": flaws.iter().map(|flaw| reason(*flaw)).collect::<Vec<_>>(),
            "rags_can_catch_fire": figures.rags_self_heat,
            "allergy": chosen.properties.find("allergy").map(|property| property.text.as_str()),
            "cautions": cautions(&keys),
            "sources": sources,
        }))
    })
}

const fn reason(flaw: FinishFlaw) -> &'static str {
    match flaw {
        FinishFlaw::NotForFood => "It is not offered for food ware unless its maker says so.",
        FinishFlaw::AskMaker => "Only with its maker's word that it may touch food when cured.",
        FinishFlaw::FilmUnderKnife => "A knife chips the film into the food.",
    }
}

pub(super) fn known_finish(node: &Node<'_>) -> Option<&'static Finish> {
    let name = node.text()?;
    reference::finish(name).or_else(|| {
        let known: Vec<&str> = reference::finishes()
            .iter()
            .map(|finish| finish.name.as_str())
            .collect();
        let shown: String = name.chars().take(40).collect();
        node.refuse(format!(
            "is \"{shown}\"; must be one of {}",
            known.join(", ")
        ))
    })
}
