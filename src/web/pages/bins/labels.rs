//! Labels for pieces and signs for bins, as PDF.

use askama::Template;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::app::App;
use crate::app::settings::label_stock;
use crate::export::pdf::{
    BinSign, Label, LabelStock, Paper, bin_signs, label_sheets, single_labels,
};
use crate::export::qr::QrCode;
use crate::store::offcut::{self, Offcut, Search};
use crate::store::{bin, workshop};
use crate::units::LengthFormat;
use crate::web::{Error, Query, Routes, Section, Shell, Typed, Who, page, page_again};
use crate::wire::FieldError;

/// The most labels made at once.
const MOST: u32 = 400;

pub(super) fn routes(routes: Routes) -> Routes {
    routes
        .get("/labels", Who::Visitor, show)
        .get("/labels/print", Who::Visitor, print)
}

#[derive(Template)]
#[template(path = "bins/labels.html")]
struct LabelsPage {
    shell: Shell,
    typed: Typed,
    bins: Vec<(String, String)>,
    sheets: Vec<(String, String)>,
}

/// What labels are asked for; each may be empty.
#[derive(Deserialize, Default, IntoParams)]
#[serde(default)]
#[into_params(parameter_in = Query)]
pub(in crate::web) struct Asked {
    /// The number of a bin: a label for each piece in it.
    bin: String,
    /// Tags of pieces, with commas or spaces between.
    #[param(example = "A017")]
    tags: String,
    /// `single`, `signs A4`, `signs Letter`, or the place of a sheet of labels in the settings' list; the workshop's own if left out.
    #[param(example = "single")]
    sheet: String,
    /// Labels of the first sheet that are gone already.
    skip: String,
}

impl Asked {
    fn typed(&self) -> Typed {
        Typed::filled([
            ("bin", self.bin.clone()),
            ("tags", self.tags.clone()),
            ("sheet", self.sheet.clone()),
            ("skip", self.skip.clone()),
        ])
    }
}

async fn labels_page(app: &App, shell: Shell, typed: Typed) -> Result<LabelsPage, Error> {
    let mut bins = vec![(String::new(), "only the tags above".to_owned())];
    bins.extend(super::bin_options(&bin::list(app.store.read()).await?));
    let mut sheets: Vec<(String, String)> = LabelStock::COMMON
        .iter()
        .enumerate()
        .map(|(place, stock)| (place.to_string(), stock.name()))
        .collect();
    sheets.push(("single".to_owned(), "one by one, 62 × 29 mm".to_owned()));
    sheets.push(("signs A4".to_owned(), "signs for the bins, A4".to_owned()));
    sheets.push((
        "signs Letter".to_owned(),
        "signs for the bins, Letter".to_owned(),
    ));
    Ok(LabelsPage {
        shell: shell.at(Section::Bins),
        typed,
        bins,
        sheets,
    })
}

async fn show(
    State(app): State<App>,
    shell: Shell,
    Query(mut asked): Query<Asked>,
) -> Result<Response, Error> {
    if asked.sheet.is_empty() {
        let labels = workshop::get(app.store.read()).await?.settings.labels;
        asked.sheet = label_stock(&labels).to_string();
    }
    page(&labels_page(&app, shell, asked.typed()).await?)
}

async fn print(
    State(app): State<App>,
    shell: Shell,
    Query(asked): Query<Asked>,
) -> Result<Response, Error> {
    match make(&app, shell.lengths(), &asked).await {
        Ok(bytes) => Ok(pdf(bytes)),
        Err(Error::Wrong(flaws)) => {
            let mut typed = asked.typed();
            for flaw in flaws {
                typed.refuse(flaw.pointer.trim_start_matches('/'), flaw.detail);
            }
            page_again(&labels_page(&app, shell, typed).await?)
        }
        Err(other) => Err(other),
    }
}

