//! What the reference holds.

use askama::Template;
use axum::response::Response;

use crate::web::{Error, Section, Shell, page};

#[derive(Template)]
#[template(path = "reference/index.html")]
struct IndexPage {
    shell: Shell,
    places: Vec<Place>,
}

struct Place {
    path: &'static str,
    name: &'static str,
    what: String,
}

pub(super) async fn show(shell: Shell) -> Result<Response, Error> {
    let place = |path, name, what: &str| Place {
        path,
        name,
        what: what.to_owned(),
    };
    page(&IndexPage {
        places: vec![
            place(
                "/reference/woods",
                "Woods",
                "Weight, hardness, movement, pores, what each does with food and to your lungs, and what the bins hold of it.",
            ),
            place(
                "/reference/glues",
                "Glues",
                "Water class, open and closed time, time in the clamps, cure, least temperature.",
            ),
            place(
                "/reference/finishes",
                "Finishes",
                "Soaking, coats, waits, days until water, food, allergies, and which rags take fire.",
            ),
            place(
                "/reference/abrasives",
                "Abrasives",
                "How large the grains of each grit are, by FEPA and by CAMI.",
            ),
            place(
                "/reference/lumber",
                "Sizes of lumber",
                "What a 1 × 4 really measures, and hardwood by quarters.",
            ),
            place(
                "/reference/machining",
                "Sawing, routing, planing",
                "Kerfs, radii, depths of cut, speeds, and the least lengths that are safe.",
            ),
            place(
                "/reference/cautions",
                "Cautions",
                "By machine, step, wood, glue and finish.",
            ),
            place(
                "/reference/calculators",
                "Calculators",
                "Moisture, movement, clamps, glue, circles, sanding, coats and cost, one question at a time.",
            ),
            place(
                "/reference/defaults",
                "Defaults",
                "What the calculations take where nothing is said, and what this workshop has set.",
            ),
            place(
                "/reference/words",
                "Words",
                "Caul, kerf, glue line and the others, each in a sentence.",
            ),
            place(
                "/reference/calls",
                "Calls for scripts",
                "Everything that a page does, in JSON.",
            ),
        ],
        shell: shell.at(Section::Reference),
    })
}
