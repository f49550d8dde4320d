//! Weights and forces in the member's units.

use crate::units::{Force, LengthFormat};

/// NIST SP 811, appendix B.8: one pound in a cubic foot is 16.01846 kg/m³.
pub(super) const KG_M3_A_POUND_FT3: f64 = 16.018_46;

/// Kilograms in a cubic metre, or pounds in a cubic foot for who measures in inches.
pub(super) fn density(kg_m3: f64, lengths: LengthFormat) -> String {
    match lengths {
        LengthFormat::Inches(_) => format!("{:.0} lb/ft³", kg_m3 / KG_M3_A_POUND_FT3),
        LengthFormat::Millimetres => format!("{kg_m3:.0} kg/m³"),
    }
}

/// Newtons, or pounds of force for who measures in inches.
pub(super) fn hardness(force: Force, lengths: LengthFormat) -> String {
    match lengths {
        LengthFormat::Inches(_) => format!("{:.0} lbf", (force.pounds() / 10.0).round() * 10.0),
        LengthFormat::Millimetres => format!("{:.0} N", force.newtons()),
    }
}

/// A number without zeros at its end, to at most five decimals.
pub(super) fn plain(number: f64) -> String {
    let text = format!("{number:.5}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}
