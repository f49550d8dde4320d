//! Every caution with what it is about and its source. They are shown where the step is shown; this page is to look one up.

use askama::Template;
use axum::response::Response;

use super::materials::capital;
use crate::reference::{Caution, anchor, cautions};
use crate::web::{Error, Section, Shell, page};

#[derive(Template)]
#[template(path = "reference/cautions.html")]
struct CautionsPage {
    shell: Shell,
    subjects: Vec<Subject>,
}

struct Subject {
    anchor: String,
    name: String,
    cautions: Vec<&'static Caution>,
}

pub(super) async fn list(shell: Shell) -> Result<Response, Error> {
    let mut subjects: Vec<Subject> = Vec::new();
    for caution in cautions() {
        let place = anchor(&caution.subject);
        match subjects.iter_mut().find(|subject| subject.anchor == place) {
            Some(subject) => subject.cautions.push(caution),
            None => subjects.push(Subject {
                name: capital(&caution.subject),
                anchor: place,
                cautions: vec![caution],
            }),
        }
    }
    page(&CautionsPage {
        subjects,
        shell: shell.at(Section::Reference),
    })
}
