//! The arrangement of strips in a board: by hand, by rule, or from what the bins hold.
//!
//! An [`Arrangement`] is the strips from left to right, each with its species and its width in the
//! board. Everything here is a plain function; only
//! [`strips_in_stock`] and its like look at pieces and sections, the rest knows counts. Colour is one number a species,
//! its lightness from 0 (black) to 1 (white), because contrast between neighbours and order from
//! dark to light need no more.

mod arrangement;
mod free_width;
mod proposal;
mod rule;
mod seed;
mod stock;

pub use arrangement::{Arrangement, BoardStrip, Edit, EditError, MOST_STRIPS};
pub use free_width::{Scrap, free_widths};
pub use proposal::{Available, Form, Look, Proposal, Wanted, look, propose};
pub use rule::{Rule, fill, scatter};
pub use stock::{scraps_laid_flat, scraps_on_edge, strips_in_stock};
