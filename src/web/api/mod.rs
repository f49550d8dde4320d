//! The JSON interface under `/api/v1`, a file for each group.

mod bins;
mod calculations;
mod changes;
mod document;
mod ledger;
mod lumber;
mod me;
mod members;
mod notices;
mod offcuts;
mod openings;
mod pieces;
mod plans;
mod projects;
mod reference;
mod resources;
mod shapes;
mod species;
mod tables;
mod workshop;

pub(super) use document::{complete, empty_document};

use jiff::civil::Date;

use super::{Error, JsonBody, Routes, line, lines};
use crate::wire::{self, Node};

pub(super) fn routes(routes: Routes) -> Routes {
    let routes = bins::routes(routes);
    let routes = calculations::routes(routes);
    let routes = changes::routes(routes);
    let routes = document::routes(routes);
    let routes = ledger::routes(routes);
    let routes = lumber::routes(routes);
    let routes = me::routes(routes);
    let routes = members::routes(routes);
    let routes = notices::routes(routes);
    let routes = plans::routes(routes);
    let routes = offcuts::routes(routes);
    let routes = openings::routes(routes);
    let routes = pieces::routes(routes);
    let routes = reference::routes(routes);
    let routes = resources::routes(routes);
    let routes = species::routes(routes);
    let routes = tables::routes(routes);
    let routes = workshop::routes(routes);
    projects::routes(routes)
}

/// Reads a body; every flaw of it is told at once.
fn read<T>(body: &JsonBody, walk: impl FnOnce(Node<'_>) -> Option<T>) -> Result<T, Error> {
    wire::read(&body.0, walk).map_err(Error::Calculation)
}

/// One line of text that is not empty.
fn title(field: &Node<'_>, most: usize) -> Option<String> {
    match line(field.text()?, most) {
        Ok(text) => Some(text),
        Err(flaw) => field.refuse(flaw),
    }
}

/// A text that may be empty.
fn note(field: &Node<'_>, most: usize) -> Option<String> {
    if field.is_empty_text() {
        return Some(String::new());
    }
    match lines(field.text()?, most) {
        Ok(text) => Some(text),
        Err(flaw) => field.refuse(flaw),
    }
}

/// A day such as `2027-03-05`.
fn day(field: &Node<'_>) -> Option<Date> {
    match day_of(field.text()?) {
        Ok(day) => Some(day),
        Err(flaw) => field.refuse(flaw),
    }
}

fn day_of(text: &str) -> Result<Date, String> {
    super::pages::workshop::parse_day(text)
}
