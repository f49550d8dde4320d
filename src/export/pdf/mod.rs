//! Printed sheets as PDF: labels, signs, and templates at full size.
//!
//! Every page is drawn as SVG in millimetres, by the same means as the drawings on the pages, and
//! put into the file at 72 points to the inch. Nothing is scaled, so what measures 100 mm in the file
//! measures 100 mm on paper if the printer is told to print at 100 %.

mod document;
mod label;
mod paper;
mod sheet;
mod template;

pub use document::PdfError;
pub use label::{BinSign, Label, LabelStock, StockFlaw, bin_signs, label_sheets, single_labels};
pub use paper::Paper;
pub use sheet::sheets;
pub use template::template;
