//! What the wood, the glue, the clamps and the finish of one project ask for, all in one answer.
//!
//! It is given before a cut is made: will the piece hold, stay flat, be safe for food and be dry in
//! time, what does it weigh and cost. [`advise`] takes what the project needs and the workshop's
//! circumstances, and puts the single calculations together. What is wrong comes as [`Concern`]s,
//! each with what would cure it; figures come as figures.
//!
//! Not attempted here: what the kind of project warns about itself (sizes, food grades, open time,
//! machines), which stands among the warnings of its needs.

mod circumstances;
mod clamps;
mod concern;
mod movement;
mod season;
mod sum;

pub use circumstances::{ChosenFinish, ChosenGlue, Circumstances, KnownWood, MeasuredPiece};
pub use clamps::{ClampSharing, PanelAdvice};
pub use concern::{Concern, ConcernKind};
pub use movement::{CrossPieces, MovementAdvice, RingOnDisc};
pub use season::{Air, AirReading, Season, driest_and_dampest};
pub use sum::{Advice, FinishAdvice, GlueAdvice, SurfaceAdvice, WoodAdvice, advise};
