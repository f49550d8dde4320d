//! What a project asks of wood and shop.
//!
//! A member makes one of four kinds of pieces. Each kind is one file here that turns its finished sizes
//! into [`Needs`]: rough strips and blanks for the match, panels with their clamps, steps with minutes,
//! stations and waits, board feet, weight, warnings with their cures, and alternatives. All else (match, claim,
//! plan, print, cost) is the same for every kind.
//!
//! How the workshop works enters as one value, [`Practice`]: allowances, glue, clamps, finish, minutes. Figures of
//! species enter as [`Wood`]. Nothing here knows stock, dates or people.
//!
//! To add a kind: one file that implements `Work`, one variant in [`Design`] and in [`Kind`].

mod assign;
mod blank;
mod clamp_load;
mod design;
mod draft;
mod end_grain_board;
mod extras;
mod finish;
mod food;
mod glue_up;
mod handle_board;
mod lending;
mod limits;
mod maker;
mod needs;
mod panel;
mod plan;
mod practice;
mod reason;
mod round_tray;
mod step;
mod striped_board;
mod wood;

pub use blank::Blank;
pub use clamp_load::clamp_loads;
pub use design::{Design, Kind, default_design, needs};
pub use end_grain_board::{EndGrainBoard, EndGrainLayout, Turn};
pub use extras::{EdgeTreatment, Extras, GripRecesses, JuiceGroove};
pub use handle_board::{HandleBoard, HandleShape, Hole};
pub use maker::AtWork;
pub use needs::{
    Alternative, Change, Flaw, Leftover, Needs, Panel, PanelPart, Place, Size, Warning,
    WarningKind, Wood, WoodUse,
};
pub use plan::{
    ClampLoad, Given, Job, Lends, Lent, Opening, Plan, PlanOutcome, PlannedBooking, Planning, Use,
    plan,
};
pub use practice::{
    Allowances, Clamping, Finish, Flattening, FlatteningTool, Gluing, Practice, Shaping,
    StepMinutes,
};
pub use reason::{Reason, User, why_not_earlier};
pub use round_tray::{RoundTray, TrayLayout};
pub use step::{After, ClampAsk, Hold, Per, Presence, Station, Step, StepKind, StepRow};
pub use striped_board::{StripedBoard, Surface};
