//! What one does with a piece at the bin: many at once by lines, claims, photos, drawings, labels.

use axum::body::Bytes;
use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_axum::routes;

use super::offcuts::{OffcutBody, answer};
use super::read;
use crate::app::App;
use crate::app::offcut::add_many;
use crate::app::photo as photos;
use crate::app::species::Woods;
use crate::store::offcut::{self, list_species};
use crate::store::{BinId, OffcutId, ProjectId, photo, project};
use crate::web::pages::bins::entry::new_piece;
use crate::web::pages::bins::labels::{self, make, pdf};
use crate::web::pages::bins::piece::{PieceClaim, claim_piece, face, found, show_photo};
use crate::web::pages::stock_error;
use crate::web::{Error, Json, JsonBody, Member, Path, Query, Routes, Shell, Who};
use crate::wire::FieldError;
use crate::wire::length::to_json;
use crate::wire::quick_entry::{EntryLine, MOST_LINES, read_lines};

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(add_lines))
        .api(Who::Visitor, routes!(find_offcut_by_tag))
        .api_solve(Who::Member, routes!(claim_offcut))
        .api(Who::Visitor, routes!(find_photo))
        .api_upload(Who::Member, photos::MOST_BYTES, routes!(put_photo))
        .api(Who::Member, routes!(remove_photo))
        .api(Who::Visitor, routes!(draw_offcut))
        .api(Who::Visitor, routes!(print_labels))
}

/// Pieces as people say them, a line each: `walnut 24 x 3 1/2 x 3/4 x4`.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what is read by hand, so that every flaw is told at once"
)]
struct Lines {
    #[schema(example = json!(["walnut 24 x 3 1/2 x 3/4 x4", "hard maple 610x89x19 mm"]))]
    lines: Vec<String>,
    /// The number of the bin.
    #[schema(example = 1)]
    bin: i64,
    /// Only say how the lines are understood.
    #[schema(example = true)]
    dry_run: Option<bool>,
}

/// A line as it was understood, or what of it is not clear.
#[derive(Serialize, ToSchema)]
struct LineBody {
    #[schema(example = "walnut 24 x 3 1/2 x 3/4 x4")]
    line: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    understood: Option<UnderstoodBody>,
    #[serde(skip_serializing_if = "Option::is_none")]
    unclear: Option<UnclearBody>,
}

/// Lengths are millimetres.
#[derive(Serialize, ToSchema)]
struct UnderstoodBody {
    #[schema(example = "black walnut")]
    species: String,
    #[schema(value_type = f64, example = 609.6)]
    length: Value,
    #[schema(value_type = f64, example = 88.9)]
    width: Value,
    #[schema(value_type = f64, example = 19.05)]
    thickness: Value,
    #[schema(example = 4)]
    count: u32,
}

/// Bytes `from` to `to` of the line in UTF-8.
#[derive(Serialize, ToSchema)]
struct UnclearBody {
    from: usize,
    to: usize,
    why: String,
}

#[derive(Serialize, ToSchema)]
struct LinesBody {
    items: Vec<LineBody>,
    /// The pieces that were added, in the order of the lines; none in a dry run.
    added: Vec<OffcutBody>,
}

impl LineBody {
    fn new(line: &EntryLine) -> LineBody {
        LineBody {
            line: line.text.clone(),
            understood: line.reading.as_ref().ok().map(|piece| UnderstoodBody {
                species: piece.species.clone(),
                length: to_json(piece.length),
                width: to_json(piece.width),
                thickness: to_json(piece.thickness),
                count: piece.count,
            }),
            unclear: line.reading.as_ref().err().map(|unclear| UnclearBody {
                from: unclear.from,
                to: unclear.to,
                why: unclear.why.clone(),
            }),
        }
    }
}

/// Add pieces by lines, all or none; a number without a unit is in the caller's.
///
/// With `dry_run` nothing is added, and every line is shown back as it is understood.
#[utoipa::path(post, path = "/api/v1/offcuts/lines", tag = "bins", security(("token" = [])), request_body = Lines,
    responses((status = 200, body = LinesBody, description = "A dry run"), (status = 201, body = LinesBody)))]
