//! What the database refuses, by the rule that was broken.

use sqlx::error::ErrorKind;

/// Why a write did nothing: a rule that the caller can explain, or a failure.
#[derive(Debug, thiserror::Error)]
pub enum Refusal {
    /// Somebody changed or removed the row since it was read.
    #[error("it was changed or removed meanwhile")]
    Stale,
    /// More pieces of an offcut would be claimed than there are.
    #[error("the piece is claimed already")]
    PieceAlreadyClaimed,
    /// Fewer pieces would be left than are claimed.
    #[error("pieces of it are claimed")]
    PiecesAreClaimed,
    /// A claim that was cut, let go or lapsed cannot change any more.
    #[error("the claim has ended already")]
    ClaimAlreadyEnded,
    /// More of a resource would be in use at once than there is.
    #[error("not enough of it is free at that time")]
    ResourceInUse,
    /// A record that is only added to would be changed.
    #[error("the ledger is only added to")]
    OnlyAddedTo,
    /// A name, tag or key that must be the only one of its kind; the column as `table.column`.
    #[error("there is one with the same {0} already")]
    Taken(String),
    /// Other rows point to what would be removed, or the row points to one that is not there.
    #[error("other records point to it, or it points to one that is not there")]
    Reference,
    /// A value breaks a rule of its column.
    #[error("a value breaks a rule of the database: {0}")]
    Check(String),
    /// The database is busy for longer than writers wait.
    #[error("the database is busy")]
    Busy,
    #[error("the database failed")]
    Database(#[source] sqlx::Error),
}

/// The result of a write.
pub type Written<T = ()> = std::result::Result<T, Refusal>;

/// SQLite names neither triggers nor constraints in a form of its own: the texts that the
/// migrations raise, and SQLite's own message with the column, are all there is.
impl From<sqlx::Error> for Refusal {
    fn from(error: sqlx::Error) -> Refusal {
        let Some(database) = error.as_database_error() else {
            return Refusal::Database(error);
        };
        match database.message() {
            "piece already claimed" => return Refusal::PieceAlreadyClaimed,
            "pieces are claimed" => return Refusal::PiecesAreClaimed,
            "claim already ended" => return Refusal::ClaimAlreadyEnded,
            "resource in use" => return Refusal::ResourceInUse,
            "the ledger is only added to" => return Refusal::OnlyAddedTo,
            _ => {}
        }
        let after_colon = |message: &str| {
            message
                .split_once(": ")
                .map_or(message, |(_, rest)| rest)
                .to_owned()
        };
        match database.kind() {
            ErrorKind::UniqueViolation => Refusal::Taken(after_colon(database.message())),
            ErrorKind::ForeignKeyViolation => Refusal::Reference,
            ErrorKind::CheckViolation | ErrorKind::NotNullViolation => {
                Refusal::Check(after_colon(database.message()))
            }
            // SQLITE_BUSY and its extended codes end in 5, SQLITE_LOCKED in 6 (result codes of SQLite).
            _ if database
                .code()
                .and_then(|code| code.parse::<i64>().ok())
                .is_some_and(|code| matches!(code & 0xff, 5 | 6)) =>
            {
                Refusal::Busy
            }
            _ => Refusal::Database(error),
        }
    }
}

/// `Stale` unless the statement changed exactly the one row it was meant for.
pub(crate) fn changed_one(result: &sqlx::sqlite::SqliteQueryResult) -> Written {
    if result.rows_affected() == 1 {
        Ok(())
    } else {
        Err(Refusal::Stale)
    }
}
