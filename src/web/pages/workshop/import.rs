//! Tables as CSV files: saved from here, and read back after a look at what would be stored.

use askama::Template;
use axum::extract::{Multipart, State};
use axum::response::Response;
use serde::Deserialize;

use crate::app::App;
use crate::app::exchange::{self, ImportError, Table};
use crate::export::csv::CsvFlaw;
use crate::store::Refusal;
use crate::web::pages::ledger::{csv_file, sees_only};
use crate::web::{
    Error, Flash, Member, Path, Query, Routes, Section, Shell, Steward, Typed, Who, page,
    page_again, see_other, words,
};

/// The largest file that is read.
const MOST_BYTES: usize = 8 * 1024 * 1024;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/workshop/import", Who::Steward, show)
        // The page that asks once more sends the file along, escaped as HTML asks, and so it may be larger.
        .post_upload("/workshop/import", Who::Steward, 2 * MOST_BYTES, import)
        .get("/workshop/export/{table}", Who::Member, export)
}

#[derive(Template)]
#[template(path = "workshop/import.html")]
struct ImportPage {
    shell: Shell,
    typed: Typed,
    tables: Vec<(String, String)>,
    flaws: Vec<FlawLine>,
    /// What the file would add, once it has been looked at.
    looked: Option<Looked>,
}

struct FlawLine {
    line: u64,
    column: String,
    detail: String,
}

struct Looked {
    says: String,
    new_bins: String,
    rows: Vec<(u64, String)>,
    n_more: usize,
}

#[derive(Deserialize)]
struct Asked {
    #[serde(default)]
    what: String,
}

impl ImportPage {
    fn new(shell: Shell, typed: Typed) -> ImportPage {
        let says = |table: Table| match table {
            Table::Offcuts => "offcuts",
            Table::Clamps => "clamp sets",
            Table::Openings => "openings and closures",
            Table::Ledger => "the wood ledger of an earlier book",
        };
        ImportPage {
            shell: shell.at(Section::Workshop),
            typed,
            tables: Table::ALL
                .map(|table| (table.word().to_owned(), says(table).to_owned()))
                .to_vec(),
            flaws: Vec::new(),
            looked: None,
        }
    }
}

async fn show(shell: Shell, Query(asked): Query<Asked>) -> Result<Response, Error> {
    let what = Table::from_word(&asked.what).unwrap_or(Table::Offcuts);
    let typed = Typed::filled([("what", what.word().to_owned())]);
    page(&ImportPage::new(shell, typed))
}

/// The form as it was sent: plain fields, and the bytes of the file or of the text that stands for it.
async fn read_form(mut form: Multipart) -> Result<(Typed, Vec<u8>), Error> {
    let unreadable =
        |_| Error::Malformed("The form cannot be read; choose the file again.".to_owned());
    let mut values = Vec::new();
    let mut file = Vec::new();
    while let Some(field) = form.next_field().await.map_err(unreadable)? {
        let name = field.name().unwrap_or_default().to_owned();
        let bytes = field.bytes().await.map_err(|_| Error::TooLarge)?;
        match name.as_str() {
            "file" | "content" if file.is_empty() => file = bytes.to_vec(),
            "file" | "content" => {}
            _ => values.push((name, String::from_utf8_lossy(&bytes).into_owned())),
        }
    }
    if file.len() > MOST_BYTES {
        return Err(Error::TooLarge);
    }
    // A text that goes through a page has its line ends written anew; so they are made the same before.
    let file = match String::from_utf8(file) {
        Ok(text) => text.replace("\r\n", "\n").replace('\r', "\n").into_bytes(),
        Err(error) => error.into_bytes(),
    };
    let typed = Typed::filled(
        values
            .iter()
            .map(|(name, value)| (name.as_str(), value.clone())),
    );
    Ok((typed, file))
}

async fn import(
    State(app): State<App>,
    shell: Shell,
    Steward(caller): Steward,
    form: Multipart,
) -> Result<Response, Error> {
    let (mut typed, file) = read_form(form).await?;
    let table = typed.take("what", |word| {
        Table::from_word(word).ok_or("is not chosen; must be one of the list")
    });
    if file.is_empty() {
        typed.refuse("file", "is missing or empty; must be a CSV file");
    }
    let Some(table) = table.filter(|_| typed.is_fine()) else {
        return page_again(&ImportPage::new(shell, typed));
    };
    let make_bins = typed.is_ticked("make_bins");
    let mut db = app.store.begin().await?;
    let done = exchange::import(&mut db, app.by(&caller), table, &file, make_bins).await;
    let imported = match done {
        Ok(imported) => imported,
        Err(error) => {
            drop(db);
            let mut again = ImportPage::new(shell, typed);
            again.flaws = flaw_lines(error)?;
            return page_again(&again);
        }
    };
    if imported.n_rows == 0 {
        typed.refuse(
            "file",
            "has no row under its heading; must have at least one",
        );
        return page_again(&ImportPage::new(shell, typed));
    }
    let n_rows = match table {
        Table::Offcuts => words::counted(imported.n_rows, "offcut", "offcuts"),
        Table::Clamps => words::counted(imported.n_rows, "clamp set", "clamp sets"),
        Table::Openings => words::counted(imported.n_rows, "line of openings", "lines of openings"),
        Table::Ledger => words::counted(
            imported.n_rows,
            "entry of an earlier book",
            "entries of an earlier book",
        ),
    };
    if !typed.is_ticked("confirmed") {
        // Nothing is kept of the try.
        drop(db);
        let rows = exchange::preview(table, &file, shell.lengths());
        let text = String::from_utf8(file).unwrap_or_default();
        typed.put("content", [text]);
        let mut looked = ImportPage::new(shell, typed);
        looked.looked = Some(Looked {
            says: n_rows,
            new_bins: words::listed(&imported.new_bins),
            n_more: imported.n_rows - rows.len(),
            rows,
        });
        return page(&looked);
    }
    db.commit().await?;
    let to = match table {
        Table::Offcuts => "/bins",
        Table::Clamps => "/workshop/clamps",
        Table::Openings => "/workshop/openings",
        Table::Ledger => "/ledger#rows",
    };
    Ok(see_other(to)
        .saying(Flash::done(format!("{n_rows} added from the file.")))
        .response(&app))
}

fn flaw_lines(error: ImportError) -> Result<Vec<FlawLine>, Error> {
    let flaws = match error {
        ImportError::Flaws(flaws) => flaws,
        ImportError::Store(Refusal::Taken(what)) => vec![CsvFlaw {
            line: 0,
            column: None,
            detail: format!("has a {what} that is there already; must be new"),
        }],
        ImportError::Store(refusal) => return Err(refusal.into()),
    };
    Ok(flaws
        .into_iter()
        .map(|flaw| FlawLine {
            line: flaw.line,
            column: flaw.column.unwrap_or_default(),
            detail: flaw.detail,
        })
        .collect())
}

/// A table as a file, for everybody who may look at its page.
async fn export(
    State(app): State<App>,
    shell: Shell,
    Member(caller): Member,
    Path(table): Path<String>,
) -> Result<Response, Error> {
    let table = table.strip_suffix(".csv").unwrap_or(&table);
    let table = Table::from_word(table)
        .ok_or_else(|| Error::NotFound("There is no such table.".to_owned()))?;
    let only = sees_only(&app, &caller).await?;
    let mut db = app.store.read().acquire().await?;
    let bytes = exchange::export(&mut db, table, shell.lengths(), only).await?;
    Ok(csv_file(&format!("{}.csv", table.word()), bytes))
}