async fn add_lines(
    State(app): State<App>,
    member: Member,
    body: JsonBody,
) -> Result<Response, Error> {
    let (lines, bin, dry_run) = read(&body, |node| {
        let body = node.object(&["lines", "bin", "dry_run"])?;
        let lines = body.required("lines", |field| {
            let lines = field.list_of_at_most(MOST_LINES, |line| {
                let text = line.text()?;
                if text.trim().lines().count() > 1 {
                    return line.refuse("is more than one line; must be a piece");
                }
                Some(text.trim().to_owned())
            })?;
            if lines.is_empty() {
                return field.refuse("is empty; must have a piece on each line");
            }
            Some(lines)
        });
        let bin = body.required("bin", |field| field.whole(1..=i64::MAX));
        let dry_run = body.optional("dry_run", |field| field.boolean());
        Some((lines?, BinId(bin?), dry_run.unwrap_or(false)))
    })?;
    let woods = Woods::load(app.store.read()).await?;
    let names: Vec<String> = woods.list().iter().map(|wood| wood.name.clone()).collect();
    let at_hand = list_species(app.store.read()).await?;
    let unit = member.0.member.lengths.unit();
    let read = read_lines(&lines.join("\n"), &names, &at_hand, unit);
    let items: Vec<LineBody> = read.iter().map(LineBody::new).collect();
    if dry_run {
        let added = Vec::new();
        return Ok(Json(LinesBody { items, added }).into_response());
    }
    let mut pieces = Vec::new();
    let mut unclear = Vec::new();
    for (place, line) in read.iter().enumerate() {
        match &line.reading {
            Ok(piece) => pieces.push((new_piece(piece, bin), None)),
            Err(error) => unclear.push(FieldError {
                pointer: format!("/lines/{place}"),
                detail: format!(
                    "has {:?}, which {}",
                    &line.text[error.from..error.to],
                    error.why
                ),
            }),
        }
    }
    if !unclear.is_empty() {
        return Err(Error::Wrong(unclear));
    }
    let mut db = app.store.begin().await?;
    let ids = add_many(&mut db, app.by(&member.0), &pieces)
        .await
        .map_err(stock_error)?;
    db.commit().await?;
    let mut added = Vec::new();
    for id in ids {
        added.push(OffcutBody::new(&found(&app, id).await?));
    }
    Ok((StatusCode::CREATED, Json(LinesBody { items, added })).into_response())
}

/// The piece with a tag, as a scanned label says it.
#[utoipa::path(get, path = "/api/v1/offcuts/by-tag/{tag}", tag = "bins", security((), ("token" = [])),
    params(("tag" = String, Path, example = "A017")), responses((status = 200, body = OffcutBody)))]
async fn find_offcut_by_tag(
    State(app): State<App>,
    Path(tag): Path<String>,
) -> Result<Response, Error> {
    let piece = offcut::find_by_tag(app.store.read(), tag.trim())
        .await?
        .ok_or_else(|| {
            let tag: String = tag.chars().take(20).collect();
            Error::NotFound(format!("There is no piece with the tag {tag}."))
        })?;
    answer(&app, piece.id).await
}

/// For which project a piece is wanted.
#[derive(ToSchema)]
#[expect(
    dead_code,
    reason = "documents what is read by hand, so that every flaw is told at once"
)]
struct Wanted {
    #[schema(example = 7)]
    project: i64,
}

#[derive(Serialize, ToSchema)]
struct PieceClaimBody {
    /// How many strips the piece gives; with none it is not claimed.
    strips: u32,
    /// Why it gives none.
    #[serde(skip_serializing_if = "String::is_empty")]
    why: String,
}

/// Claim what one piece can give a project, if it can give something.
#[utoipa::path(post, path = "/api/v1/offcuts/{id}/claims", tag = "bins", security(("token" = [])), request_body = Wanted,
    params(("id" = i64, Path, example = 1)),
    responses((status = 200, body = PieceClaimBody, description = "It gives nothing, and is not claimed"),
        (status = 201, body = PieceClaimBody)))]
