//! Which piece yields which strip, and where to cut.

mod answer;
mod check;
mod column;
mod cut_order;
mod diving;
mod enumerate;
mod explain;
mod goal;
mod greedy;
mod layout;
mod line;
mod master;
mod model;
mod outcome;
mod plan;
mod pool;
mod price;
mod problem;
mod request;
mod search;
mod shape;
mod simplex;
mod solve;
mod tables;
mod threads;

pub use check::{Violation, check};
pub use cut_order::{Cut, Setting, Visit, cut_order};
pub use layout::{Content, Direction, Layout, Part, Rectangle, Use};
pub use outcome::{Bound, NetWood, Outcome, Progress, Statistics, Uncovered};
pub use problem::{Flaw, MAX_DETAILS, MAX_ENTRIES, MAX_FLAWS, MAX_STRIPS, Problem, Step};
pub use request::{Board, KeepCredit, Piece, Request, Section, Shop, Stock, Stretch, Strip};
pub use solve::solve;
