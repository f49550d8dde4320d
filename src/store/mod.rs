//! All SQL: a file for each noun, plain functions that take a connection.
//!
//! A function that reads takes `impl SqliteExecutor<'_>`, one that writes takes `&mut SqliteConnection`, so that they compose
//! in one transaction. Times are arguments. Lookups return `Option`; a stale or impossible write is a value of the function's own outcome
//! type, and [`Error`] is left for what nobody expects. Writers begin with [`Store::begin`]; readers use [`Store::read`].

pub mod api_token;
pub mod bin;
pub mod booking;
pub mod calendar_link;
pub mod change;
pub mod claim;
pub mod copy;
pub mod idempotency;
pub mod invariants;
pub mod invitation;
pub mod layout;
pub mod ledger;
pub mod lumber;
pub mod member;
pub mod notice_address;
pub mod offcut;
pub mod opening;
pub mod photo;
pub mod practice;
pub mod project;
pub mod proposal;
pub mod resource;
pub mod session;
pub mod settings;
pub mod species;
pub mod workshop;

mod column;
mod id;
mod open;
mod refusal;
mod row;
mod text;
mod token_hash;

pub use change::By;
pub use member::{Member, Role};
pub use refusal::{Refusal, Written};
pub use token_hash::TokenHash;

use column::{instant, unreadable};

pub use id::{
    ApiTokenId, BinId, BookingId, ChangeId, ClaimId, ClosureId, ExtraOpeningId, InvitationId,
    LayoutId, LedgerId, LumberId, MemberId, NoticeAddressId, OffcutId, ProjectId, ProposalId,
    ResourceId, WeeklyOpeningId,
};
pub use open::{OpenError, Store, Transaction};

/// What a database call can fail with.
pub type Error = sqlx::Error;

/// The result of a database call.
pub type Result<T> = std::result::Result<T, Error>;
