//! Tables as CSV files (RFC 4180), out and in.

use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::routes;

use crate::app::exchange::{self, ImportError, Table};
use crate::app::{App, Caller};
use crate::web::extract::RawBody;
use crate::web::pages::ledger::{self, Asked, csv_file};
use crate::web::{Error, Json, Member, Path, Query, Routes, Shell, Steward, Who};
use crate::wire::FieldError;

/// The largest file that is read.
const MOST_BYTES: usize = 8 * 1024 * 1024;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .api(Who::Member, routes!(export_ledger))
        .api(Who::Member, routes!(export_table))
        .api_upload(Who::Steward, MOST_BYTES, routes!(import_ledger))
        .api_upload(Who::Steward, MOST_BYTES, routes!(import_table))
}

fn table(word: &str) -> Result<Table, Error> {
    Table::from_word(word).ok_or_else(|| {
        Error::NotFound("There are the tables offcuts, clamps, openings and ledger.".into())
    })
}

/// The entries of the ledger that the filter lets through, the newest first.
#[utoipa::path(get, path = "/api/v1/tables/ledger", tag = "ledger", security(("token" = [])), params(Asked),
    responses((status = 200, content_type = "text/csv", body = String), (status = 422)))]
async fn export_ledger(
    app: State<App>,
    member: Member,
    asked: Query<Asked>,
) -> Result<Response, Error> {
    ledger::export(app, member, asked).await
}

/// A table as a file; of offcuts those that lie in a bin. Lengths are in the caller's unit, which the heading names.
#[utoipa::path(get, path = "/api/v1/tables/{table}", tag = "workshop", security(("token" = [])),
    params(("table" = String, Path, description = "`offcuts`, `clamps` or `openings`", example = "offcuts")),
    responses((status = 200, content_type = "text/csv", body = String)))]
async fn export_table(
    State(app): State<App>,
    shell: Shell,
    Member(caller): Member,
    Path(word): Path<String>,
) -> Result<Response, Error> {
    let table = table(&word)?;
    let only = ledger::sees_only(&app, &caller).await?;
    let mut db = app.store.read().acquire().await?;
    let bytes = exchange::export(&mut db, table, shell.lengths(), only).await?;
    Ok(csv_file(&format!("{}.csv", table.word()), bytes))
}

#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct How {
    /// Only say what would be stored.
    #[serde(default)]
    #[param(example = true)]
    dry_run: bool,
    /// Make the bins that rows name and that are not there.
    #[serde(default)]
    make_bins: bool,
}

#[derive(Serialize, ToSchema)]
struct RowBody {
    /// Counted from 1, the heading included.
    #[schema(example = 2)]
    line: u64,
    /// How it is understood.
    says: String,
}

#[derive(Serialize, ToSchema)]
struct ImportBody {
    /// How many were stored, or would be.
    rows: usize,
    /// Bins that were made, or would be.
    new_bins: Vec<String>,
    /// The first rows as they are understood.
    preview: Vec<RowBody>,
}

/// Add every row of a file, or none.
///
/// Each flaw of a file has a pointer of line and column, such as `/12/length`; lines are counted from 1, the heading included.
#[utoipa::path(post, path = "/api/v1/tables/{table}", tag = "workshop", security(("token" = [])),
    params(How, ("table" = String, Path, description = "`offcuts`, `clamps` or `openings`", example = "clamps")),
    request_body(content = String, content_type = "text/csv",
        example = "name,count,reach (in),rated force (N)\r\nLong bar clamps,6,24,4500\r\n"),
    responses((status = 200, body = ImportBody, description = "A dry run"), (status = 201, body = ImportBody)))]
async fn import_table(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Path(word): Path<String>,
    Query(how): Query<How>,
    headers: HeaderMap,
    RawBody(bytes): RawBody,
) -> Result<Response, Error> {
    read_in(&app, &shell, &caller, table(&word)?, how, &headers, &bytes).await
}

/// Add the entries of an earlier book, or none.
///
/// They stand in the ledger as history and change nothing that lies in a bin. What the book still has in its bins is carried over:
/// one entry more for each such piece, so that it is not counted twice. Flaws are told as for the other tables.
#[utoipa::path(post, path = "/api/v1/tables/ledger", tag = "ledger", security(("token" = [])), params(How),
    request_body(content = String, content_type = "text/csv",
        example = "at (utc),member,what,tag,species,pieces,volume (mm³)\r\n2025-03-01T17:00:00Z,Odile,added,A017,hard maple,1,1226000\r\n"),
    responses((status = 200, body = ImportBody, description = "A dry run"), (status = 201, body = ImportBody)))]
async fn import_ledger(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    Query(how): Query<How>,
    headers: HeaderMap,
    RawBody(bytes): RawBody,
) -> Result<Response, Error> {
    read_in(&app, &shell, &caller, Table::Ledger, how, &headers, &bytes).await
}

async fn read_in(
    app: &App,
    shell: &Shell,
    caller: &Caller,
    table: Table,
    how: How,
    headers: &HeaderMap,
    bytes: &[u8],
) -> Result<Response, Error> {
    let media_type = headers
        .get(header::CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .and_then(|value| value.split(';').next())
        .map(|value| value.trim().to_ascii_lowercase());
    if media_type.as_deref() != Some("text/csv") {
        return Err(Error::WrongMediaType("text/csv"));
    }
    let mut db = app.store.begin().await?;
    let imported = exchange::import(&mut db, app.by(caller), table, bytes, how.make_bins)
        .await
        .map_err(import_error)?;
    if imported.n_rows == 0 {
        return Err(Error::Wrong(vec![FieldError {
            pointer: String::new(),
            detail: "has no row under its heading; must have at least one".to_owned(),
        }]));
    }
    let preview = exchange::preview(table, bytes, shell.lengths());
    let body = ImportBody {
        rows: imported.n_rows,
        new_bins: imported.new_bins,
        preview: preview
            .into_iter()
            .map(|(line, says)| RowBody { line, says })
            .collect(),
    };
    if how.dry_run {
        return Ok(Json(body).into_response());
    }
    db.commit().await?;
    Ok((StatusCode::CREATED, Json(body)).into_response())
}

fn import_error(error: ImportError) -> Error {
    match error {
        ImportError::Flaws(flaws) => {
            let flaws = flaws.into_iter().map(|flaw| FieldError {
                pointer: match &flaw.column {
                    Some(column) => {
                        let column = column.replace('~', "~0").replace('/', "~1");
                        format!("/{}/{column}", flaw.line)
                    }
                    None => format!("/{}", flaw.line),
                },
                detail: flaw.detail,
            });
            Error::Wrong(flaws.collect())
        }
        ImportError::Store(refusal) => refusal.into(),
    }
}
