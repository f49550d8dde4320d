//! Adding pieces: one with a form, or many at once, one line each.

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;

use super::piece_form::{self, Choices};
use super::{failed, refused};
use crate::app::App;
use crate::app::offcut::{self, OffcutError};
use crate::app::species::Woods;
use crate::store::bin;
use crate::store::offcut::{GrowthRings, NewOffcut, list_species};
use crate::store::{BinId, OffcutId};
use crate::web::{
    Error, Flash, Member, Query, Routes, Section, Shell, Typed, Who, page, page_again, see_other,
};
use crate::wire::quick_entry::{EntryLine, EntryPiece, MOST_LINES, read_lines};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/offcuts/new", Who::Member, new)
        .post("/offcuts", Who::Member, create)
        .post("/offcuts/lines", Who::Member, lines)
}

#[derive(Template)]
#[template(path = "bins/new_piece.html")]
struct NewPage {
    shell: Shell,
    typed: Typed,
    choices: Choices,
    quick: Typed,
    has_bins: bool,
    /// What was understood of the lines, once they have been read.
    read: Vec<ReadLine>,
    n_understood: usize,
}

/// A line as it is shown back.
enum ReadLine {
    Understood {
        count: u32,
        species: String,
        size: String,
    },
    Unclear {
        before: String,
        unclear: String,
        after: String,
        why: String,
    },
}

/// What an address may fill in: the bin, and a piece that another page knows of.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    bin: String,
    species: String,
    length: String,
    width: String,
    thickness: String,
    count: String,
    note: String,
}

impl NewPage {
    async fn new(
        app: &App,
        shell: Shell,
        typed: Typed,
        quick: Typed,
        read: &[EntryLine],
    ) -> Result<NewPage, Error> {
        let woods = Woods::load(app.store.read()).await?;
        let bins = bin::list(app.store.read()).await?;
        let lengths = shell.lengths();
        Ok(NewPage {
            choices: Choices::new(&woods, &bins),
            has_bins: !bins.is_empty(),
            read: read
                .iter()
                .map(|line| match &line.reading {
                    Ok(piece) => ReadLine::Understood {
                        count: piece.count,
                        species: piece.species.clone(),
                        size: format!(
                            "{} × {} × {}",
                            lengths.show(piece.length),
                            lengths.show(piece.width),
                            lengths.show(piece.thickness)
                        ),
                    },
                    Err(unclear) => ReadLine::Unclear {
                        before: line.text[..unclear.from].to_owned(),
                        unclear: line.text[unclear.from..unclear.to].to_owned(),
                        after: line.text[unclear.to..].to_owned(),
                        why: unclear.why.clone(),
                    },
                })
                .collect(),
            n_understood: read.iter().filter(|line| line.reading.is_ok()).count(),
            typed,
            quick,
            shell: shell.at(Section::Bins),
        })
    }
}

/// The form of one piece with what the address fills in.
fn filled(asked: Asked) -> Typed {
    let count = if asked.count.is_empty() {
        "1".to_owned()
    } else {
        asked.count
    };
    Typed::filled([
        ("count", count),
        ("growth_rings", "unknown".to_owned()),
        ("bin", asked.bin),
        ("species", asked.species),
        ("length", asked.length),
        ("width", asked.width),
        ("thickness", asked.thickness),
        ("note", asked.note),
    ])
}

async fn new(
    State(app): State<App>,
    shell: Shell,
    Query(asked): Query<Asked>,
) -> Result<Response, Error> {
    let quick = Typed::filled([("bin", asked.bin.clone())]);
    page(&NewPage::new(&app, shell, filled(asked), quick, &[]).await?)
}

