//! Use cases that need more than one store call, or a calculation: what pages, JSON and commands share.
//!
//! Most use cases take a connection in a transaction that the caller began, so that several of them, the row that
//! remembers an answer, and a person's change are one: `let mut db = app.store.begin().await?; offcut::add(&mut db, by, ..)`
//! `.await?; db.commit().await?`. Whatever fails before the commit leaves nothing behind. Those that solve take the [`App`]:
//! they read, solve in a slot without holding the writer, then write in a transaction that is refused if what was
//! read has changed.
//!
//! [`App`] is the cheap handle to everything a use case needs. Clock and token source are fields of it, so that tests fix both.

pub mod advice;
pub mod arrange;
pub mod basis;
pub mod booking;
pub mod choice;
pub mod claim;
pub mod clash;
pub mod cut;
pub mod cut_wood;
pub mod dates;
pub mod days;
pub mod demo;
pub mod exchange;
pub mod hours;
pub mod ledger_file;
pub mod matching;
pub mod notices;
pub mod numbering;
pub mod offcut;
pub mod opening_rule;
pub mod photo;
pub mod plan;
pub mod planning;
pub mod project;
pub mod running_match;
pub mod settings;
pub mod species;
pub mod start;
pub mod strip_search;
pub mod tag;
pub mod today;
pub mod together;
pub mod upkeep;
pub mod why;

mod book;
mod clock;
mod fixed;
mod links;
mod members;
mod passwords;
mod sign_in;
mod solver_slots;
mod stage;
mod state;
mod tokens;

pub use clock::Clock;
pub use links::{JoinError, LinkError, NewLink};
pub use members::{MemberChangeError, Standing};
pub use passwords::{PasswordCost, PasswordError, Passwords, SHORTEST as SHORTEST_PASSWORD};
pub use sign_in::{Caller, PasswordChangeError, SignInError, SignInLimits, SignedInBy, network};
pub use solver_slots::{Asker, Busy, NoSlot, SolverSlots, Stop, budget};
pub use state::{App, Parts};
pub use tokens::{Secret, Tokens};