async fn claim_offcut(
    State(app): State<App>,
    member: Member,
    Path(id): Path<OffcutId>,
    body: JsonBody,
) -> Result<Response, Error> {
    let project_id = read(&body, |node| {
        let body = node.object(&["project"])?;
        body.required("project", |field| field.whole(1..=i64::MAX))
    })?;
    let piece = found(&app, id).await?;
    let wanted = project::find(app.store.read(), ProjectId(project_id))
        .await?
        .ok_or_else(|| {
            Error::Wrong(vec![FieldError {
                pointer: "/project".to_owned(),
                detail: format!("is {project_id}; must be the number of a project"),
            }])
        })?;
    let lengths = member.0.member.lengths;
    let (status, strips, why) = match claim_piece(&app, &member, lengths, &piece, &wanted).await? {
        PieceClaim::Gives(strips) => (StatusCode::CREATED, strips, String::new()),
        PieceClaim::NothingWanted => (
            StatusCode::OK,
            0,
            "The project wants no more wood: every strip is claimed or cut.".to_owned(),
        ),
        PieceClaim::GivesNone(why) => (StatusCode::OK, 0, why),
    };
    Ok((status, Json(PieceClaimBody { strips, why })).into_response())
}

/// The photo of a piece.
#[utoipa::path(get, path = "/api/v1/offcuts/{id}/photo", tag = "bins", security((), ("token" = [])),
    params(("id" = i64, Path, example = 1)),
    responses((status = 200, content_type = "image/jpeg", body = Vec<u8>)))]
async fn find_photo(app: State<App>, id: Path<OffcutId>) -> Result<Response, Error> {
    show_photo(app, id).await
}

/// Put a photo in the place of the one before: JPEG, PNG or WebP, at most 12 MiB. Only its pixels are kept.
#[utoipa::path(put, path = "/api/v1/offcuts/{id}/photo", tag = "bins", security(("token" = [])),
    params(("id" = i64, Path, example = 1)),
    request_body(content((Vec<u8> = "image/jpeg"), (Vec<u8> = "image/png"), (Vec<u8> = "image/webp"))),
    responses((status = 204, description = "It is kept")))]
async fn put_photo(
    State(app): State<App>,
    member: Member,
    Path(id): Path<OffcutId>,
    bytes: Bytes,
) -> Result<StatusCode, Error> {
    found(&app, id).await?;
    let prepared = tokio::task::spawn_blocking(move || photos::prepare(&bytes))
        .await
        .map_err(|error| Error::Internal(error.into()))?
        .map_err(|error| {
            Error::Wrong(vec![FieldError {
                pointer: String::new(),
                detail: error.to_string(),
            }])
        })?;
    let mut db = app.store.begin().await?;
    photo::put(&mut db, app.by(&member.0), id, &prepared).await?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Remove the photo of a piece.
#[utoipa::path(delete, path = "/api/v1/offcuts/{id}/photo", tag = "bins", security(("token" = [])),
    params(("id" = i64, Path, example = 1)), responses((status = 204, description = "There is none now")))]
async fn remove_photo(
    State(app): State<App>,
    member: Member,
    Path(id): Path<OffcutId>,
) -> Result<StatusCode, Error> {
    found(&app, id).await?;
    let mut db = app.store.begin().await?;
    photo::remove(&mut db, app.by(&member.0), id).await?;
    db.commit().await?;
    Ok(StatusCode::NO_CONTENT)
}

/// An SVG file.
pub(super) fn svg(drawing: String) -> Response {
    ([(header::CONTENT_TYPE, "image/svg+xml")], drawing).into_response()
}

/// A piece to scale, with its sizes in the caller's unit.
#[utoipa::path(get, path = "/api/v1/offcuts/{id}/drawing", tag = "bins", security((), ("token" = [])),
    params(("id" = i64, Path, example = 1)),
    responses((status = 200, content_type = "image/svg+xml", body = String)))]
async fn draw_offcut(
    State(app): State<App>,
    shell: Shell,
    Path(id): Path<OffcutId>,
) -> Result<Response, Error> {
    let piece = found(&app, id).await?;
    let woods = Woods::load(app.store.read()).await?;
    Ok(svg(face(&piece, &woods, shell.lengths()).svg))
}

/// Labels for pieces or signs for bins, with a code that opens their page.
#[utoipa::path(get, path = "/api/v1/labels", tag = "bins", security((), ("token" = [])), params(labels::Asked),
    responses((status = 200, content_type = "application/pdf", body = Vec<u8>), (status = 422)))]
async fn print_labels(
    State(app): State<App>,
    shell: Shell,
    Query(asked): Query<labels::Asked>,
) -> Result<Response, Error> {
    Ok(pdf(make(&app, shell.lengths(), &asked).await?))
}
