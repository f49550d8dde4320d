//! All bins with a search over their pieces, one bin as shelves, and the forms for bins.

use std::fmt::Display;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use jiff::SignedDuration;
use serde::Deserialize;

use super::{colour_of, refused, species_options};
use crate::app::App;
use crate::app::species::Woods;
use crate::app::strip_search::pieces_for_strip;
use crate::calc::matching::Section as StripSection;
use crate::export::svg::{self, Drawing, Shelved, Style};
use crate::store::bin::{self, Bin, NewBin};
use crate::store::offcut::{self, Offcut, Search, Show, StripWanted};
use crate::store::{BinId, Refusal};
use crate::units::{Length, LengthFormat, Volume};
use crate::web::paging::percent_encoded;
use crate::web::{
    Error, Flash, Path, Query, Routes, Section, Shell, Steward, Typed, Who, line, lines, page,
    page_again, see_other, words,
};

/// Pieces on one page.
const LIMIT: u32 = 60;
/// Pieces drawn on the shelves of one bin.
const MOST_DRAWN: u32 = 120;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/bins", Who::Visitor, list)
        .get("/bins/new", Who::Steward, new)
        .get("/bins/strip", Who::Visitor, strip)
        .post("/bins", Who::Steward, create)
        .get("/bins/{id}", Who::Visitor, show)
        .get("/bins/{id}/edit", Who::Steward, edit)
        .post("/bins/{id}", Who::Steward, update)
        .post("/bins/{id}/remove", Who::Steward, remove)
}

#[derive(Template)]
#[template(path = "bins/list.html")]
struct ListPage {
    shell: Shell,
    typed: Typed,
    is_search: bool,
    bins: Vec<BinLine>,
    /// The form that asks for a strip.
    strip: Typed,
    strip_species: Vec<(String, String)>,
    species: Vec<(String, String)>,
    bin_choices: Vec<(String, String)>,
    ages: Vec<(String, String)>,
    shows: Vec<(String, String)>,
    pieces: Vec<PieceLine>,
    /// The address of the next page.
    next: Option<String>,
}

struct BinLine {
    id: BinId,
    name: String,
    place: String,
    holds: String,
}

/// A piece in a list.
pub(in crate::web::pages) struct PieceLine {
    pub id: i64,
    pub tag: String,
    pub species: String,
    pub size: String,
    pub count: u32,
    pub bin: String,
    pub state: &'static str,
    pub colour: String,
    /// What it could give of a strip that was asked for.
    pub gives: String,
}

impl PieceLine {
    pub fn new(piece: &Offcut, shell: &Shell, woods: &Woods) -> PieceLine {
        PieceLine {
            id: piece.id.0,
            tag: piece.tag.clone(),
            species: piece.species.clone(),
            size: size_of(piece, shell.lengths()),
            count: piece.count,
            bin: piece.bin_name.clone().unwrap_or_default(),
            state: piece.state_word(),
            colour: colour_of(woods, &piece.species).to_string(),
            gives: String::new(),
        }
    }
}

