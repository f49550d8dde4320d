//! The small calculators: one table that HTTP, the command line and the pages walk through.
//!
//! Each takes a JSON object and gives one; unknown fields and wrong values are refused with their
//! place. Lengths are read as everywhere (a bare number is millimetres) and written as numbers of
//! millimetres. Beside its figures every answer carries `sources`: for each figure or group of
//! figures the publication and how well it is known.

mod air;
pub(super) mod answer;
mod board;
mod clamping;
mod finishing;
mod glue_up;
mod money;
mod project;
mod shaping;
mod wood;

use serde_json::Value;

use super::problem::Problem;

/// One small calculator.
pub struct Calculator {
    /// The last part of its address, such as `board-feet`.
    pub name: &'static str,
    /// What it answers, in one sentence.
    pub summary: &'static str,
    /// A request that works, as JSON.
    pub example: &'static str,
    /// Reads a request body and answers it.
    pub answer: fn(&[u8]) -> Result<Value, Problem>,
}

impl std::fmt::Debug for Calculator {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Calculator")
            .field("name", &self.name)
            .finish_non_exhaustive()
    }
}

/// All small calculators, in the order in which a project meets them.
pub const CALCULATORS: &[Calculator] = &[
    Calculator {
        name: "emc",
        summary: "The moisture content that wood settles at in air of a temperature and humidity.",
        example: r#"{"temperature_c": 21.1, "relative_humidity_percent": 50}"#,
        answer: wood::emc,
    },
    Calculator {
        name: "moisture-check",
        summary: "Whether measured pieces are near enough to each other and to the workshop's air to be glued.",
        example: r#"{"temperature_c": 21.1, "relative_humidity_percent": 50,
 "pieces": [{"name": "strip 1", "mc_percent": 8.5}, {"name": "strip 2", "mc_percent": 11.5}]}"#,
        answer: wood::moisture_check,
    },
    Calculator {
        name: "movement",
        summary: "How much one piece of wood changes across the grain between two moisture contents.",
        example: r#"{"species": "black cherry", "width": "10 in", "growth_rings": "flat-sawn",
 "from_mc_percent": 6, "to_mc_percent": 10}"#,
        answer: wood::movement,
    },
    Calculator {
        name: "board-movement",
        summary: "How a glued board of strips changes in width, and what ridges unlike neighbours make.",
        example: r#"{"thickness": "1 1/2 in", "strips": [
  {"species": "hard maple", "width": "1 5/8 in", "growth_rings": "unknown"},
  {"species": "black walnut", "width": "1 5/8 in", "growth_rings": "quarter-sawn"}],
 "from_air": {"temperature_c": 21.1, "relative_humidity_percent": 30},
 "to_air": {"temperature_c": 21.1, "relative_humidity_percent": 60}}"#,
        answer: board::board_movement,
    },
    Calculator {
        name: "cross-grain",
        summary: "How far the two sides of a glue joint across the grain want to part: inlays, rings on discs, cross pieces.",
        example: r#"{"joint": "10 in", "one": {"species": "hard maple", "run": "across", "growth_rings": "flat-sawn"},
 "other": {"species": "black walnut", "run": "along"}, "from_mc_percent": 6, "to_mc_percent": 10}"#,
        answer: board::cross_grain,
    },
    Calculator {
        name: "food-check",
        summary: "Whether the woods of a piece suit the food that touches it, each with its reason.",
        example: r#"{"use": "cutting", "woods": [{"species": "hard maple", "share": 0.8}, {"species": "red oak", "share": 0.2}]}"#,
        answer: wood::food_check,
    },
    Calculator {
        name: "board-feet",
        summary: "Board feet by volume, and as a hardwood yard tallies a rough board.",
        example: r#"{"length": "96 in", "width": "6 in", "thickness": "1 in", "count": 1}"#,
        answer: wood::board_feet,
    },
    Calculator {
        name: "weight",
        summary: "What a piece of wood weighs at a moisture content.",
        example: r#"{"length": "17 in", "width": "10 in", "thickness": "1 1/2 in", "species": "hard maple", "mc_percent": 9}"#,
        answer: wood::weight_of,
    },
    Calculator {
        name: "clamping",
        summary: "Pressure, force, number, spacing and reach of clamps for a panel of strips.",
        example: r#"{"length": "18 in", "width": "10 in", "height": "1 1/2 in", "species": ["hard maple"],
 "clamp_force_n": 4500, "clamp_reach": "24 in", "caul_depth": "2 in"}"#,
        answer: clamping::clamping,
    },
    Calculator {
        name: "clamp-load",
        summary: "Which panels may share one set of clamps, and how many clamps that saves.",
        example: r#"{"clamp_reach": "24 in", "caul_depth": "2 in", "panels": [
  {"name": "P7", "length": "18 in", "width": "8 in", "height": "1 1/2 in", "species": ["hard maple"], "clamps": 5, "clamp_minutes": 60},
  {"name": "P9", "length": "17 1/2 in", "width": "9 in", "height": "1 1/2 in", "species": ["hard maple"], "clamps": 5, "clamp_minutes": 60}]}"#,
        answer: clamping::clamp_load,
    },
    Calculator {
        name: "glue-up",
        summary: "Whether a glue suits, how much of it, whether it stays open long enough, and the sub-panels if not.",
        example: r#"{"length": "18 in", "height": "1 1/2 in", "glue": "crosslinked PVA", "for_food": true,
 "strips": [{"species": "hard maple", "width": "3/4 in", "count": 14}], "seconds_per_line": 30, "workshop_temperature_c": 18}"#,
        answer: glue_up::glue_up,
    },
    Calculator {
        name: "circle",
        summary: "Router settings for a disc, and for the ring that stays when its inside is cut out.",
        example: r#"{"diameter": "14 in", "rim": "1/2 in", "bit": "1/4 in", "thickness": "1 in", "depth_per_pass": "3/16 in"}"#,
        answer: shaping::circle,
    },
    Calculator {
        name: "flattening",
        summary: "How long a panel takes to sand flat.",
        example: r#"{"length": "18 in", "width": "10 in", "faces": 2}"#,
        answer: finishing::flattening,
    },
    Calculator {
        name: "grits",
        summary: "Which of the workshop's grits to sand with, and which one is missing.",
        example: r#"{"owned": [40, 60, 80, 120, 180, 220], "first": 40, "last": 220}"#,
        answer: finishing::grits,
    },
    Calculator {
        name: "finish",
        summary: "Coats, waits and amount of a finish, and whether it suits food.",
        example: r#"{"finish": "tung oil", "length": "17 in", "width": "10 in", "thickness": "1 1/2 in", "for_food": true, "cut_on": true}"#,
        answer: finishing::finish,
    },
    Calculator {
        name: "cost",
        summary: "What a project costs in wood, glue, abrasive and finish.",
        example: r#"{"bin_wood_board_feet": 2.4, "bought": [{"name": "maple board", "price": 14.50, "count": 1}],
 "glue_g": 60, "sanded_m2": 0.5, "finish_l": 0.1,
 "prices": {"bin_wood_board_foot": 2.00, "glue_kg": 12.00, "abrasive_m2": 3.00, "finish_l": 40.00}}"#,
        answer: money::cost,
    },
    Calculator {
        name: "advice",
        summary: "All of it for one design: woods, movement, glue, clamps, surface, finish, weight, cost, and what speaks against it.",
        example: r#"{"design": {"kind": "striped-board", "length": "17 in", "width": "9 3/4 in", "thickness": "1 1/2 in",
  "surface": "edge grain", "strips": [
   {"species": "hard maple", "width": "3 in"}, {"species": "black walnut", "width": "3 in"},
   {"species": "hard maple", "width": "3 3/4 in"}]},
 "glue": "crosslinked PVA", "finish": "tung oil",
 "workshop_air": {"temperature_c": 20, "relative_humidity_percent": 45},
 "clamps": [{"name": "bar clamps", "reach": "24 in", "force_n": 4500, "count": 8}],
 "grits": [60, 80, 120, 180, 220]}"#,
        answer: project::project_advice,
    },
];

/// The calculator of that name.
pub fn calculator(name: &str) -> Option<&'static Calculator> {
    CALCULATORS
        .iter()
        .find(|calculator| calculator.name == name)
}
