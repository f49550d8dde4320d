//! The words that the pages use, each in a sentence.

use askama::Template;
use axum::response::Response;

use crate::reference::{Term, glossary};
use crate::web::{Error, Section, Shell, page};

#[derive(Template)]
#[template(path = "reference/glossary.html")]
struct GlossaryPage {
    shell: Shell,
    terms: &'static [Term],
}

pub(super) async fn list(shell: Shell) -> Result<Response, Error> {
    page(&GlossaryPage {
        terms: glossary(),
        shell: shell.at(Section::Reference),
    })
}
