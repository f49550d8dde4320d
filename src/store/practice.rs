//! Where a workshop differs from the program's own practice, and a project from its workshop's.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::calc::work::{FlatteningTool, Practice, StepKind};
use crate::units::{Force, Length, Minutes};

/// Figures that differ; whatever is `None` stays as it was. Stored as JSON text, where what is
/// missing is `None`, so a new figure needs no migration.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct PracticeChanges {
    /// On a strip's length, for squaring the glued panel.
    #[serde(
        rename = "rough_length_nm",
        with = "nm",
        skip_serializing_if = "Option::is_none"
    )]
    pub rough_length: Option<Length>,
    /// On each face of a panel.
    #[serde(
        rename = "flattening_nm",
        with = "nm",
        skip_serializing_if = "Option::is_none"
    )]
    pub flattening: Option<Length>,
    /// Off each long side of a panel.
    #[serde(
        rename = "squaring_nm",
        with = "nm",
        skip_serializing_if = "Option::is_none"
    )]
    pub squaring: Option<Length>,
    /// Off each glue face of a strip.
    #[serde(
        rename = "glue_face_nm",
        with = "nm",
        skip_serializing_if = "Option::is_none"
    )]
    pub glue_face: Option<Length>,
    /// On each end face of an end-grain board's slices.
    #[serde(
        rename = "end_grain_nm",
        with = "nm",
        skip_serializing_if = "Option::is_none"
    )]
    pub end_grain: Option<Length>,
    /// Around an outline that is sawn out of a blank.
    #[serde(
        rename = "outline_nm",
        with = "nm",
        skip_serializing_if = "Option::is_none"
    )]
    pub outline: Option<Length>,
    /// Left at each end of the first panel of an end-grain board.
    #[serde(
        rename = "panel_end_nm",
        with = "nm",
        skip_serializing_if = "Option::is_none"
    )]
    pub panel_end: Option<Length>,
    /// The glue's name in the reference, for the bench sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub glue: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub open_time_minutes: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seconds_a_line: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clamped_minutes: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_milling_minutes: Option<i64>,
    /// The longest joint across the grain that is glued solid.
    #[serde(
        rename = "cross_grain_nm",
        with = "nm",
        skip_serializing_if = "Option::is_none"
    )]
    pub cross_grain: Option<Length>,
    /// Of a clamp that nobody rated, in newtons.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub clamp_force_n: Option<f64>,
    #[serde(
        rename = "caul_depth_nm",
        with = "nm",
        skip_serializing_if = "Option::is_none"
    )]
    pub caul_depth: Option<Length>,
    /// A word of [`FLATTENING_TOOLS`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flattening_tool: Option<String>,
    /// The finish's name in the reference, for the bench sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub finish: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coats: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_grain_coats: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recoat_from_minutes: Option<i64>,
    /// Zero says that there is no latest time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recoat_to_minutes: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dry_minutes: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub water_after_minutes: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub is_drying_oil: Option<bool>,
    /// Minutes of steps, by the step's key.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub step_minutes: BTreeMap<String, u32>,
}

/// The words for what makes panels flat.
pub const FLATTENING_TOOLS: [(&str, FlatteningTool); 4] = [
    ("sander", FlatteningTool::Sander),
    ("drum sander", FlatteningTool::DrumSander),
    ("planer", FlatteningTool::Planer),
    ("router sled", FlatteningTool::RouterSled),
];

fn set<T: Clone>(figure: &mut T, change: &Option<T>) {
    if let Some(change) = change {
        *figure = change.clone();
    }
}

fn set_minutes(figure: &mut Minutes, change: Option<i64>) {
    if let Some(change) = change {
        *figure = Minutes(change);
    }
}

impl PracticeChanges {
    /// Puts the figures that differ into `practice`.
    pub fn apply(&self, practice: &mut Practice) {
        let allowances = &mut practice.allowances;
        set(&mut allowances.rough_length, &self.rough_length);
        set(&mut allowances.flattening, &self.flattening);
        set(&mut allowances.squaring, &self.squaring);
        set(&mut allowances.glue_face, &self.glue_face);
        set(&mut allowances.end_grain, &self.end_grain);
        set(&mut allowances.outline, &self.outline);
        set(&mut allowances.panel_end, &self.panel_end);
        let gluing = &mut practice.gluing;
        set_minutes(&mut gluing.open_time, self.open_time_minutes);
        set(&mut gluing.seconds_a_line, &self.seconds_a_line);
        set_minutes(&mut gluing.clamped, self.clamped_minutes);
        set_minutes(&mut gluing.after_milling, self.after_milling_minutes);
        set(&mut gluing.cross_grain, &self.cross_grain);
        if let Some(newtons) = self.clamp_force_n {
            practice.clamping.force = Force::from_newtons(newtons);
        }
        set(&mut practice.clamping.caul_depth, &self.caul_depth);
        let tool = self.flattening_tool.as_deref();
        if let Some((_, tool)) = FLATTENING_TOOLS
            .iter()
            .find(|(word, _)| Some(*word) == tool)
        {
            practice.flattening.tool = *tool;
        }
        let finish = &mut practice.finish;
        set(&mut finish.coats, &self.coats);
        set(&mut finish.end_grain_coats, &self.end_grain_coats);
        set_minutes(&mut finish.recoat_from, self.recoat_from_minutes);
        if let Some(minutes) = self.recoat_to_minutes {
            finish.recoat_to = (minutes > 0).then_some(Minutes(minutes));
        }
        set_minutes(&mut finish.dry, self.dry_minutes);
        set_minutes(&mut finish.water_after, self.water_after_minutes);
        set(&mut finish.is_drying_oil, &self.is_drying_oil);
        for (key, minutes) in &self.step_minutes {
            if let Some(kind) = StepKind::from_key(key) {
                practice.minutes.changed.insert(kind, *minutes);
            }
        }
    }
}

/// A length that may be missing, as its whole nanometres.
mod nm {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use crate::units::Length;

    pub fn serialize<S: Serializer>(
        length: &Option<Length>,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        length.map(Length::nm).serialize(serializer)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<Length>, D::Error> {
        Ok(Option::<i64>::deserialize(deserializer)?.map(Length::from_nm))
    }
}
