//! When each step runs, on shared clamps and stations, in opening hours.

mod outcome;
mod problem;
mod request;
mod solve;

pub use outcome::{Bound, Conflict, Outcome, Progress, Solution, Statistics};
pub use problem::{Flaw, LONGEST, MAX_ENTRIES, MAX_TASKS, Problem, Step};
pub use request::{
    After, Busy, Calendar, Due, Hold, Need, Request, Resource, Tardiness, Task, Weight, Window,
};
pub use solve::solve;
