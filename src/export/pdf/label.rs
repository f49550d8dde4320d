//! Labels for pieces and signs for bins, each with a code that opens its page.

use std::fmt;

use super::document::{self, PdfError};
use super::paper::Paper;
use crate::export::qr::QrCode;
use crate::export::svg::{Canvas, Drawing, Lettering, Rect, words_width};

/// What a label says.
#[derive(Clone, Debug)]
pub struct Label<'a> {
    pub tag: &'a str,
    pub species: &'a str,
    /// Length, width and thickness in the workshop's unit.
    pub sizes: &'a str,
    /// The bin, or whatever else helps to put it back.
    pub place: &'a str,
    /// Opens the piece's page.
    pub code: &'a QrCode,
}

/// What a bin's sign says.
#[derive(Clone, Debug)]
pub struct BinSign<'a> {
    pub name: &'a str,
    pub place: &'a str,
    pub code: &'a QrCode,
}

/// A sheet of equal labels. Lengths in millimetres, from the upper left corner of the sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LabelStock {
    pub paper: Paper,
    pub columns: usize,
    pub rows: usize,
    pub width: f64,
    pub height: f64,
    /// Upper left corner of the first label.
    pub left: f64,
    pub top: f64,
    /// From one label's left edge to the next one's, and from one's top to the next one's.
    pub across: f64,
    pub down: f64,
}

/// Why a grid of labels cannot be printed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StockFlaw {
    NoLabels,
    /// Smaller than 25 by 12 mm, where nobody can read it.
    TooSmall,
    /// One label covers part of the next.
    Overlapping,
    /// The last label ends beyond the sheet.
    OffTheSheet,
}

impl fmt::Display for StockFlaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            StockFlaw::NoLabels => "has no labels; must have 1 to 30 columns and 1 to 60 rows",
            StockFlaw::TooSmall => "is smaller than 25 by 12 mm; must be at least that to be read",
            StockFlaw::Overlapping => {
                "is larger than its pitch; the step to the next label must be at least the label's own size"
            }
            StockFlaw::OffTheSheet => "runs off the sheet; the last label must end on it",
        })
    }
}

impl std::error::Error for StockFlaw {}

impl LabelStock {
    /// Grids in common use, described by their sizes alone. The figures are common practice, no
    /// single source; measure the sheet at hand, and print on plain paper first.
    pub const COMMON: [LabelStock; 6] = [
        LabelStock::grid(Paper::A4, (3, 8), (63.5, 33.9), (7.25, 12.9), (66.0, 33.9)),
        LabelStock::grid(Paper::A4, (3, 7), (63.5, 38.1), (7.25, 15.15), (66.0, 38.1)),
        LabelStock::grid(
            Paper::A4,
            (2, 7),
            (99.1, 38.1),
            (4.65, 15.15),
            (101.6, 38.1),
        ),
        LabelStock::grid(
            Paper::Letter,
            (3, 10),
            (66.675, 25.4),
            (4.7625, 12.7),
            (69.85, 25.4),
        ),
        LabelStock::grid(
            Paper::Letter,
            (2, 7),
            (101.6, 33.8667),
            (3.96875, 21.1667),
            (106.3625, 33.8667),
        ),
        LabelStock::grid(
            Paper::Letter,
            (2, 5),
            (101.6, 50.8),
            (3.96875, 12.7),
            (106.3625, 50.8),
        ),
    ];

    const fn grid(
        paper: Paper,
        (columns, rows): (usize, usize),
        (width, height): (f64, f64),
        (left, top): (f64, f64),
        (across, down): (f64, f64),
    ) -> LabelStock {
        LabelStock {
            paper,
            columns,
            rows,
            width,
            height,
            left,
            top,
            across,
            down,
        }
    }

    /// `A4, 3 × 8, 63.5 × 33.9 mm`.
    pub fn name(&self) -> String {
        let tenth = |length: f64| (length * 10.0).round() / 10.0;
        format!(
            "{}, {} × {}, {} × {} mm",
            self.paper.name(),
            self.columns,
            self.rows,
            tenth(self.width),
            tenth(self.height)
        )
    }

    pub fn labels(&self) -> usize {
        self.columns * self.rows
    }

    /// Whether labels can be printed on it.
    pub fn check(&self) -> Result<(), StockFlaw> {
        let lengths = [
            self.width,
            self.height,
            self.left,
            self.top,
            self.across,
            self.down,
        ];
        if !(1..=30).contains(&self.columns) || !(1..=60).contains(&self.rows) {
            return Err(StockFlaw::NoLabels);
        }
        if lengths.iter().any(|length| !length.is_finite()) || self.left < 0.0 || self.top < 0.0 {
            return Err(StockFlaw::OffTheSheet);
        }
        if self.width < 25.0 || self.height < 12.0 {
            return Err(StockFlaw::TooSmall);
        }
        let overlaps_across = self.columns > 1 && self.across < self.width - 0.01;
        let overlaps_down = self.rows > 1 && self.down < self.height - 0.01;
        if overlaps_across || overlaps_down {
            return Err(StockFlaw::Overlapping);
        }
        let (width, height) = self.paper.size_mm();
        let last = self.place(self.labels() - 1);
        if last.right() > width + 0.1 || last.bottom() > height + 0.1 {
            return Err(StockFlaw::OffTheSheet);
        }
        Ok(())
    }

