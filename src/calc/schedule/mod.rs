//! When each step runs, on shared clamps and stations, in opening hours.
//!
//! # Problem
//!
//! Tasks without interruption on wall-clock minutes, each inside one window of its calendar; minimal
//! and maximal gaps between them; resources of which only so many can be in use at once; holds that
//! use resources from the start of one task to the end of another whatever the calendars say; use by
//! others; given starts. Sought is a start for each task. First the weighted tardiness over the due
//! dates is to be as small as possible, then the finish of the last task as early as possible, then
//! as few preferred starts as possible are to be moved; and no single task could start earlier while
//! the others stay. It is the resource-constrained project scheduling problem with calendars,
//! generalised precedence and intervals of variable length.
//!
//! # Method
//!
//! 1. `request`, `flaw`, `problem`: names to indexes, with every flaw at once.
//! 2. `conflict`: what is contradictory by itself (circles, needs above capacities, too short
//!    horizons), told as data. `heads`: earliest and latest starts by links, calendars and busy time.
//! 3. `blocks`, `generate`: the serial generation scheme (Kolisch 1996; Kolisch and Hartmann 1999)
//!    over blocks of tasks that holds and maximal gaps tie together; inside a block what is violated
//!    is repaired by starting the earlier task later. `search`: late acceptance (Burke and Bykov
//!    2017) over the order of the blocks; where blocks are single tasks each schedule is justified
//!    (`justify`; Valls, Ballestin and Quintanilla 2005). Since earliest placement is not complete
//!    with holds, a task may also have a release before which it does not start.
//! 4. `exact`, `proof`: lazy clause generation (Ohrimenko, Stuckey and Codish 2009; for this problem
//!    Schutt, Feydy, Stuckey and Wallace 2011). Facts are bounds of starts; calendars are holes in
//!    the domains, so a bound means the same anywhere in a closure; time-table propagation of tasks
//!    and holds with explanations for one minute; learning at the first unique implication point,
//!    activities, restarts after Luby. A better tardiness, then an earlier finish, is assumed and not
//!    stated, so all that is learnt stays true, and the failure of the assumption is the proof.
//!    `neighbourhood`: between free runs the same engine, with all it has learnt, searches near the
//!    best schedule, where most tasks keep their starts (large neighbourhood search, Shaw 1998).
//! 5. `solve`: the first schedule is told at once; then local and exact search take turns, and after
//!    a few of them one thread proves and a second one improves; both exchange the best schedule and
//!    the bounds. The turns are counted, not timed, so they are the same in every solve, and from
//!    there a proven answer is found anew without any influence of clock or threads. `canonical`
//!    brings everything into the order of ids before: the answer depends on what is asked alone.
//! 6. `tighten`: single tasks move earlier until none can. `check`: an independent check, which
//!    shares nothing with the search. `explain`: what keeps a task from an earlier start.
//!
//! # Not attempted
//!
//! Tasks that may be interrupted, alternative ways or resources for a task, set-up times between
//! tasks, and costs other than lateness. Energetic reasoning and edge finding are left out: on the
//! workshops' problems learning from time tables proves as much in less time. The bound on the
//! tardiness of a workshop with far more work than openings stays weak. Above 6,000 tasks nothing is proven but
//! what links and calendars prove: only the local search is used.
//!
//! # Literature
//!
//! - R. Kolisch, A. Sprecher: PSPLIB - a project scheduling problem library. European Journal of
//!   Operational Research 96 (1997), 205-216.
//! - R. Kolisch: Serial and parallel resource-constrained project scheduling methods revisited.
//!   European Journal of Operational Research 90 (1996), 320-333.
//! - R. Kolisch, S. Hartmann: Heuristic algorithms for solving the resource-constrained project
//!   scheduling problem. In J. Weglarz (ed.), Project Scheduling, Kluwer 1999, 147-178.
//! - V. Valls, F. Ballestin, S. Quintanilla: Justification and RCPSP: a technique that pays. European
//!   Journal of Operational Research 165 (2005), 375-386.
//! - O. Ohrimenko, P. J. Stuckey, M. Codish: Propagation via lazy clause generation. Constraints 14
//!   (2009), 357-391.
//! - A. Schutt, T. Feydy, P. J. Stuckey, M. G. Wallace: Explaining the cumulative propagator.
//!   Constraints 16 (2011), 250-282.
//! - E. K. Burke, Y. Bykov: The late acceptance hill-climbing heuristic. European Journal of
//!   Operational Research 258 (2017), 70-78.
//! - M. Luby, A. Sinclair, D. Zuckerman: Optimal speedup of Las Vegas algorithms. Information
//!   Processing Letters 47 (1993), 173-180.
//! - P. Shaw: Using constraint programming and local search methods to solve vehicle routing problems.
//!   CP 1998, LNCS 1520, 417-431.

mod blocks;
mod canonical;
mod check;
mod conflict;
mod descent;
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
