//! What the calculations take where nothing is said, and what this workshop has set instead.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use crate::app::App;
use crate::app::settings::{ALLOWANCES, FINISHING, Figure, GLUING};
use crate::calc::work::{Per, Practice, StepKind};
use crate::store::settings::{Cutting, Settings};
use crate::store::workshop;
use crate::units::{Length, LengthFormat, Source};
use crate::web::{Error, Section, Shell, page};

#[derive(Template)]
#[template(path = "reference/defaults.html")]
struct DefaultsPage {
    shell: Shell,
    groups: Vec<Group>,
}

struct Group {
    heading: &'static str,
    says: &'static str,
    /// What it is, its name in JSON, the usual value, and this workshop's where it differs.
    rows: Vec<Row>,
    source: String,
}

struct Row {
    what: String,
    name: &'static str,
    usual: String,
    ours: Option<String>,
}

pub(super) async fn show(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    let settings = workshop::get(app.store.read()).await?.settings;
    let lengths = shell.lengths();
    page(&DefaultsPage {
        groups: groups(&settings, lengths),
        shell: shell.at(Section::Reference),
    })
}

fn groups(settings: &Settings, lengths: LengthFormat) -> Vec<Group> {
    let practice = Practice::default();
    let figures = |heading, says, figures: &'static [Figure]| Group {
        heading,
        says,
        rows: figures
            .iter()
            .map(|figure| Row {
                what: figure.label.to_owned(),
                name: figure.name,
                usual: figure.said((figure.usual)(&practice), lengths),
                ours: (figure.get)(&settings.practice).map(|value| figure.said(value, lengths)),
            })
            .collect(),
        source: Source::PRACTICE.to_string(),
    };
    vec![
        cutting(settings, lengths),
        figures(
            "Wood that a cut piece has more than the finished one",
            "The fields of “practice” of a project.",
            &ALLOWANCES,
        ),
        figures(
            "Gluing",
            "Open time and time in the clamps follow the glue that is chosen; these hold without one.",
            &GLUING,
        ),
        figures(
            "Finishing",
            "Coats and waits follow the finish that is chosen; these hold without one.",
            &FINISHING,
        ),
        steps(settings),
    ]
}

/// Every field of `shop` in a matching problem.
fn cutting(settings: &Settings, lengths: LengthFormat) -> Group {
    let usual = Cutting::default();
    let ours = settings.cutting;
    let row = |what: &str, name, usual: Length, ours: Length| Row {
        what: what.to_owned(),
        name,
        usual: lengths.show_exact(usual),
        ours: (usual != ours).then(|| lengths.show_exact(ours)),
    };
    let share = |thousandths: u16| format!("{}", f64::from(thousandths) / 1000.0);
    let (credit, our_credit) = (usual.keep_credit_thousandths, ours.keep_credit_thousandths);
    Group {
        heading: "Cutting",
        says: "The fields of “shop” in a match. A calculation without a workshop takes the usual ones.",
        rows: vec![
            row(
                "Kerf when ripping",
                "rip_kerf",
                usual.rip_kerf,
                ours.rip_kerf,
            ),
            row(
                "Kerf when crosscutting",
                "crosscut_kerf",
                usual.crosscut_kerf,
                ours.crosscut_kerf,
            ),
            row("Edge trim", "edge_trim", usual.edge_trim, ours.edge_trim),
            row(
                "End trim, at each end",
                "end_trim",
                usual.end_trim,
                ours.end_trim,
            ),
            row(
                "Shortest section that is ripped",
                "min_rip_length",
                usual.min_rip_length,
                ours.min_rip_length,
            ),
            row(
                "Shortest remainder that is kept",
                "keep_length",
                usual.keep_length,
                ours.keep_length,
            ),
            row(
                "Narrowest remainder that is kept",
                "keep_width",
                usual.keep_width,
                ours.keep_width,
            ),
            Row {
                what: "Share of a kept remainder that counts as not used".to_owned(),
                name: "keep_credit",
                usual: share(credit),
                ours: (credit != our_credit).then(|| share(our_credit)),
            },
        ],
        source: Source::PRACTICE.to_string(),
    }
}

fn steps(settings: &Settings) -> Group {
    let worked = StepKind::ALL
        .into_iter()
        .filter(|kind| kind.row().minutes > 0);
    Group {
        heading: "Minutes of steps",
        says: "What a step takes: once, for each strip, slice or disc, or for one face of a board of 18 by 10 in.",
        rows: worked
            .map(|kind| {
                let row = kind.row();
                let per = match row.per {
                    Per::Job => "",
                    Per::Piece => " each",
                    Per::BoardFace => " a face",
                };
                let said = |minutes: u32| format!("{minutes} min{per}");
                let ours = settings.practice.step_minutes.get(row.key);
                Row {
                    what: row.name.to_owned(),
                    name: row.key,
                    usual: said(row.minutes),
                    ours: ours.copied().map(said),
                }
            })
            .collect(),
        source: Source::PRACTICE.to_string(),
    }
}
