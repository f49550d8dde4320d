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
                "/reference/calculators",
                "Calculators",
                "Moisture, movement, clamps, glue, circles, sanding, coats and cost, one question at a time.",
            ),
        ],
        shell: shell.at(Section::Reference),
    })
}
