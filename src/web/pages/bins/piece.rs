//! One piece: what it is, where it lies, who claims it, and the few things that one does at the bin.

use std::time::Duration;

use askama::Template;
use axum::extract::{Multipart, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};

use super::piece_form::{self, Choices};
use super::shelves::size_of;
use super::{bin_options, colour_of, failed, refused};
use crate::app::claim::{self, ClaimError};
use crate::app::matching::{self, MatchError};
use crate::app::offcut::{self as use_case, BrokenClaims, OffcutError};
use crate::app::photo as photos;
use crate::app::species::Woods;
use crate::app::{App, days};
use crate::export::qr::QrCode;
use crate::export::svg::{self, Drawing, OffcutFace, Style};
use crate::store::offcut::{self, Offcut};
use crate::store::project::Project;
use crate::store::{
    BinId, ClaimId, OffcutId, ProjectId, bin, claim as claims, ledger, photo, project, workshop,
};
use crate::units::{Length, LengthFormat, Volume};
use crate::web::{
    Error, Flash, Member, Path, Routes, Section, Shell, Typed, Who, lines, page, page_again,
    see_other, words,
};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/t/{tag}", Who::Visitor, by_tag)
        .get("/offcuts/{id}", Who::Visitor, show)
        .get("/offcuts/{id}/edit", Who::Member, edit)
        .post("/offcuts/{id}", Who::Member, update)
        .post("/offcuts/{id}/move", Who::Member, move_to)
        .post("/offcuts/{id}/used-up", Who::Member, used_up)
        .post_solve("/offcuts/{id}/claim", Who::Member, claim_for)
        .get("/offcuts/{id}/photo", Who::Visitor, show_photo)
        .post_upload(
            "/offcuts/{id}/photo",
            Who::Member,
            photos::MOST_BYTES + 64 * 1024,
            put_photo,
        )
        .post("/offcuts/{id}/photo/remove", Who::Member, remove_photo)
}

#[derive(Template)]
#[template(path = "bins/piece.html")]
struct PiecePage {
    shell: Shell,
    piece: Offcut,
    size: String,
    board_feet: String,
    moisture: Option<String>,
    state: &'static str,
    drawing: Drawing,
    code: Option<Drawing>,
    bins: Vec<(String, String)>,
    place: Typed,
    away: Typed,
    claims: Vec<ClaimLine>,
    parent: Option<(OffcutId, String)>,
    children: Vec<(OffcutId, String, String)>,
    history: Vec<HistoryLine>,
    food: Option<(String, String)>,
    /// Projects of the member that looks, which could still want wood.
    projects: Vec<(String, String)>,
}

struct ClaimLine {
    who: String,
    project: i64,
    project_name: String,
    pieces: u32,
    until: String,
    /// Its number, where the one who looks may put the pieces back.
    put_back: Option<ClaimId>,
}

struct HistoryLine {
    day: String,
    what: &'static str,
    who: String,
    pieces: i64,
    why: String,
}

pub(in crate::web) async fn found(app: &App, id: OffcutId) -> Result<Offcut, Error> {
    offcut::find(app.store.read(), id)
        .await?
        .ok_or_else(|| Error::NotFound(format!("no piece with the number {id}")))
}

/// The piece to scale, with its grain.
pub(in crate::web) fn face(piece: &Offcut, woods: &Woods, lengths: LengthFormat) -> Drawing {
    let colour = |species: &str| colour_of(woods, species);
    let unusable: Vec<(Length, Length)> = piece
        .unusable
        .iter()
        .map(|part| (part.from, part.to))
        .collect();
    svg::offcut(
        &Style {
            prefix: "piece",
            width: Style::PHONE,
            lengths,
            colour: &colour,
        },
        &OffcutFace {
            tag: &piece.tag,
            species: &piece.species,
            length: piece.length,
            width: piece.width,
            thickness: piece.thickness,
            unusable: &unusable,
        },
    )
}

/// What a scanned label opens.
async fn by_tag(State(app): State<App>, Path(tag): Path<String>) -> Result<Response, Error> {
    let piece = offcut::find_by_tag(app.store.read(), tag.trim())
        .await?
        .ok_or_else(|| {
            let tag: String = tag.chars().take(20).collect();
            Error::NotFound(format!("no piece with the tag {tag}"))
        })?;
    Ok(see_other(format!("/offcuts/{}", piece.id)).response(&app))
}