    /// Labels are counted along the rows.
    fn place(&self, index: usize) -> Rect {
        Rect::new(
            self.left + (index % self.columns) as f64 * self.across,
            self.top + (index / self.columns) as f64 * self.down,
            self.width,
            self.height,
        )
    }
}

/// Sheets of labels. `first` is the first free label of the first sheet, counted from 0, so that a
/// sheet in use can be used up.
pub fn label_sheets(
    stock: &LabelStock,
    first: usize,
    labels: &[Label],
) -> Result<Vec<u8>, PdfError> {
    let (width, height) = stock.paper.size_mm();
    let each = stock.labels().max(1);
    let mut pages = Vec::new();
    let mut canvas = None;
    for (index, label) in labels.iter().enumerate() {
        let place = (first % each) + index;
        if place.is_multiple_of(each) || canvas.is_none() {
            pages.extend(canvas.take());
            canvas = Some(Canvas::new("sheet", width, "Labels", "A sheet of labels"));
        }
        if let Some(canvas) = &mut canvas {
            draw_label(canvas, stock.place(place % each), label);
        }
    }
    pages.push(canvas.unwrap_or_else(|| Canvas::new("sheet", width, "Labels", "An empty sheet")));
    let pages: Vec<Drawing> = pages
        .into_iter()
        .map(|canvas| canvas.finish_full_size(height))
        .collect();
    document::write("Labels", &pages)
}

/// Labels on a roll: each is a page of its own, `width` by `height` millimetres.
pub fn single_labels(width: f64, height: f64, labels: &[Label]) -> Result<Vec<u8>, PdfError> {
    let pages: Vec<Drawing> = labels
        .iter()
        .map(|label| {
            let mut canvas = Canvas::new("label", width, label.tag, label.species);
            draw_label(&mut canvas, Rect::new(0.0, 0.0, width, height), label);
            canvas.finish_full_size(height)
        })
        .collect();
    document::write("Labels", &pages)
}

/// One sign to a sheet, to be read across the room.
pub fn bin_signs(paper: Paper, signs: &[BinSign]) -> Result<Vec<u8>, PdfError> {
    let (height, width) = paper.size_mm();
    let pages: Vec<Drawing> = signs
        .iter()
        .map(|sign| {
            let mut canvas = Canvas::new("sign", width, sign.name, sign.place);
            let code = 80.0;
            let room = width - 40.0;
            let (name, size) = fitted(sign.name, room / BOLD, 64.0);
            canvas.words(
                (20.0, 32.0 + size * 0.75),
                &name,
                &Lettering::new(size).bold().colour("#000000"),
            );
            let (place, place_size) = fitted(sign.place, room, 14.0);
            canvas.words(
                (20.0, 32.0 + size * 0.75 + 22.0),
                &place,
                &Lettering::new(place_size).colour("#000000"),
            );
            let square = Rect::new(width - 20.0 - code, height - 20.0 - code, code, code);
            sign.code.draw(&mut canvas, square);
            canvas.words(
                (square.x - 6.0, square.bottom() - 8.0),
                "what lies in this bin",
                &Lettering::new(7.0).end().colour("#000000"),
            );
            canvas.finish_full_size(height)
        })
        .collect();
    document::write("Bin signs", &pages)
}

/// The code at the left, as large as the label lets it be; beside it the tag, large, then the rest.
fn draw_label(canvas: &mut Canvas, face: Rect, label: &Label) {
    let inside = face.inset(2.0);
    let code = inside.height.min(inside.width * 0.42).min(32.0);
    label.code.draw(
        canvas,
        Rect::new(
            inside.x,
            inside.y + (inside.height - code) / 2.0,
            code,
            code,
        ),
    );
    let left = inside.x + code + 1.5;
    let room = inside.right() - left;
    let (tag, tag_size) = fitted(label.tag, room / BOLD, (inside.height * 0.32).min(12.0));
    let line = (inside.height - tag_size) / 3.0;
    let mut y = inside.y + tag_size * 0.85;
    canvas.words(
        (left, y),
        &tag,
        &Lettering::new(tag_size).bold().colour("#000000"),
    );
    for words in [label.species, label.sizes, label.place] {
        y += line;
        let (words, size) = fitted(words, room, (line * 0.78).min(5.0));
        canvas.words((left, y), &words, &Lettering::new(size).colour("#000000"));
    }
}

/// Bold letters are this much wider.
const BOLD: f64 = 1.12;
/// Smaller letters cannot be read on a label, in millimetres.
const SMALLEST: f64 = 1.9;

/// The words at the largest size, up to `most`, at which they fit into `room`; cut short where
/// that would be too small to read.
fn fitted(words: &str, room: f64, most: f64) -> (String, f64) {
    let width = words_width(words, 1.0);
    if width * most <= room {
        return (words.to_owned(), most);
    }
    let size = (room / width).max(SMALLEST.min(most));
    if width * size <= room {
        return (words.to_owned(), size);
    }
    let mut kept = String::new();
    for letter in words.chars() {
        if words_width(&kept, size) + words_width("mm", size) > room {
            break;
        }
        kept.push(letter);
    }
    (format!("{}…", kept.trim_end()), size)
}
