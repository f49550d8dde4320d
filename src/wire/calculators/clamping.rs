//! Clamps for one panel and for several that share them.

use serde_json::{Value, json};

use super::super::length::to_json;
use super::super::problem::Problem;
use super::super::reading::{Node, Object, read};
use super::answer::{MOST_PIECES, cautions, number, range, source, species};
use crate::calc::gluing::{
    CLAMP_SOURCE, GlueLines, Hindrance, LoadPanel, LoadRules, PRESSURE_SOURCE, Rig, clamp_need,
    placements, pressure_band, share_clamps, shared_loads,
};
use crate::reference::Species;
use crate::units::{Force, Length, Minutes};

pub(super) fn clamping(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&[
            "length",
            "width",
            "height",
            "species",
            "clamp_force_n",
            "clamp_reach",
            "caul_depth",
            "pad",
            "jaw_width",
            "outer_strip",
        ])?;
        let length = body.required("length", |field| field.positive_length());
        let width = body.required("width", |field| field.positive_length());
        let height = body.required("height", |field| field.positive_length());
        let woods = body.required("species", |field| softest(&field));
        let force = body.required("clamp_force_n", |field| {
            // Below a newton it is a slip of the pen or a clamp that nobody rated.
            field.number(1.0..=1e6).map(Force::from_newtons)
        });
        let reach = body.required("clamp_reach", |field| field.positive_length());
        let caul_depth = body.required("caul_depth", |field| field.length());
        let rig = rig(&body);
        let rig = Rig {
            caul_depth: caul_depth?,
            ..rig?
        };
        let (length, width, height) = (length?, width?, height?);
        let (woods, force, reach) = (woods?, force?, reach?);
        let lines = GlueLines {
            count: 1,
            length,
            height,
        };
        let Some(need) = clamp_need(&lines, width, pressure_band(woods), &rig) else {
            return body.field("caul_depth")?.refuse(
                "is 0; must be more than 0 where neither jaw_width nor outer_strip is given",
            );
        };
        let clamps = need.clamps(force);
        // A request for a very long panel must not answer with a list of a million places.
        let places: Vec<Value> = placements(length, clamps.min(MOST_PIECES))
            .into_iter()
            .map(|place| {
                json!({
                    "from_end": to_json(place.from_end),
                    "side": if place.below { "below" } else { "above" },
                })
            })
            .collect();
        Some(json!({
            "pressure_kpa": range(need.pressure, |pressure| number(pressure.kpa())),
            "force_n": range(need.force, |force| number(force.newtons())),
            "clamps": clamps,
            "clamps_for_highest_pressure": need.clamps_for_highest(force),
            "spacing": to_json(need.spacing),
            "places": places,
            "reach_needed": to_json(need.reach),
            "reach_enough": reach >= need.reach,
            "cautions": cautions(&["clamping"]),
            "sources": [
                source("pressure_kpa", &PRESSURE_SOURCE),
                source("clamps", &CLAMP_SOURCE),
                source("spacing", &CLAMP_SOURCE),
            ],
        }))
    })
}