/// `24 in × 3 1/2 in × 3/4 in`.
pub(super) fn size_of(piece: &Offcut, lengths: LengthFormat) -> String {
    let show = |length: Length| lengths.show(length);
    format!(
        "{} × {} × {}",
        show(piece.length),
        show(piece.width),
        show(piece.thickness)
    )
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct Asked {
    text: String,
    species: String,
    length: String,
    width: String,
    thickness: String,
    bin: String,
    age: String,
    show: String,
    before: String,
}

/// How long pieces have been there: the word of the form, the words of the page, and what that asks.
const AGES: [(&str, &str, i64, bool); 5] = [
    ("week", "came within a week", 7, true),
    ("month", "came within a month", 30, true),
    ("over-month", "there for more than a month", 30, false),
    (
        "over-half-year",
        "there for more than half a year",
        182,
        false,
    ),
    ("over-year", "there for more than a year", 365, false),
];

async fn list(
    State(app): State<App>,
    shell: Shell,
    Query(asked): Query<Asked>,
) -> Result<Response, Error> {
    let mut typed = Typed::filled([
        ("text", asked.text.clone()),
        ("species", asked.species.clone()),
        ("length", asked.length.clone()),
        ("width", asked.width.clone()),
        ("thickness", asked.thickness.clone()),
        ("bin", asked.bin.clone()),
        ("age", asked.age.clone()),
        ("show", asked.show.clone()),
    ]);
    let is_search = typed.pairs().any(|(_, value)| !value.is_empty()) || !asked.before.is_empty();
    let woods = Woods::load(app.store.read()).await?;
    let bins = bin::list(app.store.read()).await?;
    let unit = Some(shell.lengths().unit());
    let size = |text: &str| Length::parse_positive(text, unit);
    let least_length = typed.take_if_any("length", size);
    let least_width = typed.take_if_any("width", size);
    let least_thickness = typed.take_if_any("thickness", size);
    let age = AGES.iter().find(|(word, ..)| *word == asked.age);
    let edge = age.map(|(_, _, days, is_young)| {
        let at = app.clock.now() - SignedDuration::from_hours(24 * days);
        (at, *is_young)
    });
    let search = Search {
        show: Show::from_word(&asked.show).unwrap_or(Show::InBin),
        text: Some(asked.text.trim().to_owned()).filter(|text| !text.is_empty()),
        species: Some(asked.species.clone()).filter(|text| !text.is_empty()),
        least_length: least_length.flatten(),
        least_width: least_width.flatten(),
        least_thickness: least_thickness.flatten(),
        bin: asked.bin.parse().ok(),
        added_since: edge.filter(|(_, is_young)| *is_young).map(|(at, _)| at),
        added_before: edge.filter(|(_, is_young)| !*is_young).map(|(at, _)| at),
        before: asked.before.parse().ok(),
        limit: LIMIT + 1,
    };
    let is_fine = typed.is_fine();
    let mut found = if is_search && is_fine {
        offcut::list(app.store.read(), &search).await?
    } else {
        Vec::new()
    };
    let has_more = found.len() > LIMIT as usize;
    found.truncate(LIMIT as usize);
    let next = found
        .last()
        .filter(|_| has_more)
        .map(|last| query_from(&typed, "before", last.id));
    let mut template = ListPage::new(&app, shell, &woods, &bins, typed, Typed::default()).await?;
    template.is_search = is_search;
    template.pieces = found
        .iter()
        .map(|piece| PieceLine::new(piece, &template.shell, &woods))
        .collect();
    template.next = next.map(|query| format!("/bins?{query}"));
    if is_fine {
        page(&template)
    } else {
        page_again(&template)
    }
}

/// What was asked, from a place on.
fn query_from(typed: &Typed, name: &str, place: impl Display) -> String {
    let mut query: Vec<String> = typed
        .pairs()
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| format!("{name}={}", percent_encoded(value)))
        .collect();
    query.push(format!("{name}={place}"));
    query.join("&")
}

