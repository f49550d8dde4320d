//! Templates at full size, laid over as many sheets as they need, to be joined at their marks.

use super::document::{self, PdfError};
use super::paper::Paper;
use crate::export::svg::{Canvas, Drawing, Lettering, Paint, Rect};

/// Most printers leave this much of a sheet bare.
const MARGIN: f64 = 10.0;
/// For the scale bars and the words below the drawing.
const FOOT: f64 = 24.0;
/// For the name above it.
const HEAD: f64 = 9.0;
/// Neighbouring sheets both show this much.
const OVERLAP: f64 = 12.0;

/// How a template is shared out to sheets.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Tiling {
    sheet: (f64, f64),
    /// What one sheet shows of the template.
    tile: (f64, f64),
    columns: usize,
    rows: usize,
}

impl Tiling {
    fn new(template: (f64, f64), sheet: (f64, f64)) -> Tiling {
        let tile = (sheet.0 - 2.0 * MARGIN, sheet.1 - 2.0 * MARGIN - HEAD - FOOT);
        let count = |length: f64, shown: f64| {
            if length <= shown {
                1
            } else {
                ((length - OVERLAP) / (shown - OVERLAP) - 1e-9).ceil() as usize
            }
        };
        Tiling {
            sheet,
            tile,
            columns: count(template.0, tile.0),
            rows: count(template.1, tile.1),
        }
    }

    /// Upright or lying, whichever takes fewer sheets.
    fn fewest(template: (f64, f64), paper: Paper) -> Tiling {
        let (width, height) = paper.size_mm();
        let upright = Tiling::new(template, (width, height));
        let lying = Tiling::new(template, (height, width));
        if lying.sheets() < upright.sheets() {
            lying
        } else {
            upright
        }
    }

    fn sheets(&self) -> usize {
        self.columns * self.rows
    }

    /// What the sheet in this column and row shows.
    fn window(&self, column: usize, row: usize) -> Rect {
        Rect::new(
            column as f64 * (self.tile.0 - OVERLAP),
            row as f64 * (self.tile.1 - OVERLAP),
            self.tile.0,
            self.tile.1,
        )
    }

    /// The marks of all seams: a number and a place on the template, each on at least two sheets.
    fn marks(&self) -> Vec<(usize, f64, f64)> {
        let mut places = Vec::new();
        let step = (self.tile.0 - OVERLAP, self.tile.1 - OVERLAP);
        for row in 0..self.rows {
            for seam in 1..self.columns {
                for share in [0.25, 0.75] {
                    places.push((
                        seam as f64 * step.0 + OVERLAP / 2.0,
                        row as f64 * step.1 + self.tile.1 * share,
                    ));
                }
            }
        }
        for column in 0..self.columns {
            for seam in 1..self.rows {
                for share in [0.25, 0.75] {
                    places.push((
                        column as f64 * step.0 + self.tile.0 * share,
                        seam as f64 * step.1 + OVERLAP / 2.0,
                    ));
                }
            }
        }
        places
            .into_iter()
            .enumerate()
            .map(|(index, (x, y))| (index + 1, x, y))
            .collect()
    }
}

/// A template at full size as a PDF. `drawing` must be one whose units are millimetres; where
/// it is larger than a sheet, sheets overlap and carry numbered crosses that lie on each other.
/// Each sheet has two bars to measure before anything is cut.
pub fn template(name: &str, drawing: &Drawing, paper: Paper) -> Result<Vec<u8>, PdfError> {
    let tiling = Tiling::fewest((drawing.width, drawing.height), paper);
    let marks = tiling.marks();
    let mut pages = Vec::with_capacity(tiling.sheets());
    for row in 0..tiling.rows {
        for column in 0..tiling.columns {
            pages.push(sheet(name, drawing, &tiling, &marks, (column, row)));
        }
    }
    document::write(name, &pages)
}

fn sheet(
    name: &str,
    drawing: &Drawing,
    tiling: &Tiling,
    marks: &[(usize, f64, f64)],
    (column, row): (usize, usize),
) -> Drawing {
    let number = row * tiling.columns + column + 1;
    let (width, height) = tiling.sheet;
    let mut canvas = Canvas::new("sheet", width, name, &format!("Sheet {number}"));
    let window = tiling.window(column, row);
    let place = Rect::new(MARGIN, MARGIN + HEAD, tiling.tile.0, tiling.tile.1);
    canvas.embed(drawing, window, place);
    canvas.rect(
        place,
        &Paint::line("#000000", 0.15).dash("2 2").class("tile"),
    );
    for (mark, x, y) in marks {
        let on_sheet = (x - window.x + place.x, y - window.y + place.y);
        let is_here = on_sheet.0 > place.x
            && on_sheet.0 < place.right()
            && on_sheet.1 > place.y
            && on_sheet.1 < place.bottom();
        if is_here {
            cross(&mut canvas, on_sheet, *mark);
        }
    }
    let words = Lettering::new(3.4).colour("#000000");
    canvas.words(
        (MARGIN, MARGIN + 5.5),
        name,
        &Lettering::new(4.2).bold().colour("#000000"),
    );
    let count = if tiling.sheets() == 1 {
        "sheet 1 of 1".to_owned()
    } else {
        format!(
            "sheet {number} of {}: row {}, column {}",
            tiling.sheets(),
            row + 1,
            column + 1
        )
    };
    canvas.words((width - MARGIN, MARGIN + 5.5), &count, &words.clone().end());
    foot(&mut canvas, tiling, place.bottom() + 4.0);
    canvas.finish_full_size(height)
}

/// A numbered cross that lies on the one with the same number on the neighbouring sheet.
fn cross(canvas: &mut Canvas, (x, y): (f64, f64), mark: usize) {
    let line = Paint::line("#000000", 0.2);
    canvas.line((x - 4.0, y), (x + 4.0, y), &line.clone().class("join"));
    canvas.line((x, y - 4.0), (x, y + 4.0), &line.clone().class("join"));
    canvas.circle((x, y), 2.0, &line);
    canvas.words(
        (x + 2.4, y - 1.2),
        &mark.to_string(),
        &Lettering::new(2.8).colour("#000000"),
    );
}

fn foot(canvas: &mut Canvas, tiling: &Tiling, top: f64) {
    bar(canvas, (MARGIN, top + 3.0), 100.0, 10, "100 mm");
    bar(canvas, (MARGIN, top + 10.0), 101.6, 4, "4 in");
    let words = Lettering::new(3.2).colour("#000000");
    canvas.words(
        (MARGIN, top + 18.0),
        "Print at 100 %, not fitted to the page. Measure both bars before you use it: if they are off, so is the template.",
        &words,
    );
    if tiling.sheets() > 1 {
        canvas.words(
            (MARGIN, top + 22.5),
            "Lay the sheets over each other so that crosses with the same number meet, then tape them.",
            &words,
        );
    }
}

fn bar(canvas: &mut Canvas, (x, y): (f64, f64), length: f64, parts: usize, name: &'static str) {
    let line = Paint::line("#000000", 0.3);
    canvas.line((x, y), (x + length, y), &line.clone().class("scale"));
    for part in 0..=parts {
        let at = x + length * part as f64 / parts as f64;
        let half = if part == 0 || part == parts { 2.0 } else { 1.0 };
        canvas.line((at, y - half), (at, y + half), &line);
    }
    canvas.words(
        (x + length + 3.0, y + 1.2),
        name,
        &Lettering::new(3.4).colour("#000000"),
    );
}
