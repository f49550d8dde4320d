//! How a workshop works: allowances, glue, finish, clamps and the minutes that steps take.
//!
//! Every figure here is the workshop's to change, and a project may differ from its workshop. The
//! defaults are common practice with no single source, except where another source is named.

use std::collections::BTreeMap;

use super::step::StepKind;
use crate::calc::gluing::ClampSet;
use crate::calc::wood::CrossGrain;
use crate::units::{Force, Length, Minutes};

/// Everything that turns a design into needs and steps besides the design itself.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Practice {
    pub allowances: Allowances,
    pub gluing: Gluing,
    pub clamping: Clamping,
    pub flattening: Flattening,
    pub finish: Finish,
    pub shaping: Shaping,
    pub minutes: StepMinutes,
}

/// Wood that a cut piece has more than the finished one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Allowances {
    /// On a strip's length, for squaring the glued panel: 1/2 in.
    pub rough_length: Length,
    /// On each face of a panel, for flattening: 1/16 in.
    pub flattening: Length,
    /// Taken off each long side of a panel when it is squared: nothing, since the outer strips'
    /// edges are straight already.
    pub squaring: Length,
    /// Planed off each glue face of a strip before gluing: nothing, since a good saw cut glues.
    pub glue_face: Length,
    /// On each end face of an end-grain board's slices, for flattening: 1/16 in.
    pub end_grain: Length,
    /// Left at each end of the first panel of an end-grain board: 1 in, to square the one and to
    /// hold the other at the last cut.
    pub panel_end: Length,
    /// Around an outline that is sawn out of a blank: 1/4 in.
    pub outline: Length,
}

impl Default for Allowances {
    fn default() -> Allowances {
        Allowances {
            rough_length: Length::from_inches(1, 2),
            flattening: Length::from_inches(1, 16),
            squaring: Length::ZERO,
            glue_face: Length::ZERO,
            end_grain: Length::from_inches(1, 16),
            panel_end: Length::from_inches(1, 1),
            outline: Length::from_inches(1, 4),
        }
    }
}

/// What the chosen glue asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gluing {
    /// From the first spread to the clamps: 10 minutes, the longest open assembly of a cross-linked
    /// PVA on a woodworking glue chart.
    pub open_time: Minutes,
    /// To spread one glue line on both faces.
    pub seconds_a_line: u32,
    /// In the clamps, overnight: 12 hours. Glue makers ask for less.
    pub clamped: Minutes,
    /// From milling to gluing at most: 48 hours, because milled faces move and age.
    pub after_milling: Minutes,
    /// The longest joint across the grain that is glued solid.
    pub cross_grain: Length,
}

impl Default for Gluing {
    fn default() -> Gluing {
        Gluing {
            open_time: Minutes(10),
            seconds_a_line: 30,
            clamped: Minutes(720),
            after_milling: Minutes(2880),
            cross_grain: CrossGrain::USUAL_LONGEST,
        }
    }
}

/// What the workshop's clamps and cauls are like.
#[derive(Clone, Debug, PartialEq)]
pub struct Clamping {
    /// The workshop's own clamps; empty where nobody listed them.
    pub rack: Vec<ClampSet>,
    /// Of a clamp whose own force nobody entered.
    pub force: Force,
    /// Of each caul, from the jaw to the panel.
    pub caul_depth: Length,
    /// Of each pad between jaw and caul.
    pub pad: Length,
    /// Of the jaws, along the glue lines.
    pub jaw_width: Length,
}

impl Default for Clamping {
    fn default() -> Clamping {
        Clamping {
            rack: Vec::new(),
            force: Force::from_newtons(4500.0),
            caul_depth: Length::from_inches(2, 1),
            pad: Length::ZERO,
            jaw_width: Length::ZERO,
        }
    }
}

/// What makes panels flat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FlatteningTool {
    /// A hand-held belt or orbital sander; any width.
    Sander,
    DrumSander,
    Planer,
    /// A router on a sled over the panel; any width.
    RouterSled,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Flattening {
    pub tool: FlatteningTool,
    /// The widest panel that passes a planer or drum sander.
    pub pass_width: Option<Length>,
}

impl Default for Flattening {
    fn default() -> Flattening {
        Flattening {
            tool: FlatteningTool::Sander,
            pass_width: None,
        }
    }
}

/// How curves are cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shaping {
    /// The smallest inside radius that the jigsaw's blade follows: 3/4 in for a blade 8 mm wide.
    pub jigsaw_radius: Length,
    /// The router's depth at each pass: 1/8 in, the limit in two makers' router manuals.
    pub depth_per_pass: Length,
    /// What a pivot arm is longer than radius and bit: 1 in.
    pub arm_margin: Length,
}

impl Default for Shaping {
    fn default() -> Shaping {
        Shaping {
            jigsaw_radius: Length::from_inches(3, 4),
            depth_per_pass: Length::from_inches(1, 8),
            arm_margin: Length::from_inches(1, 1),
        }
    }
}

/// What the chosen finish asks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finish {
    pub coats: u32,
    /// Coats beyond `coats` on end grain, which drinks more.
    pub end_grain_coats: u32,
    /// From the end of one coat to the start of the next, not before.
    pub recoat_from: Minutes,
    /// And not later than this.
    pub recoat_to: Option<Minutes>,
    /// From the last coat until the piece may leave the rack.
    pub dry: Minutes,
    /// From the last coat until the piece may meet water.
    pub water_after: Minutes,
    /// It hardens by taking up oxygen: its rags can take fire by themselves.
    pub is_drying_oil: bool,
}

/// A pure drying oil: 24 hours between coats, 7 days before water.
impl Default for Finish {
    fn default() -> Finish {
        Finish {
            coats: 2,
            end_grain_coats: 1,
            recoat_from: Minutes(1440),
            recoat_to: Some(Minutes(10_080)),
            dry: Minutes(1440),
            water_after: Minutes(10_080),
            is_drying_oil: true,
        }
    }
}

/// Minutes for steps where a steward or a project differs from the program's defaults.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StepMinutes {
    pub changed: BTreeMap<StepKind, u32>,
}

impl StepMinutes {
    /// For one unit of what the kind of step is counted by.
    pub fn of(&self, kind: StepKind) -> u32 {
        self.changed
            .get(&kind)
            .copied()
            .unwrap_or_else(|| kind.row().minutes)
    }
}