impl PiecePage {
    async fn new(
        app: &App,
        shell: Shell,
        piece: Offcut,
        place: Typed,
        away: Typed,
    ) -> Result<PiecePage, Error> {
        let zone = workshop::get(app.store.read()).await?.time_zone;
        let woods = Woods::load(app.store.read()).await?;
        let bins = bin::list(app.store.read()).await?;
        let claims = claims::list_held_of_offcut(app.store.read(), piece.id).await?;
        let rows = ledger::list_of_offcut(app.store.read(), piece.id).await?;
        let children = offcut::list_cut_from(app.store.read(), piece.id).await?;
        let projects = match &shell.caller {
            Some(caller) => {
                let search = project::Search {
                    member: Some(caller.member.id),
                    stage: None,
                    ended: false,
                    before: None,
                    limit: 50,
                };
                project::list(app.store.read(), &search)
                    .await?
                    .into_iter()
                    .map(|project| (project.id.to_string(), project.about.name))
                    .collect()
            }
            None => Vec::new(),
        };
        let parent = match piece.parent {
            Some(id) => offcut::find(app.store.read(), id)
                .await?
                .map(|parent| (parent.id, parent.tag)),
            None => None,
        };
        let drawing = face(&piece, &woods, shell.lengths());
        let address = format!("{}/t/{}", app.config.public_url, piece.tag);
        let volume = Volume::of(piece.length, piece.width, piece.thickness);
        Ok(PiecePage {
            size: size_of(&piece, shell.lengths()),
            board_feet: format!("{:.2}", volume.board_feet()),
            moisture: piece
                .moisture_milli
                .map(|milli| format!("{:.1} %", milli as f64 / 1000.0)),
            state: piece.state_word(),
            drawing,
            code: QrCode::new(&address)
                .ok()
                .map(|code| code.drawing("code", &format!("Code of {}", piece.tag), &address)),
            bins: bin_options(&bins),
            claims: claims
                .iter()
                .map(|claim| ClaimLine {
                    who: claim.member_name.clone(),
                    project: claim.project.0,
                    project_name: claim.project_name.clone(),
                    pieces: claim.pieces,
                    until: words::day(claim.last_day),
                    put_back: shell
                        .caller
                        .as_ref()
                        .filter(|caller| caller.is_steward() || caller.member.id == claim.member)
                        .map(|_| claim.id),
                })
                .collect(),
            parent,
            children: children
                .iter()
                .map(|child| (child.id, child.tag.clone(), size_of(child, shell.lengths())))
                .collect(),
            history: rows
                .iter()
                .map(|row| HistoryLine {
                    day: words::day(days::day_of(row.at, &zone)),
                    what: row.what.word(),
                    who: row
                        .member_name
                        .clone()
                        .unwrap_or_else(|| "the program".to_owned()),
                    pieces: row.pieces,
                    why: row.why.clone(),
                })
                .collect(),
            food: woods
                .find(&piece.species)
                .map(|wood| (wood.food.word().to_owned(), wood.food_reason.clone())),
            projects,
            piece,
            place,
            away,
            shell: shell.at(Section::Bins),
        })
    }
}

fn place_form(piece: &Offcut) -> Typed {
    Typed::filled([
        (
            "bin",
            piece.bin.map_or_else(String::new, |bin| bin.to_string()),
        ),
        ("version", piece.version.to_string()),
    ])
}

fn away_form(piece: &Offcut) -> Typed {
    Typed::filled([("pieces", piece.free().max(1).to_string())])
}

async fn show(
    State(app): State<App>,
    shell: Shell,
    Path(id): Path<OffcutId>,
) -> Result<Response, Error> {
    let piece = found(&app, id).await?;
    let (place, away) = (place_form(&piece), away_form(&piece));
    page(&PiecePage::new(&app, shell, piece, place, away).await?)
}

async fn move_to(
    State(app): State<App>,
    member: Member,
    Path(id): Path<OffcutId>,
    typed: Typed,
) -> Result<Response, Error> {
    let piece = found(&app, id).await?;
    let to: BinId = typed
        .text("bin")
        .parse()
        .map_err(|_| Error::Malformed("The form names no bin.".to_owned()))?;
    let version = typed.text("version").parse().unwrap_or(0);
    let mut db = app.store.begin().await?;
    use_case::move_to(&mut db, app.by(&member.0), id, version, to)
        .await
        .map_err(failed)?;
    db.commit().await?;
    let name = bin::find(app.store.read(), to)
        .await?
        .map_or_else(String::new, |bin| bin.name);
    Ok(see_other(format!("/offcuts/{id}"))
        .saying(Flash::done(format!("{} lies in {name} now.", piece.tag)))
        .response(&app))
}