/// The labels or signs as PDF.
///
/// # Errors
/// [`Error::Wrong`] names what was asked for wrongly.
pub(in crate::web) async fn make(
    app: &App,
    lengths: LengthFormat,
    asked: &Asked,
) -> Result<Vec<u8>, Error> {
    if let Some(paper) = asked
        .sheet
        .strip_prefix("signs ")
        .and_then(Paper::from_name)
    {
        return signs(app, paper, &asked.bin).await;
    }
    let mut flaws = Vec::new();
    let mut wrong = |field: &str, detail: String| {
        flaws.push(FieldError {
            pointer: format!("/{field}"),
            detail,
        });
    };
    let mut pieces: Vec<Offcut> = Vec::new();
    let tags = asked.tags.split([',', ' ', '\n']);
    for tag in tags.filter(|tag| !tag.is_empty()).take(MOST as usize) {
        match offcut::find_by_tag(app.store.read(), tag).await? {
            Some(piece) => pieces.push(piece),
            None => wrong("tags", format!("has {tag:?}, which no piece has")),
        }
    }
    if let Ok(bin) = asked.bin.parse() {
        let search = Search {
            bin: Some(bin),
            limit: MOST,
            ..Search::default()
        };
        pieces.extend(offcut::list(app.store.read(), &search).await?);
    }
    let skip = if asked.skip.is_empty() {
        Some(0)
    } else {
        asked.skip.parse::<usize>().ok().filter(|skip| *skip < 200)
    };
    if skip.is_none() {
        let detail = format!("is {:?}; must be a whole number below 200", asked.skip);
        wrong("skip", detail);
    }
    let stock = match asked.sheet.as_str() {
        "" => {
            let labels = workshop::get(app.store.read()).await?.settings.labels;
            LabelStock::COMMON.get(label_stock(&labels))
        }
        "single" => None,
        place => {
            let found = place
                .parse::<usize>()
                .ok()
                .and_then(|place| LabelStock::COMMON.get(place));
            if found.is_none() {
                let detail = format!(
                    "is {place:?}; must be single, signs A4, signs Letter, or a number from 0 to {}",
                    LabelStock::COMMON.len() - 1
                );
                wrong("sheet", detail);
            }
            found
        }
    };
    if flaws.is_empty() && pieces.is_empty() {
        flaws.push(FieldError {
            pointer: "/tags".to_owned(),
            detail: "is empty and no bin with pieces is chosen; must name a piece or a bin"
                .to_owned(),
        });
    }
    if !flaws.is_empty() {
        return Err(Error::Wrong(flaws));
    }
    let codes = codes(
        pieces
            .iter()
            .map(|piece| format!("{}/t/{}", app.config.public_url, piece.tag)),
    )?;
    let sizes: Vec<String> = pieces
        .iter()
        .map(|piece| lengths.show_sizes(&[piece.length, piece.width, piece.thickness]))
        .collect();
    let labels: Vec<Label> = pieces
        .iter()
        .zip(&sizes)
        .zip(&codes)
        .map(|((piece, sizes), code)| Label {
            tag: &piece.tag,
            species: &piece.species,
            sizes,
            place: piece.bin_name.as_deref().unwrap_or_default(),
            code,
        })
        .collect();
    let bytes = match stock {
        None => single_labels(62.0, 29.0, &labels),
        Some(stock) => label_sheets(stock, skip.unwrap_or(0), &labels),
    };
    bytes.map_err(|error| Error::Internal(error.into()))
}

async fn signs(app: &App, paper: Paper, bin: &str) -> Result<Vec<u8>, Error> {
    let bins = bin::list(app.store.read()).await?;
    let bins: Vec<_> = bins
        .iter()
        .filter(|one| bin.is_empty() || one.id.to_string() == bin)
        .collect();
    let codes = codes(
        bins.iter()
            .map(|bin| format!("{}/bins/{}", app.config.public_url, bin.id)),
    )?;
    let signs: Vec<BinSign> = bins
        .iter()
        .zip(&codes)
        .map(|(bin, code)| BinSign {
            name: &bin.name,
            place: &bin.place,
            code,
        })
        .collect();
    bin_signs(paper, &signs).map_err(|error| Error::Internal(error.into()))
}

fn codes(addresses: impl Iterator<Item = String>) -> Result<Vec<QrCode>, Error> {
    addresses
        .map(|address| QrCode::new(&address).map_err(|error| Error::Internal(error.into())))
        .collect()
}

pub(in crate::web) fn pdf(bytes: Vec<u8>) -> Response {
    (
        [
            (
                header::CONTENT_TYPE,
                HeaderValue::from_static("application/pdf"),
            ),
            (
                header::CONTENT_DISPOSITION,
                HeaderValue::from_static("inline; filename=\"labels.pdf\""),
            ),
        ],
        bytes,
    )
        .into_response()
}
