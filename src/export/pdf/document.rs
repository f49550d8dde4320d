//! Drawings in millimetres, one to a page, as the bytes of a PDF.

use std::fmt;
use std::sync::{Arc, LazyLock};

use krilla::SerializeSettings;
use krilla::geom::Size;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use krilla_svg::{SurfaceExt, SvgSettings};
use usvg::{Options, Tree, fontdb};

use crate::export::svg::Drawing;

/// Points in a millimetre: a point is 1/72 in.
const POINTS_PER_MM: f64 = 72.0 / 25.4;

/// The one family of letters in printed sheets, its licence beside it in `fonts`. A PDF brings its
/// letters along, so it looks the same on every machine.
const FAMILY: &str = "DejaVu Sans";

static FONTS: LazyLock<Arc<fontdb::Database>> = LazyLock::new(|| {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(include_bytes!("../fonts/DejaVuSans.ttf").to_vec());
    fonts.load_font_data(include_bytes!("../fonts/DejaVuSans-Bold.ttf").to_vec());
    fonts.set_sans_serif_family(FAMILY);
    Arc::new(fonts)
});

/// A PDF could not be written. Nothing that a user gives should cause it.
#[derive(Debug)]
pub struct PdfError(String);

impl fmt::Display for PdfError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "the PDF could not be written: {}", self.0)
    }
}

impl std::error::Error for PdfError {}

/// One page for each drawing, as large as the drawing says in millimetres.
pub(super) fn write(title: &str, pages: &[Drawing]) -> Result<Vec<u8>, PdfError> {
    let mut document = krilla::Document::new_with(SerializeSettings::default());
    document.set_metadata(
        Metadata::new()
            .title(title.to_owned())
            .language("en".to_owned()),
    );
    let options = Options {
        font_family: FAMILY.to_owned(),
        fontdb: Arc::clone(&FONTS),
        ..Options::default()
    };
    for page in pages {
        let width = (page.width * POINTS_PER_MM) as f32;
        let height = (page.height * POINTS_PER_MM) as f32;
        let (Some(settings), Some(size)) = (
            PageSettings::from_wh(width, height),
            Size::from_wh(width, height),
        ) else {
            return Err(PdfError(format!("no page is {width} by {height} points")));
        };
        let tree =
            Tree::from_str(&page.svg, &options).map_err(|error| PdfError(error.to_string()))?;
        let mut sheet = document.start_page_with(settings);
        let mut surface = sheet.surface();
        surface.draw_svg(&tree, size, SvgSettings::default());
        surface.finish();
        sheet.finish();
    }
    document
        .finish()
        .map_err(|error| PdfError(format!("{error:?}")))
}