async fn used_up(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<OffcutId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let piece = found(&app, id).await?;
    let pieces = typed.take("pieces", |text| {
        text.parse::<u32>()
            .map_err(|_| format!("is {text:?}; must be a whole number"))
    });
    let why = typed.take("why", |text| lines(text, 200));
    if let (Some(pieces), Some(why)) = (pieces, why) {
        let mut db = app.store.begin().await?;
        match use_case::take_away(
            &mut db,
            app.by(&member.0),
            id,
            pieces,
            &why,
            BrokenClaims::Refuse,
        )
        .await
        {
            Ok(()) => {
                db.commit().await?;
                return Ok(see_other(format!("/offcuts/{id}"))
                    .saying(Flash::done(format!(
                        "Taken out of the bin: {pieces} of {}.",
                        piece.tag
                    )))
                    .response(&app));
            }
            Err(OffcutError::Wrong(errors)) => {
                for error in errors {
                    typed.refuse("pieces", error.detail);
                }
            }
            Err(OffcutError::Claimed(claims)) => {
                let whose: Vec<String> = claims
                    .iter()
                    .map(|claim| claim.member_name.clone())
                    .collect();
                typed.refuse(
                    "pieces",
                    format!(
                        "is more than is free: {} claimed some; they must be let go first",
                        whose.join(" and ")
                    ),
                );
            }
            Err(other) => return Err(failed(other)),
        }
    }
    let place = place_form(&piece);
    page_again(&PiecePage::new(&app, shell, piece, place, typed).await?)
}

/// How long somebody waits who stands at the bin; one piece takes far less.
const WAIT: Duration = Duration::from_secs(3);

/// What became of a wish for a single piece.
pub(in crate::web) enum PieceClaim {
    /// Claimed; it gives so many strips.
    Gives(u32),
    /// The project wants no more wood.
    NothingWanted,
    /// The piece gives no strip, for this reason.
    GivesNone(String),
}

/// Claims what one piece can give a project, if it can give something.
///
/// # Errors
/// The project is not the caller's or has ended, or somebody was quicker.
pub(in crate::web) async fn claim_piece(
    app: &App,
    member: &Member,
    lengths: LengthFormat,
    piece: &Offcut,
    wanted: &Project,
) -> Result<PieceClaim, Error> {
    member.require_owner(wanted.member)?;
    let by = app.by(&member.0);
    let kept = match matching::find_in_piece(app, by, wanted.id, &piece.tag, WAIT).await {
        Ok(kept) => kept,
        Err(MatchError::NothingWanted) => return Ok(PieceClaim::NothingWanted),
        Err(MatchError::Busy) => return Err(Error::Busy),
        Err(MatchError::Ended) => {
            return Err(Error::Conflict("The project has ended.".to_owned()));
        }
        Err(error) => return Err(Error::Internal(error.into())),
    };
    if kept.outcome.covered == 0 {
        let why = kept.outcome.uncovered.first();
        return Ok(PieceClaim::GivesNone(
            why.map_or_else(String::new, |strip| strip.why.show(lengths)),
        ));
    }
    let mut db = app.store.begin().await?;
    match claim::claim_match(&mut db, by, wanted.member, wanted.id).await {
        Ok(_) => db.commit().await?,
        Err(ClaimError::Store(refusal)) => return Err(refused(refusal)),
        Err(error) => return Err(Error::Conflict(format!("Nothing is claimed: {error}."))),
    }
    Ok(PieceClaim::Gives(kept.outcome.covered))
}

async fn claim_for(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<OffcutId>,
    typed: Typed,
) -> Result<Response, Error> {
    let piece = found(&app, id).await?;
    let to: ProjectId = typed
        .text("project")
        .parse()
        .map_err(|_| Error::Malformed("The form names no project.".to_owned()))?;
    let wanted = project::find(app.store.read(), to)
        .await?
        .ok_or_else(|| Error::NotFound("no such project".to_owned()))?;
    let name = &wanted.about.name;
    let (back, says) = match claim_piece(&app, &member, shell.lengths(), &piece, &wanted).await? {
        PieceClaim::Gives(strips) => {
            let strips = words::counted(strips as usize, "strip", "strips");
            let says = format!("{} is claimed for {name} and gives {strips}.", piece.tag);
            (format!("/projects/{to}/match"), Flash::done(says))
        }
        PieceClaim::NothingWanted => (
            format!("/offcuts/{id}"),
            Flash::note(format!(
                "{name} wants no more wood: every strip is claimed or cut."
            )),
        ),
        PieceClaim::GivesNone(why) => (
            format!("/offcuts/{id}"),
            Flash::note(format!("{} gives no strip of {name}. {why}", piece.tag)),
        ),
    };
    Ok(see_other(back).saying(says).response(&app))
}

#[derive(Template)]
#[template(path = "bins/edit_piece.html")]
struct EditPage {
    shell: Shell,
    typed: Typed,
    choices: Choices,
    id: OffcutId,
    tag: String,
    /// What somebody else wrote meanwhile, in the same form.
    newer: Option<Typed>,
}

async fn choices(app: &App) -> Result<Choices, Error> {
    let woods = Woods::load(app.store.read()).await?;
    Ok(Choices::new(&woods, &bin::list(app.store.read()).await?))
}

