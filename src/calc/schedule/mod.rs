//! When each step runs, on shared clamps and stations, in opening hours.

mod blocks;
mod check;
mod conflict;
mod exact;
mod explain;
mod flaw;
mod generate;
mod heads;
mod incumbent;
mod justify;
mod neighbourhood;
mod outcome;
mod problem;
mod profile;
mod proof;
mod random;
mod request;
mod search;
mod solve;
mod tighten;

pub use check::{Figures, Violation, check, figures, loose};
pub use explain::{MAX_OBSTACLES, Obstacle, User, explain};
pub use flaw::{Flaw, MAX_FLAWS, Step};
pub use outcome::{Bound, Conflict, Outcome, Progress, Solution, Statistics};
pub use problem::{LONGEST, MAX_ENTRIES, MAX_TASKS, Problem};
pub use request::{
    After, Busy, Calendar, Due, Hold, Need, Request, Resource, Tardiness, Task, Weight, Window,
};
pub use solve::solve;
