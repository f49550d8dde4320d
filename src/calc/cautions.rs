//! Which subjects of caution a material or a machine brings with it.
//!
//! A subject is a key of the reference's table of cautions, such as `ripping` or `drying oil`;
//! steps of work name theirs themselves. Cautions are shown with the step or the material that
//! they belong to, never as one wall of text.

use crate::units::{FinishFigures, GlueFigures, GlueHazard, Hazard};

/// Of a wood whose dust or splinters do harm, and of one that is wiped before gluing.
pub fn of_wood(hazard: Hazard, oily: bool) -> Vec<&'static str> {
    let mut subjects = Vec::new();
    match hazard {
        Hazard::NoneKnown => {}
        Hazard::Irritant => subjects.push("irritant wood"),
        Hazard::Sensitiser => subjects.push("sensitising wood"),
        Hazard::Toxic => subjects.push("toxic wood"),
    }
    if oily {
        subjects.push("oily wood");
    }
    subjects
}

/// Of a glue that harms skin or lungs.
pub fn of_glue(glue: &GlueFigures) -> Vec<&'static str> {
    let subject = glue.hazard.map(|hazard| match hazard {
        GlueHazard::Isocyanate => "isocyanate glue",
        GlueHazard::Formaldehyde => "formaldehyde glue",
        GlueHazard::EpoxyHardener => "epoxy glue",
    });
    subject.into_iter().collect()
}

/// Of a finish: rags that take fire, vapours that burn, nuts.
pub fn of_finish(finish: &FinishFigures) -> Vec<&'static str> {
    let subjects = [
        (finish.rags_self_heat, "drying oil"),
        (finish.flammable, "flammable finish"),
        (finish.tree_nut, "nut oil"),
    ];
    subjects
        .into_iter()
        .filter_map(|(applies, subject)| applies.then_some(subject))
        .collect()
}
