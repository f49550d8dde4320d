//! Glue lines, time to spread them, pressure, clamps and their sharing, and the choice of glue.
//!
//! A panel is strips side by side. Its glue lines are `length` by `height`, one between each two
//! neighbours and none on the outer faces. Clamps span the panel across the lines; all lines
//! feel the same force, so one line decides how much is needed.
//!
//! Pressure is taken to spread 45 degrees each way from a clamp's jaw through caul and wood, so a
//! jaw of width `j` with `d` of caul and wood before the first line covers `j + 2 d` of it
//! (common practice, no single source).
//!
//! Not attempted: veneer, curved and segmented work, vacuum bags, heat.
//!
//! Literature: USDA Wood Handbook, FPL-GTR-190 (2010), chapter 10; M. L. Selbo, USDA Technical
//! Bulletin 1512 (1975); EN 204:2016; EN 12765.

mod assembly;
mod choice;
mod clamp;
mod clamp_load;
mod glue_line;

pub use assembly::{AssemblyPlan, Part, Round, Spreading, plan_assembly};
pub use choice::{GlueFlaw, LEAST_WATER_LEVEL, WATER_CLASS_SOURCE, judge_glue};
pub use clamp::{
    CLAMP_SOURCE, ClampNeed, ClampSet, ClampShortfall, Pick, Placement, RackAnswer, Rig,
    clamp_need, placements, take_from_rack, what_it_can_do,
};
pub use clamp_load::{Hindrance, LoadPanel, LoadRules, SharedLoad, share_clamps, shared_loads};
pub use glue_line::{GLUE_AMOUNT_SOURCE, GlueLines, PRESSURE_SOURCE, glue_amount, pressure_band};