pub(super) fn clamp_load(body: &[u8]) -> Result<Value, Problem> {
    read(body, |body| {
        let body = body.object(&["clamp_reach", "caul_depth", "separator", "panels"])?;
        let reach = body.required("clamp_reach", |field| field.positive_length());
        let caul_depth = body.required("caul_depth", |field| field.length());
        let separator = body.field("separator").map(|field| field.length());
        let panels = body.required("panels", |panels| {
            let read = panels.list(|panel| load_panel(&panel))?;
            if read.is_empty() || read.len() > 100 {
                return panels.refuse(format!(
                    "holds {} panels; must hold from 1 to 100",
                    read.len()
                ));
            }
            Some(read)
        });
        let mut rules = LoadRules::usual(caul_depth? * 2, reach?);
        if let Some(separator) = separator {
            rules.separator = separator?;
        }
        let panels = panels?;
        let names = |places: &[usize]| -> Vec<&str> {
            places.iter().map(|&place| panels[place].0).collect()
        };
        let figures: Vec<LoadPanel> = panels.iter().map(|(_, panel)| *panel).collect();
        let together = share_clamps(&figures, &rules);
        let loads: Vec<Value> = shared_loads(&figures, &rules)
            .into_iter()
            .filter_map(|places| {
                let load: Vec<LoadPanel> = places.iter().map(|&place| figures[place]).collect();
                // A panel too wide for the clamps is no load at all; `hindrances` says so.
                let shared = share_clamps(&load, &rules).ok()?;
                Some(json!({
                    "panels": names(&places),
                    "clamps": shared.clamps,
                    "saved": shared.saved,
                    "reach_needed": to_json(shared.reach),
                    "pressure_kpa": range(shared.pressure, |pressure| number(pressure.kpa())),
                }))
            })
            .collect();
        let hindrances: Vec<String> = together
            .as_ref()
            .err()
            .into_iter()
            .flatten()
            .map(hindrance)
            .collect();
        Some(json!({
            "all_together": together.is_ok(),
            "hindrances": hindrances,
            "loads": loads,
            "cautions": cautions(&["clamping"]),
            "sources": [source("loads", &LoadRules::SOURCE)],
        }))
    })
}

fn hindrance(hindrance: &Hindrance) -> String {
    match hindrance {
        Hindrance::Lengths { shortest, longest } => {
            format!("The lengths differ too much: {shortest} and {longest}.")
        }
        Hindrance::Heights { lowest, highest } => {
            format!("The glue lines differ too much in height: {lowest} and {highest}.")
        }
        Hindrance::ClampTimes { shortest, longest } => format!(
            "They stay in the clamps for different times: {shortest} and {longest}."
        ),
        Hindrance::Reach { has, needs } => format!(
            "Side by side with separators and cauls they need a reach of {needs}; the clamps have {has}."
        ),
        Hindrance::Pressure => {
            "No pressure suits all their woods: one would be crushed before another is pressed enough."
                .to_owned()
        }
    }
}

fn load_panel<'a>(node: &Node<'a>) -> Option<(&'a str, LoadPanel)> {
    let panel = node.object(&[
        "name",
        "length",
        "width",
        "height",
        "species",
        "clamps",
        "clamp_minutes",
    ])?;
    let name = panel.required("name", |field| field.text());
    let length = panel.required("length", |field| field.positive_length());
    let width = panel.required("width", |field| field.positive_length());
    let height = panel.required("height", |field| field.positive_length());
    let woods = panel.required("species", |field| softest(&field));
    let clamps = panel.required("clamps", |field| field.whole(1..=MOST_PIECES));
    let minutes = panel.required("clamp_minutes", |field| field.whole(1..=Minutes::LONGEST.0));
    Some((
        name?,
        LoadPanel {
            length: length?,
            width: width?,
            height: height?,
            clamp_time: Minutes(minutes?),
            pressure: pressure_band(woods?),
            clamps: clamps?,
        },
    ))
}

/// Pads, jaws and outer strip, nothing where they are left out.
fn rig(body: &Object<'_>) -> Option<Rig> {
    let length = |name| match body.field(name) {
        Some(field) => field.length(),
        None => Some(Length::ZERO),
    };
    let (pad, jaw_width, outer_strip) = (length("pad"), length("jaw_width"), length("outer_strip"));
    Some(Rig {
        caul_depth: Length::ZERO,
        pad: pad?,
        jaw_width: jaw_width?,
        outer_strip: outer_strip?,
    })
}

/// The lowest specific gravity of a list of species.
fn softest(node: &Node<'_>) -> Option<f64> {
    let woods: Vec<&'static Species> = node.list(|name| species(&name))?;
    if woods.is_empty() {
        return node.refuse("is empty; must name at least one species");
    }
    Some(
        woods
            .iter()
            .map(|wood| wood.figures.specific_gravity)
            .fold(f64::INFINITY, f64::min),
    )
}
