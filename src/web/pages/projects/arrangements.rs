//! From what is there: arrangements that the bins can give, to look at and to take.

use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde::Deserialize;

use super::drawn::Drawer;
use super::opened::{Opened, by, error, own};
use super::path::{Head, Here};
use crate::app::App;
use crate::app::arrange::{self, Offer, Order};
use crate::app::matching::MatchError;
use crate::app::project::{self as projects, Draft};
use crate::calc::pattern::{Arrangement, Form};
use crate::export::svg::Drawing;
use crate::store::ProjectId;
use crate::units::LengthFormat;
use crate::web::{
    Error, Flash, Member, Path, Query, Section, Shell, Typed, page, see_other, words,
};
use crate::wire;
use crate::wire::design::{print_arrangement, read_arrangement};

/// For all matches of the page together.
const TIME: Duration = Duration::from_secs(3);

#[derive(Template)]
#[template(path = "projects/arrangements.html")]
struct ArrangementsPage {
    shell: Shell,
    head: Head,
    version: i64,
    offers: Vec<Card>,
    /// The kind has an arrangement at all.
    has_arrangement: bool,
    next_seed: u64,
}

struct Card {
    title: &'static str,
    drawing: Drawing,
    strips: String,
    size: String,
    found: String,
    is_whole: bool,
    waste: String,
    looks: String,
    /// As the form sends it back.
    arrangement: String,
}

#[derive(Deserialize)]
pub(super) struct Asked {
    /// Another seed scatters anew.
    #[serde(default)]
    seed: u64,
}

pub(super) async fn list(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<ProjectId>,
    Query(asked): Query<Asked>,
) -> Result<Response, Error> {
    let opened = Opened::find(&app, id).await?;
    let offers = found(&app, id, asked.seed).await?;
    let lengths = shell.lengths();
    let drawer = Drawer {
        basis: &opened.basis,
        lengths,
    };
    let cards = offers
        .iter()
        .enumerate()
        .map(|(place, offer)| card(place, offer, &drawer, &opened, lengths))
        .collect();
    page(&ArrangementsPage {
        head: opened.head(&member, Here::Design),
        version: opened.project.version,
        has_arrangement: opened.design.arrangement().is_some(),
        offers: cards,
        next_seed: asked.seed.wrapping_add(1) % 1_000_000,
        shell: shell.at(Section::Projects),
    })
}

/// Arrangements that the bins can give, the best first.
///
/// # Errors
/// The project is unknown or has ended, or all solver slots are taken.
pub(in crate::web) async fn found(
    app: &App,
    id: ProjectId,
    seed: u64,
) -> Result<Vec<Offer>, Error> {
    match arrange::offers(app, id, seed, TIME).await {
        Ok(offers) => Ok(offers),
        Err(MatchError::Unknown) => Err(Error::NotFound("There is no such project.".into())),
        Err(MatchError::Ended) => Err(Error::Conflict("The project has ended.".into())),
        Err(MatchError::Busy) => Err(Error::Busy),
        Err(other) => Err(Error::Internal(other.into())),
    }
}

fn card(
    place: usize,
    offer: &Offer,
    drawer: &Drawer<'_>,
    opened: &Opened,
    lengths: LengthFormat,
) -> Card {
    let name = format!("{} {}", opened.project.about.name, place + 1);
    let size = offer.design.finished(&opened.basis.practice);
    let species: Vec<String> = offer
        .arrangement
        .species()
        .into_iter()
        .map(|species| {
            let strips = offer
                .arrangement
                .strips
                .iter()
                .filter(|strip| strip.species == species);
            format!("{} {species}", strips.count())
        })
        .collect();
    let missing = (offer.wanted - offer.covered) as usize;
    let pieces = words::counted(offer.touched as usize, "piece", "pieces");
    Card {
        title: title(offer.order),
        drawing: drawer.small(&format!("offer-{place}-"), &name, &offer.design),
        strips: words::listed(&species),
        size: format!(
            "{} × {}",
            lengths.show(size.length),
            lengths.show(size.width)
        ),
        found: if missing == 0 {
            format!("All {} strips from {pieces}", offer.wanted)
        } else {
            format!(
                "{} of {} strips from {pieces}; {} not found",
                offer.covered,
                offer.wanted,
                words::counted(missing, "strip", "strips")
            )
        },
        is_whole: missing == 0,
        waste: format!(
            "{:.2} board feet of waste",
            offer.waste.board_feet().max(0.0)
        ),
        looks: looks(offer),
        arrangement: print_arrangement(&offer.arrangement).to_string(),
    }
}

pub(in crate::web) fn title(order: Order) -> &'static str {
    match order {
        Order::FreeWidths => "Free widths, as the scraps are",
        Order::Form(Form::Alternating) => "Two woods in turns",
        Order::Form(Form::Banded) => "Bands of three woods",
        Order::Form(Form::LightCentre) => "Light in the middle",
        Order::Form(Form::DarkCentre) => "Dark in the middle",
        Order::Form(Form::Accented) => "One wood with accents",
        Order::Form(Form::Graded) => "From dark to light",
        Order::Form(Form::Scattered) => "Scattered",
        Order::Form(Form::ScatteredMirrored) => "Scattered and mirrored",
    }
}

/// How it does under the stated rules, in words.
fn looks(offer: &Offer) -> String {
    let look = offer.look;
    let symmetry = if look.symmetric {
        "Symmetric"
    } else {
        "Not symmetric"
    };
    let neighbours = match look.equal_neighbours {
        0 => "no equal neighbours".to_owned(),
        pairs => words::counted(
            pairs,
            "pair of equal neighbours",
            "pairs of equal neighbours",
        ),
    };
    let contrast = match look.contrast {
        contrast if contrast >= 0.3 => "strong contrast",
        contrast if contrast >= 0.12 => "some contrast",
        _ => "little contrast",
    };
    format!("{symmetry}, {neighbours}, {contrast}")
}

/// Makes an arrangement that was shown the project's own.
pub(super) async fn take(
    State(app): State<App>,
    member: Member,
    Path(id): Path<ProjectId>,
    typed: Typed,
) -> Result<Response, Error> {
    let arrangement = read_arrangement(typed.text("arrangement").as_bytes())
        .map_err(|wire::Problem { errors, .. }| Error::Wrong(errors))?;
    let version = typed.text("version").parse::<i64>().unwrap_or_default();
    take_arrangement(&app, &member, id, version, arrangement).await?;
    Ok(see_other(format!("/projects/{id}"))
        .saying(Flash::done("The arrangement is saved."))
        .response(&app))
}

/// Puts an arrangement into the project's design.
///
/// # Errors
/// The kind has none, or somebody changed the project since `version`.
pub(in crate::web) async fn take_arrangement(
    app: &App,
    member: &Member,
    id: ProjectId,
    version: i64,
    arrangement: Arrangement,
) -> Result<(), Error> {
    own(app, member, id).await?;
    let opened = Opened::find(app, id).await?;
    let design = opened
        .design
        .with_arrangement(arrangement)
        .ok_or_else(|| Error::Conflict("This kind has no arrangement of strips.".into()))?;
    let about = opened.project.about.clone();
    let draft = Draft {
        name: about.name,
        design,
        practice: about.practice,
        due_day: about.due_day,
        note: about.note,
    };
    let mut db = app.store.begin().await?;
    projects::edit(&mut db, by(app, member), id, version, &draft)
        .await
        .map_err(error)?;
    db.commit().await?;
    Ok(())
}
