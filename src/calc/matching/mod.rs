//! Which piece yields which strip, and where to cut.
//!
//! # The problem
//! Pieces `p` of length `L_p` by width `W_p` and thickness `T_p`, some of them for sale at a price `c_p` and then
//! without limit; strips `i`, wanted `d_i` times, of length `l_i`, each with alternative sections (rip width `r`,
//! least thickness `t`). A piece is cut in three levels: crosscut into sections, each ripped into rips of one width, each
//! crosscut into strips; a cut takes its kerf, and what is left is kept from a least size on. Let `J_p` be all such
//! layouts of a piece, `a_ij` the strips of kind `i` that layout `j` gives, `w_j` the wood it uses less the credit for what
//! is kept, and `x_j` how often it is used:
//!
//! ```text
//! minimise, one after the other:   sum_i u_i,   sum_j c_j x_j,   sum_j w_j x_j,   sum_j x_j
//! subject to   sum_j a_ij x_j + u_i = d_i for each i,   sum_{j in J_p} x_j <= n_p for each p,   x, u whole and >= 0
//! ```
//!
//! # The method
//! - `model` and `shape` scale lengths to whole multiples of their greatest common divisor, merge equal pieces, group them by
//!   thickness and species, and split what shares no strip into parts that are solved by themselves.
//! - `greedy` gives a first answer at once.
//! - `master`, `price` and `simplex` solve the linear relaxation over *all* layouts by column generation. Pricing is exact: the best
//!   rip of each width by length, the best section by width and length, the best piece by length are tables of
//!   dynamic programming that all pieces of a group share. Prices are smoothed; the bound is the Lagrangian one, in
//!   whole numbers, so that it holds whatever the simplex rounds. Rows of pieces are added when they bind.
//! - `pool` rounds it, and along a line `diving`, which prices anew after each choice and goes back on it where it leads nowhere;
//!   `neighbours` then frees a dozen pieces that share strips and recuts them exactly, over and over, more the longer it is in vain,
//!   and goes on from an answer a little worse where no neighbourhood betters the one it stands at.
//! - `enumerate` lists every layout whose reduced cost does not exclude it from a better answer; `branching` over those proves
//!   the answer, or betters it, with cutting planes (`cuts`): by whether a piece is used, whether it gives a strip, and
//!   how it is cut, after a look at both sides of a few `candidates`. Where too many layouts remain, those of small reduced cost
//!   are listed, and the bound is the lesser of what the search among them says and what any other layout costs (`proof`).
//!   Tries at a proof grow, and `search` looks for better answers as long as they take.
//! - `spanning` plans sections over the flaws inside a piece, for pieces that are too short to be ripped beside them.
//! - `ties` chooses among equal answers: few settings of the saws, long rips, and the pieces that are preferred.
//! - `answer` brings layouts into one canonical form; `explain` says what the nearest piece lacks; `cut_order` orders the
//!   cuts. `check` verifies answers and shares no code with the search: it knows only requests and layouts.
//!
//! # Literature
//! Gilmore and Gomory, "A linear programming approach to the cutting-stock problem", Operations Research 9 (1961) and
//! "Multistage cutting stock problems of two and more dimensions", Operations Research 13 (1965): column generation, and
//! dynamic programming for staged guillotine cuts. Vanderbeck, "A nested decomposition approach to a three-stage,
//! two-dimensional cutting-stock problem", Management Science 47 (2001): exact three-stage cutting. Cherri, Arenales, Yanasse,
//! Poldi and Vianna, "The one-dimensional cutting stock problem with usable leftovers", European Journal of Operational
//! Research 236 (2014): leftovers that go back to stock. Pessoa, Sadykov, Uchoa and Vanderbeck, "Automation and
//! combination of linear-programming based stabilization techniques in column generation", INFORMS Journal on Computing
//! 30 (2018): smoothing. Achterberg, Koch and Martin, "Branching rules revisited", Operations Research Letters 33 (2005):
//! looks at both sides before branching. Caprara and Fischetti, "{0,1/2}-Chvatal-Gomory cuts", Mathematical
//! Programming 74 (1996). Sadykov, Vanderbeck, Pessoa, Tahiri and Uchoa, "Primal heuristics for branch and price: the assets of
//! diving methods", INFORMS Journal on Computing 31 (2019): dives that turn off a few times. Lourenço, Martin and Stützle,
//! "Iterated local search", in Glover and Kochenberger (ed.), Handbook of Metaheuristics (2003): steps aside.
//!
//! # Not attempted
//! Pricing that keeps to the wanted counts where pieces are cut in two directions, and branching with new columns: where a few
//! large pieces are cut, layouts that give a strip more often than it is wanted leave a gap of some percent between the
//! relaxation and the answer, which is then good but not proven. Cuts that turn the grain, more than three levels, rips that
//! taper, the value of a remainder for later boards beyond its credit, and sections that span a flaw inside a piece but not
//! the whole piece: where such a section could matter, an answer is not called proven.

mod answer;
mod branching;
mod candidates;
mod check;
mod column;
mod cut_order;
mod cuts;
mod diving;
mod enumerate;
mod explain;
mod goal;
mod greedy;
mod layout;
mod line;
mod master;
mod model;
mod neighbours;
mod outcome;
mod plan;
mod pool;
mod price;
mod problem;
mod proof;
mod request;
mod search;
mod shape;
mod simplex;
mod solve;
mod spanning;
mod tables;
mod threads;
mod ties;

pub use check::{Violation, check};
pub use cut_order::{Cut, Setting, Visit, cut_order};
pub use layout::{Content, Direction, Layout, Part, Rectangle, Use};
pub use outcome::{Bound, NetWood, Outcome, Progress, Statistics, Uncovered};
pub use problem::{
    Flaw, MAX_DETAILS, MAX_ENTRIES, MAX_FLAWS, MAX_KINDS, MAX_PAIRS, MAX_STRIPS, Problem, Step,
};
pub use request::{Board, KeepCredit, Piece, Request, Section, Shop, Stock, Stretch, Strip};
pub use solve::solve;
