//! Labels for pieces and signs for bins, as PDF.

use askama::Template;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use super::shelves::size_of;
use crate::app::App;
use crate::app::settings::label_stock;
use crate::export::pdf::{
    BinSign, Label, LabelStock, Paper, bin_signs, label_sheets, single_labels,
};
use crate::export::qr::QrCode;
use crate::store::offcut::{self, Offcut, Search};
use crate::store::{bin, workshop};
use crate::web::{Error, Query, Routes, Section, Shell, Typed, Who, page, page_again};

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

#[derive(Deserialize, Default)]
#[serde(default)]
struct Asked {
    bin: String,
    tags: String,
    sheet: String,
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
    let mut typed = asked.typed();
    if let Some(paper) = asked
        .sheet
        .strip_prefix("signs ")
        .and_then(Paper::from_name)
    {
        let bins = bin::list(app.store.read()).await?;
        let bins: Vec<_> = bins
            .iter()
            .filter(|bin| asked.bin.is_empty() || bin.id.to_string() == asked.bin)
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
        let bytes = bin_signs(paper, &signs).map_err(|error| Error::Internal(error.into()))?;
        return Ok(pdf(bytes));
    }
    let mut pieces: Vec<Offcut> = Vec::new();
    for tag in asked
        .tags
        .split([',', ' ', '\n'])
        .filter(|tag| !tag.is_empty())
    {
        match offcut::find_by_tag(app.store.read(), tag).await? {
            Some(piece) => pieces.push(piece),
            None => typed.refuse("tags", format!("has {tag:?}, which no piece has")),
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
    if pieces.is_empty() && typed.is_fine() {
        typed.refuse(
            "tags",
            "is empty and no bin is chosen; must name a piece or a bin",
        );
    }
    let skip = typed.take("skip", |text| {
        if text.is_empty() {
            Ok(0)
        } else {
            text.parse::<usize>()
                .ok()
                .filter(|skip| *skip < 200)
                .ok_or(format!("is {text:?}; must be a whole number below 200"))
        }
    });
    let Some(skip) = skip.filter(|_| typed.is_fine()) else {
        return page_again(&labels_page(&app, shell, typed).await?);
    };
    let codes = codes(
        pieces
            .iter()
            .map(|piece| format!("{}/t/{}", app.config.public_url, piece.tag)),
    )?;
    let sizes: Vec<String> = pieces.iter().map(|piece| size_of(piece, &shell)).collect();
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
    let bytes = if asked.sheet == "single" {
        single_labels(62.0, 29.0, &labels)
    } else {
        let stock = asked
            .sheet
            .parse::<usize>()
            .ok()
            .and_then(|place| LabelStock::COMMON.get(place))
            .unwrap_or(&LabelStock::COMMON[3]);
        label_sheets(stock, skip, &labels)
    };
    Ok(pdf(bytes.map_err(|error| Error::Internal(error.into()))?))
}

fn codes(addresses: impl Iterator<Item = String>) -> Result<Vec<QrCode>, Error> {
    addresses
        .map(|address| QrCode::new(&address).map_err(|error| Error::Internal(error.into())))
        .collect()
}

fn pdf(bytes: Vec<u8>) -> Response {
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
