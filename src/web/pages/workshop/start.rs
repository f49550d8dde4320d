//! The first hour: a list of what an empty workshop needs, in an order that leads to a first match.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use crate::app::App;
use crate::app::start::{FIRST_PIECES, FirstHour, add_usual_stations};
use crate::web::{Error, Flash, Routes, Section, Shell, Steward, Who, page, see_other, words};

pub(super) fn routes(routes: Routes) -> Routes {
    routes.get("/workshop/start", Who::Steward, show).post(
        "/workshop/start/stations",
        Who::Steward,
        add_stations,
    )
}

#[derive(Template)]
#[template(path = "workshop/start.html")]
struct StartPage {
    shell: Shell,
    steps: Vec<Step>,
    n_done: usize,
    is_over: bool,
}

struct Step {
    title: &'static str,
    says: &'static str,
    /// What is there already; empty if nothing is.
    there: String,
    is_done: bool,
    /// It may be left out.
    is_optional: bool,
    /// Words and address of what to do, the first one being the usual way.
    ways: Vec<(&'static str, &'static str)>,
    /// The usual stations can be added with one button.
    adds_stations: bool,
}

fn steps(hour: &FirstHour) -> Vec<Step> {
    let step = |title, says, there: String, is_done, ways| Step {
        title,
        says,
        there,
        is_done,
        is_optional: false,
        ways,
        adds_stations: false,
    };
    let there = |count: usize, one: &str, many: &str| {
        if count == 0 {
            String::new()
        } else {
            words::counted(count, one, many)
        }
    };
    let n_pieces = usize::try_from(hour.n_pieces).unwrap_or(0);
    vec![
        step(
            "Name and time zone",
            "Bookings and calendars follow the clock on your wall.",
            if hour.is_named {
                "saved".to_owned()
            } else {
                String::new()
            },
            hour.is_named,
            vec![("Name the workshop", "/workshop/settings")],
        ),
        step(
            "Bins",
            "A bin is any place where offcuts lie: a shelf, a crate, a corner. One is enough to begin.",
            there(hour.n_bins, "bin", "bins"),
            hour.n_bins > 0,
            vec![("Make a bin", "/bins/new")],
        ),
        Step {
            is_optional: true,
            ..step(
                "Prices",
                "What members pay for a board foot of shared wood, for all species or for each. Skip it if wood is free.",
                if hour.is_priced {
                    "set".to_owned()
                } else {
                    String::new()
                },
                hour.is_priced,
                vec![("Set prices", "/workshop/settings/prices")],
            )
        },
        step(
            "Clamps",
            "Each set of equal clamps: how many, and how far they reach. A glue-up is planned only with clamps that reach over it.",
            there(hour.n_clamp_sets, "set", "sets"),
            hour.n_clamp_sets > 0,
            vec![
                ("Add a clamp set", "/workshop/clamps/new"),
                ("Read them from a file", "/workshop/import?what=clamps"),
            ],
        ),
        Step {
            adds_stations: true,
            ..step(
                "Benches, machines and rack places",
                "Every step of a project occupies one. Take the usual ones and strike out what you do not have, or add your own.",
                there(hour.n_stations, "station", "stations"),
                hour.n_stations > 0,
                vec![("Add one by hand", "/workshop/clamps/new?what=station")],
            )
        },
        step(
            "Openings",
            "The hours when somebody is here. Work is planned into them; glue hardens and oil cures between them.",
            there(hour.n_openings, "opening", "openings"),
            hour.n_openings > 0,
            vec![
                ("Say when you are open", "/workshop/openings/weekly/new"),
                ("Read them from a file", "/workshop/import?what=openings"),
            ],
        ),
        step(
            "The first ten pieces",
            "Take ten offcuts in hand and write them down, a line each. Every one gets a tag to write on it.",
            if n_pieces == 0 {
                String::new()
            } else {
                format!("{} of {FIRST_PIECES}", n_pieces.min(FIRST_PIECES as usize))
            },
            hour.n_pieces >= FIRST_PIECES,
            if hour.n_bins == 0 {
                vec![("Make a bin first", "/bins/new")]
            } else {
                vec![
                    ("Add pieces", "/offcuts/new"),
                    ("Read them from a file", "/workshop/import?what=offcuts"),
                ]
            },
        ),
        step(
            "The first match",
            "Start a board, arrange its strips, and see which pieces give them.",
            if hour.has_match {
                "made".to_owned()
            } else {
                String::new()
            },
            hour.has_match,
            vec![("Start a project", "/projects/new")],
        ),
    ]
}

async fn show(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    let hour = FirstHour::load(&mut *app.store.read().acquire().await?).await?;
    let steps = steps(&hour);
    page(&StartPage {
        n_done: steps.iter().filter(|step| step.is_done).count(),
        is_over: hour.is_over(),
        steps,
        shell: shell.at(Section::Workshop),
    })
}

async fn add_stations(State(app): State<App>, Steward(caller): Steward) -> Result<Response, Error> {
    let mut db = app.store.begin().await?;
    let n_added = add_usual_stations(&mut db, app.by(&caller)).await?;
    db.commit().await?;
    let says = if n_added == 0 {
        Flash::note("The usual stations are all there already.")
    } else {
        Flash::done(format!(
            "{} added. Change how many there are under clamps and stations.",
            words::counted(n_added, "station is", "stations are")
        ))
    };
    Ok(see_other("/workshop/start").saying(says).response(&app))
}
