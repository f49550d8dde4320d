//! Use cases that need more than one store call, or a calculation: what pages, JSON and commands share.
//!
//! [`App`] is the cheap handle to everything a use case needs. Clock and token source are fields of it, so that tests fix both.

mod clock;
mod links;
mod passwords;
mod sign_in;
mod solver_slots;
mod state;
mod tokens;

pub use clock::Clock;
pub use links::{JoinError, LinkError, NewLink};
pub use passwords::{PasswordCost, PasswordError, Passwords, SHORTEST as SHORTEST_PASSWORD};
pub use sign_in::{By, Caller, PasswordChangeError, SignInError, SignInLimits};
pub use solver_slots::{Busy, SolverSlots, Stop};
pub use state::{App, Parts};
pub use tokens::{Secret, Tokens};
