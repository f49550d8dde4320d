//! QR codes by ISO/IEC 18004, as shapes for pages and sheets.

use std::fmt;

use qrcode::EcLevel;

use super::svg::{Canvas, Drawing, Paint, Path, Rect};

/// The clear border that a reader needs, in modules (ISO/IEC 18004, 6.3.8).
const QUIET_ZONE: usize = 4;

/// A code's square of dark and light modules.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QrCode {
    side: usize,
    dark: Vec<bool>,
}

/// The text does not fit the largest code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TooLong {
    pub bytes: usize,
}

impl fmt::Display for TooLong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "is {} bytes long; must be short enough for a QR code, at most 2331 bytes",
            self.bytes
        )
    }
}

impl std::error::Error for TooLong {}

impl QrCode {
    /// The smallest code for the text at error correction level M, which still reads with about
    /// 15 % of it worn away: labels in a workshop get scratched.
    pub fn new(text: &str) -> Result<QrCode, TooLong> {
        let code = qrcode::QrCode::with_error_correction_level(text, EcLevel::M)
            .map_err(|_| TooLong { bytes: text.len() })?;
        Ok(QrCode {
            side: code.width(),
            dark: code
                .into_colors()
                .into_iter()
                .map(|colour| colour == qrcode::Color::Dark)
                .collect(),
        })
    }

    /// Modules along one side, without the clear border.
    pub fn side(&self) -> usize {
        self.side
    }

    /// Whether the module in this row and column is dark.
    pub fn is_dark(&self, row: usize, column: usize) -> bool {
        row < self.side && column < self.side && self.dark[row * self.side + column]
    }

    /// The code as a drawing of its own, for a page. Always black on white, which readers want.
    pub fn drawing(&self, prefix: &str, title: &str, description: &str) -> Drawing {
        const WIDTH: f64 = 160.0;
        let mut canvas = Canvas::new(prefix, WIDTH, title, description);
        self.draw(&mut canvas, Rect::new(0.0, 0.0, WIDTH, WIDTH));
        canvas.finish(WIDTH)
    }

    /// Draws the code with its clear border into a square.
    pub(super) fn draw(&self, canvas: &mut Canvas, square: Rect) {
        canvas.rect(square, &Paint::fill("#ffffff"));
        let module = square.width / (self.side + 2 * QUIET_ZONE) as f64;
        let at = |index: usize| module * (index + QUIET_ZONE) as f64;
        let mut path = Path::new();
        for row in 0..self.side {
            let mut column = 0;
            while column < self.side {
                let from = column;
                while self.is_dark(row, column) {
                    column += 1;
                }
                if column > from {
                    let run = Rect::new(
                        square.x + at(from),
                        square.y + at(row),
                        module * (column - from) as f64,
                        module,
                    );
                    path = path.and(&Path::from_rect(run));
                }
                column += 1;
            }
        }
        canvas.path(&path, &Paint::fill("#000000").class("code"));
    }
}