async fn create(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    mut typed: Typed,
) -> Result<Response, Error> {
    if let Some(piece) = piece_form::read(&mut typed, shell.lengths().unit()) {
        let mut db = app.store.begin().await?;
        match offcut::add(&mut db, app.by(&member.0), &piece, None).await {
            Ok(id) => {
                db.commit().await?;
                let tag = tag_of(&app, id).await?;
                return Ok(see_other(format!("/offcuts/{id}"))
                    .saying(Flash::done(format!(
                        "The piece is in the bin. Write {tag} on it."
                    )))
                    .response(&app));
            }
            Err(OffcutError::Wrong(errors)) => piece_form::refuse(&mut typed, &errors),
            Err(other) => return Err(failed(other)),
        }
    }
    let quick = Typed::default();
    page_again(&NewPage::new(&app, shell, typed, quick, &[]).await?)
}

async fn tag_of(app: &App, id: OffcutId) -> Result<String, Error> {
    Ok(crate::store::offcut::find(app.store.read(), id)
        .await?
        .map_or_else(String::new, |piece| piece.tag))
}

/// The piece of a line, of which nothing else is known yet.
pub(in crate::web) fn new_piece(piece: &EntryPiece, bin: BinId) -> NewOffcut {
    NewOffcut {
        species: piece.species.clone(),
        length: piece.length,
        width: piece.width,
        thickness: piece.thickness,
        count: piece.count,
        unusable: Vec::new(),
        square_ends: false,
        straight_edges: false,
        growth_rings: GrowthRings::Unknown,
        moisture_milli: None,
        bin,
        note: String::new(),
    }
}

/// Shows the lines back as they were understood; saves them once somebody has looked and nothing is unclear.
async fn lines(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    mut quick: Typed,
) -> Result<Response, Error> {
    let woods = Woods::load(app.store.read()).await?;
    let names: Vec<String> = woods.list().iter().map(|wood| wood.name.clone()).collect();
    let at_hand = list_species(app.store.read()).await?;
    let text = quick.exact("lines").to_owned();
    let n_lines = text.lines().filter(|line| !line.trim().is_empty()).count();
    if n_lines == 0 {
        quick.refuse("lines", "is empty; must have a piece on each line");
    }
    if n_lines > MOST_LINES {
        quick.refuse(
            "lines",
            format!("has {n_lines} lines; must have at most {MOST_LINES}"),
        );
    }
    let bin = quick.take("bin", |text| {
        text.parse::<BinId>()
            .map_err(|_| "is not chosen; must be one of the list")
    });
    let read = read_lines(&text, &names, &at_hand, shell.lengths().unit());
    let n_unclear = read.iter().filter(|line| line.reading.is_err()).count();
    if n_unclear > 0 {
        let verb = if n_unclear == 1 {
            "line that is"
        } else {
            "lines that are"
        };
        quick.refuse(
            "lines",
            format!("has {n_unclear} {verb} not clear, marked below"),
        );
    }
    let was_shown = quick.exact("shown") == text && !text.is_empty();
    let Some(bin) = bin.filter(|_| quick.is_fine()) else {
        return page_again(
            &NewPage::new(&app, shell, filled(Asked::default()), quick, &read).await?,
        );
    };
    if !was_shown {
        return page(&NewPage::new(&app, shell, filled(Asked::default()), quick, &read).await?);
    }
    let pieces: Vec<(NewOffcut, Option<String>)> = read
        .iter()
        .filter_map(|line| line.reading.as_ref().ok())
        .map(|piece| (new_piece(piece, bin), None))
        .collect();
    let mut db = app.store.begin().await?;
    match offcut::add_many(&mut db, app.by(&member.0), &pieces).await {
        Ok(ids) => {
            db.commit().await.map_err(|error| refused(error.into()))?;
            let mut tags = Vec::new();
            for id in &ids {
                tags.push(tag_of(&app, *id).await?);
            }
            Ok(see_other(format!("/bins/{bin}"))
                .saying(Flash::done(format!(
                    "Added. Write these tags on the pieces, in the order of the lines: {}.",
                    tags.join(", ")
                )))
                .response(&app))
        }
        Err(OffcutError::Wrong(errors)) => {
            for error in errors {
                quick.refuse("lines", format!("{} {}", error.pointer, error.detail));
            }
            page_again(&NewPage::new(&app, shell, filled(Asked::default()), quick, &read).await?)
        }
        Err(other) => Err(failed(other)),
    }
}