impl ListPage {
    /// The page without anything found.
    async fn new(
        app: &App,
        shell: Shell,
        woods: &Woods,
        bins: &[Bin],
        typed: Typed,
        strip: Typed,
    ) -> Result<ListPage, Error> {
        let in_bins = offcut::list_species(app.store.read()).await?;
        let strip_species: Vec<(String, String)> = species_options(woods)
            .into_iter()
            .filter(|(name, _)| in_bins.iter().any(|here| here.eq_ignore_ascii_case(name)))
            .collect();
        let mut bin_choices = vec![(String::new(), "any bin".to_owned())];
        bin_choices.extend(super::bin_options(bins));
        let mut species = vec![(String::new(), "any species".to_owned())];
        species.extend(strip_species.iter().cloned());
        let mut ages = vec![(String::new(), "any age".to_owned())];
        ages.extend(AGES.map(|(word, words, ..)| (word.to_owned(), words.to_owned())));
        let shows = [
            ("", "in a bin"),
            ("free", "free to claim"),
            ("claimed", "claimed"),
            ("cut up", "cut up"),
            ("gone", "gone"),
            ("all", "all that ever were"),
        ];
        Ok(ListPage {
            shell: shell.at(Section::Bins),
            typed,
            is_search: false,
            bins: bins
                .iter()
                .map(|bin| BinLine {
                    id: bin.id,
                    name: bin.name.clone(),
                    place: bin.place.clone(),
                    holds: holds(bin),
                })
                .collect(),
            strip,
            strip_species,
            species,
            bin_choices,
            ages,
            shows: shows
                .map(|(value, words)| (value.to_owned(), words.to_owned()))
                .to_vec(),
            pieces: Vec::new(),
            next: None,
        })
    }
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct Wanted {
    wood: String,
    strip_length: String,
    rip: String,
    stock: String,
    after: String,
}

/// The free pieces that could give a strip.
async fn strip(
    State(app): State<App>,
    shell: Shell,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Error> {
    let mut typed = Typed::filled([
        ("wood", wanted.wood.clone()),
        ("strip_length", wanted.strip_length),
        ("rip", wanted.rip),
        ("stock", wanted.stock),
    ]);
    let woods = Woods::load(app.store.read()).await?;
    let bins = bin::list(app.store.read()).await?;
    let unit = Some(shell.lengths().unit());
    let size = |text: &str| Length::parse_positive(text, unit);
    if let Some(flaw) = woods.flaw(&wanted.wood) {
        typed.refuse("wood", flaw);
    }
    let length = typed.take("strip_length", size);
    let rip = typed.take("rip", size);
    let thickness = typed.take("stock", size);
    let (Some(length), Some(rip), Some(thickness), true) =
        (length, rip, thickness, typed.is_fine())
    else {
        let template = ListPage::new(&app, shell, &woods, &bins, Typed::default(), typed).await?;
        return page_again(&template);
    };
    let mut db = app.store.read().acquire().await?;
    let strip = StripWanted {
        species: wanted.wood,
        length,
        section: StripSection { rip, thickness },
    };
    let after = wanted.after.parse().ok();
    let mut found = pieces_for_strip(&mut db, &strip, after, LIMIT as usize + 1).await?;
    drop(db);
    let has_more = found.len() > LIMIT as usize;
    found.truncate(LIMIT as usize);
    let next = found
        .last()
        .filter(|_| has_more)
        .map(|last| query_from(&typed, "after", last.place()));
    let mut template = ListPage::new(&app, shell, &woods, &bins, Typed::default(), typed).await?;
    template.is_search = true;
    template.pieces = found
        .iter()
        .map(|giving| PieceLine {
            gives: format!("gives {}", words::counted(giving.strips, "strip", "strips")),
            ..PieceLine::new(&giving.piece, &template.shell, &woods)
        })
        .collect();
    template.next = next.map(|query| format!("/bins/strip?{query}"));
    page(&template)
}

fn holds(bin: &Bin) -> String {
    if bin.pieces == 0 {
        return "empty".to_owned();
    }
    let board_feet = Volume::from_mm3(bin.volume_mm3 as f64).board_feet();
    let pieces = if bin.pieces == 1 { "piece" } else { "pieces" };
    format!("{} {pieces}, {board_feet:.1} board feet", bin.pieces)
}

#[derive(Template)]
#[template(path = "bins/shelf.html")]
struct ShelfPage {
    shell: Shell,
    id: BinId,
    name: String,
    place: String,
    holds: String,
    drawing: Option<Drawing>,
    pieces: Vec<PieceLine>,
    next: Option<i64>,
}

#[derive(Deserialize)]
struct From {
    before: Option<i64>,
}

async fn show(
    State(app): State<App>,
    shell: Shell,
    Path(id): Path<BinId>,
    Query(from): Query<From>,
) -> Result<Response, Error> {
    let bin = found(&app, id).await?;
    let woods = Woods::load(app.store.read()).await?;
    let search = Search {
        bin: Some(id),
        before: from.before.map(crate::store::OffcutId),
        limit: MOST_DRAWN + 1,
        ..Search::default()
    };
    let mut pieces = offcut::list(app.store.read(), &search).await?;
    let has_more = pieces.len() > MOST_DRAWN as usize;
    pieces.truncate(MOST_DRAWN as usize);
    let colour = |species: &str| colour_of(&woods, species);
    let style = Style {
        prefix: "shelf",
        width: Style::PHONE,
        lengths: shell.lengths(),
        colour: &colour,
    };
    let stretches: Vec<Vec<(Length, Length)>> = pieces
        .iter()
        .map(|piece| {
            piece
                .unusable
                .iter()
                .map(|part| (part.from, part.to))
                .collect()
        })
        .collect();
    let hrefs: Vec<String> = pieces
        .iter()
        .map(|piece| format!("/offcuts/{}", piece.id))
        .collect();
    let shelved: Vec<Shelved> = pieces
        .iter()
        .zip(&stretches)
        .zip(&hrefs)
        .map(|((piece, unusable), href)| Shelved {
            tag: &piece.tag,
            species: &piece.species,
            length: piece.length,
            width: piece.width,
            count: piece.count,
            unusable,
            is_claimed: piece.held > 0,
            href: Some(href),
        })
        .collect();
    page(&ShelfPage {
        id,
        holds: holds(&bin),
        drawing: (!shelved.is_empty()).then(|| svg::bin(&style, &bin.name, &shelved)),
        pieces: pieces
            .iter()
            .map(|piece| PieceLine::new(piece, &shell, &woods))
            .collect(),
        next: pieces.last().filter(|_| has_more).map(|last| last.id.0),
        name: bin.name,
        place: bin.place,
        shell: shell.at(Section::Bins),
    })
}

async fn found(app: &App, id: BinId) -> Result<Bin, Error> {
    bin::find(app.store.read(), id)
        .await?
        .ok_or_else(|| Error::NotFound(format!("no bin with the number {id}")))
}

#[derive(Template)]
#[template(path = "bins/edit.html")]
struct EditPage {
    shell: Shell,
    typed: Typed,
    id: Option<BinId>,
    is_empty: bool,
}

async fn new(shell: Shell) -> Result<Response, Error> {
    page(&EditPage {
        shell: shell.at(Section::Bins),
        typed: Typed::default(),
        id: None,
        is_empty: false,
    })
}

fn read(typed: &mut Typed) -> Option<NewBin> {
    let name = typed.take("name", |text| line(text, 60));
    let place = typed.take("place", |text| lines(text, 120));
    Some(NewBin {
        name: name?,
        place: place?,
    })
}

async fn create(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    mut typed: Typed,
) -> Result<Response, Error> {
    if let Some(bin) = read(&mut typed) {
        let mut db = app.store.begin().await?;
        match bin::create(&mut db, app.by(&caller), &bin).await {
            Ok(id) => {
                db.commit().await?;
                return Ok(see_other(format!("/bins/{id}"))
                    .saying(Flash::done(format!("{} is there.", bin.name)))
                    .response(&app));
            }
            Err(Refusal::Taken(_)) => typed.refuse("name", "is taken; must be a name of its own"),
            Err(other) => return Err(refused(other)),
        }
    }
    page_again(&EditPage {
        shell: shell.at(Section::Bins),
        typed,
        id: None,
        is_empty: false,
    })
}

async fn edit(
    State(app): State<App>,
    shell: Shell,
    Path(id): Path<BinId>,
) -> Result<Response, Error> {
    let bin = found(&app, id).await?;
    page(&EditPage {
        shell: shell.at(Section::Bins),
        typed: Typed::filled([
            ("name", bin.name),
            ("place", bin.place),
            ("version", bin.version.to_string()),
        ]),
        id: Some(id),
        is_empty: bin.pieces == 0,
    })
}

async fn update(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Path(id): Path<BinId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let before = found(&app, id).await?;
    let version = typed.text("version").parse().unwrap_or(0);
    if let Some(bin) = read(&mut typed) {
        let mut db = app.store.begin().await?;
        match bin::update(&mut db, app.by(&caller), id, version, &bin).await {
            Ok(()) => {
                db.commit().await?;
                return Ok(see_other(format!("/bins/{id}"))
                    .saying(Flash::done(format!("{} is changed.", bin.name)))
                    .response(&app));
            }
            Err(Refusal::Taken(_)) => typed.refuse("name", "is taken; must be a name of its own"),
            Err(other) => return Err(refused(other)),
        }
    }
    page_again(&EditPage {
        shell: shell.at(Section::Bins),
        typed,
        id: Some(id),
        is_empty: before.pieces == 0,
    })
}

async fn remove(
    State(app): State<App>,
    Steward(caller): Steward,
    Path(id): Path<BinId>,
    typed: Typed,
) -> Result<Response, Error> {
    let version = typed.text("version").parse().unwrap_or(0);
    let mut db = app.store.begin().await?;
    match bin::remove(&mut db, app.by(&caller), id, version).await {
        Ok(()) => {}
        Err(Refusal::Reference) => {
            return Err(Error::Conflict(
                "Pieces lie or lay in this bin, and their history names it. Give it another name instead.".to_owned(),
            ));
        }
        Err(other) => return Err(refused(other)),
    }
    db.commit().await?;
    Ok(see_other("/bins")
        .saying(Flash::done("The bin is removed."))
        .response(&app))
}
