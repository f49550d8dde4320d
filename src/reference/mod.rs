//! Typed tables of woods, glues, finishes, abrasives, sizes, machining figures and cautions.
//!
//! The tables are CSV files beside the code, compiled in and read once. Every row names its
//! source and how well it is known: `read` in a text that prints the publication, from `memory`
//! of it, or `practice`. A row that cannot be read stops the program at its first use, and
//! [`check`] reads them all, so a bad table fails a test.
//!
//! Nothing here calculates; the calculations take the figures as arguments.

mod abrasive;
mod caution;
mod finish;
mod glossary;
mod glue;
mod lumber;
mod machining;
mod property;
mod species;
mod table;

pub use abrasive::{Grit, GritSystem, grits};
pub use caution::{Caution, cautions, cautions_about};
pub use finish::{Finish, finish, finishes};
pub use glossary::{Term, anchor, glossary};
pub use glue::{Glue, glue, glues, gluing_figure, gluing_figures};
pub use lumber::{LumberSize, lumber_sizes};
pub use machining::{MachiningFigure, machining_figures};
pub use property::{Properties, Property};
pub use species::{Pores, Species, WoodKind, nearest_species, species, woods};
pub use table::check;

pub use crate::units::Hazard;
