//! All SQL: a file for each noun, plain functions that take a connection.
//!
//! A function that reads takes `impl SqliteExecutor<'_>`, one that writes takes `&mut SqliteConnection`, so that they compose
//! in one transaction. Times are arguments. Lookups return `Option`; a stale or impossible write is a value of the function's own outcome
//! type, and [`Error`] is left for what nobody expects. Writers begin with [`Store::begin`]; readers use [`Store::read`].

pub mod api_token;
pub mod idempotency;
pub mod invitation;
pub mod member;
pub mod session;

mod column;
mod id;
mod open;
mod token_hash;

pub use member::{Member, Role};
pub use token_hash::TokenHash;

use column::{instant, unreadable};

pub use id::{
    ApiTokenId, BinId, BookingId, ChangeId, ClaimId, ClosureId, ExtraOpeningId, InvitationId,
    LayoutId, LedgerId, LumberId, MemberId, NoticeAddressId, OffcutId, ProjectId, ResourceId,
    WeeklyOpeningId,
};
pub use open::{OpenError, Store, Transaction};

/// What a database call can fail with.
pub type Error = sqlx::Error;

/// The result of a database call.
pub type Result<T> = std::result::Result<T, Error>;