async fn edit(
    State(app): State<App>,
    shell: Shell,
    Path(id): Path<OffcutId>,
) -> Result<Response, Error> {
    let piece = found(&app, id).await?;
    page(&EditPage {
        typed: piece_form::fill(&piece, shell.lengths()),
        choices: choices(&app).await?,
        id,
        tag: piece.tag,
        newer: None,
        shell: shell.at(Section::Bins),
    })
}

async fn update(
    State(app): State<App>,
    shell: Shell,
    member: Member,
    Path(id): Path<OffcutId>,
    mut typed: Typed,
) -> Result<Response, Error> {
    let before = found(&app, id).await?;
    let version: i64 = typed.text("version").parse().unwrap_or(0);
    let mut newer = None;
    if let Some(piece) = piece_form::read(&mut typed, shell.lengths().unit()) {
        let mut db = app.store.begin().await?;
        let why = typed.text("why").to_owned();
        let done = use_case::edit(
            &mut db,
            app.by(&member.0),
            id,
            version,
            &piece,
            &why,
            BrokenClaims::Refuse,
        )
        .await;
        match done {
            Ok(()) => {
                db.commit().await?;
                return Ok(see_other(format!("/offcuts/{id}"))
                    .saying(Flash::done(format!("{} is corrected.", before.tag)))
                    .response(&app));
            }
            Err(OffcutError::Wrong(errors)) => piece_form::refuse(&mut typed, &errors),
            Err(OffcutError::Stale) => {
                typed.refuse(
                    "version",
                    "was changed by somebody else meanwhile; theirs is shown below. Nothing of yours is saved yet",
                );
                newer = Some(piece_form::fill(&before, shell.lengths()));
            }
            Err(OffcutError::Claimed(claims)) => {
                let whose: Vec<String> = claims
                    .iter()
                    .map(|claim| claim.member_name.clone())
                    .collect();
                typed.refuse(
                    "count",
                    format!(
                        "or size would take wood that {} claimed; they must let go first",
                        whose.join(" and ")
                    ),
                );
            }
            Err(other) => return Err(failed(other)),
        }
    }
    page_again(&EditPage {
        typed,
        choices: choices(&app).await?,
        id,
        tag: before.tag,
        newer,
        shell: shell.at(Section::Bins),
    })
}

/// The photo of a piece, as pages and scripts get it.
pub(in crate::web) async fn show_photo(
    State(app): State<App>,
    Path(id): Path<OffcutId>,
) -> Result<Response, Error> {
    let photo = photo::find(app.store.read(), id)
        .await?
        .ok_or_else(|| Error::NotFound("no photo of this piece".to_owned()))?;
    let media_type = HeaderValue::from_str(&photo.image.media_type)
        .unwrap_or(HeaderValue::from_static("application/octet-stream"));
    Ok((
        [
            (header::CONTENT_TYPE, media_type),
            (
                header::CACHE_CONTROL,
                HeaderValue::from_static("private, max-age=300"),
            ),
        ],
        photo.image.bytes,
    )
        .into_response())
}

async fn put_photo(
    State(app): State<App>,
    member: Member,
    Path(id): Path<OffcutId>,
    mut form: Multipart,
) -> Result<Response, Error> {
    found(&app, id).await?;
    let unreadable =
        || Error::Malformed("The form cannot be read; choose the file again.".to_owned());
    let mut bytes = None;
    while let Some(field) = form.next_field().await.map_err(|_| unreadable())? {
        if field.name() == Some("photo") {
            bytes = Some(field.bytes().await.map_err(|_| Error::TooLarge)?);
        }
    }
    let bytes = bytes
        .filter(|bytes| !bytes.is_empty())
        .ok_or_else(unreadable)?;
    let prepared = tokio::task::spawn_blocking(move || photos::prepare(&bytes))
        .await
        .map_err(|error| Error::Internal(error.into()))?;
    let prepared = match prepared {
        Ok(prepared) => prepared,
        Err(error) => {
            return Ok(see_other(format!("/offcuts/{id}"))
                .saying(Flash::note(format!("The photo {error}.")))
                .response(&app));
        }
    };
    let mut db = app.store.begin().await?;
    photo::put(&mut db, app.by(&member.0), id, &prepared)
        .await
        .map_err(refused)?;
    db.commit().await?;
    Ok(see_other(format!("/offcuts/{id}"))
        .saying(Flash::done("The photo is kept."))
        .response(&app))
}

async fn remove_photo(
    State(app): State<App>,
    member: Member,
    Path(id): Path<OffcutId>,
) -> Result<Response, Error> {
    found(&app, id).await?;
    let mut db = app.store.begin().await?;
    photo::remove(&mut db, app.by(&member.0), id)
        .await
        .map_err(refused)?;
    db.commit().await?;
    Ok(see_other(format!("/offcuts/{id}"))
        .saying(Flash::done("The photo is removed."))
        .response(&app))
}
