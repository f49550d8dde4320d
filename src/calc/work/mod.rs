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

mod design;
mod extras;
mod food;
mod glue_up;
mod limits;
mod needs;
mod practice;
mod sentence;
mod step;
mod striped_board;
mod wood;

pub use design::{Design, Kind, default_design, needs};
pub use extras::{EdgeTreatment, Extras, GripRecesses, JuiceGroove};
pub use needs::{
    Alternative, Change, Flaw, FoodUse, Needs, Panel, PanelPart, Place, Size, Warning, WarningKind,
    Wood, WoodUse,
};
pub use practice::{
    Allowances, Clamping, Finish, Flattening, FlatteningTool, Gluing, Practice, StepMinutes,
};
pub use sentence::{Part, Sentence};
pub use step::{After, ClampAsk, Hold, Per, Presence, Station, Step, StepKind, StepRow};
pub use striped_board::{StripedBoard, Surface};
