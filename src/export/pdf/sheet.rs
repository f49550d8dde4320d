//! Drawings of the pages on paper: one below the other, as many sheets as they need.

use super::document::{self, PdfError};
use super::paper::Paper;
use crate::export::svg::{Canvas, Drawing, Lettering, Rect};

const MARGIN: f64 = 14.0;
const GAP: f64 = 7.0;
/// Millimetres for one user unit: letters of 12 units are then 3.2 mm high, about 9 points.
const PER_UNIT: f64 = 0.265;

/// The drawings as they stand on a page, at one scale, each with its heading; none is cut in two.
/// What is wider or higher than a sheet is made smaller. Drawings need prefixes of their own, as on a page.
pub fn sheets(
    title: &str,
    paper: Paper,
    drawings: &[(&str, &Drawing)],
) -> Result<Vec<u8>, PdfError> {
    let (width, height) = paper.size_mm();
    let (room, bottom) = (width - 2.0 * MARGIN, height - MARGIN);
    let mut pages = Vec::new();
    let mut canvas = begin(title, width);
    let top = MARGIN + 10.0;
    let mut y = top;
    for (heading, drawing) in drawings {
        let largest = (bottom - top - 7.0) / drawing.height;
        let scale = PER_UNIT.min(room / drawing.width).min(largest);
        let needed = 7.0 + drawing.height * scale;
        if y > top && y + needed > bottom {
            pages.push(canvas.finish_full_size(height));
            canvas = begin(title, width);
            y = top;
        }
        let lettering = Lettering::new(3.6).bold().colour("#000000");
        canvas.words((MARGIN, y + 4.0), heading, &lettering);
        let window = Rect::new(0.0, 0.0, drawing.width, drawing.height);
        let place = Rect::new(
            MARGIN,
            y + 7.0,
            drawing.width * scale,
            drawing.height * scale,
        );
        canvas.embed(drawing, window, place);
        y += needed + GAP;
    }
    pages.push(canvas.finish_full_size(height));
    document::write(title, &pages)
}

fn begin(title: &str, width: f64) -> Canvas {
    let mut canvas = Canvas::new("sheet", width, title, "Drawings");
    let lettering = Lettering::new(5.0).bold().colour("#000000");
    canvas.words((MARGIN, MARGIN + 4.0), title, &lettering);
    canvas
}
