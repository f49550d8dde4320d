//! Which piece yields which strip, and where to cut.

mod answer;
mod check;
mod column;
mod explain;
mod greedy;
mod layout;
mod model;
mod outcome;
mod plan;
mod price;
mod problem;
mod request;
mod shape;
mod solve;

pub use check::{Violation, check};
pub use layout::{Content, Direction, Layout, Part, Rectangle, Use};
pub use outcome::{Bound, NetWood, Outcome, Progress, Statistics, Uncovered};
pub use problem::{Flaw, MAX_DETAILS, MAX_ENTRIES, MAX_FLAWS, MAX_STRIPS, Problem, Step};
pub use request::{Board, KeepCredit, Piece, Request, Section, Shop, Stock, Stretch, Strip};
pub use solve::solve;
