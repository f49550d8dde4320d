use std::sync::Arc;
use std::time::Duration;

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::app::{Busy, NoSlot, PasswordError};
use crate::store::{self, Refusal};
use crate::wire::{FieldError, Problem};

/// Everything that can be answered instead of what was asked for. The only thing that knows status codes.
#[derive(Debug)]
pub enum Error {
    /// The request cannot be read.
    Malformed(String),
    /// Nobody is signed in, or the token is not known.
    SignInNeeded,
    /// The caller is known and may not.
    Forbidden(String),
    /// There is no such thing: `no piece with the tag B3-0412`.
    NotFound(String),
    /// The path is known, the method is not.
    WrongMethod,
    /// The request fits badly with what is stored: somebody was quicker, or it is in the wrong state.
    Conflict(String),
    /// The thing was changed since the caller read it.
    Stale,
    /// A change must say with `If-Match` which version it changes.
    VersionMissing,
    /// More than may be sent at once.
    TooLarge,
    /// Not the media type that is read here.
    WrongMediaType(&'static str),
    /// Understood, but wrong in these places.
    Wrong(Vec<FieldError>),
    /// A calculation has no answer, and says why.
    Calculation(Problem),
    /// Too many tries; wait this long.
    TooMany(Duration),
    /// The caller has as many calculations under way as one may have.
    OwnShare,
    /// All solver slots or the writer are taken; come back.
    Busy,
    /// It took longer than a request may.
    TooSlow,
    /// The file cannot grow, or not be written any more.
    DiskFull(anyhow::Error),
    /// A fault of ours. The cause is logged, and not shown.
    Internal(anyhow::Error),
}

/// An error that a response carries to where its face is made and where it is logged.
#[derive(Clone, Debug)]
pub(super) struct Report(pub Arc<Error>);

impl Error {
    /// The one place where an error gets its status.
    pub fn status(&self) -> StatusCode {
        match self {
            Error::Malformed(_) => StatusCode::BAD_REQUEST,
            Error::SignInNeeded => StatusCode::UNAUTHORIZED,
            Error::Forbidden(_) => StatusCode::FORBIDDEN,
            Error::NotFound(_) => StatusCode::NOT_FOUND,
            Error::WrongMethod => StatusCode::METHOD_NOT_ALLOWED,
            Error::Conflict(_) => StatusCode::CONFLICT,
            Error::Stale => StatusCode::PRECONDITION_FAILED,
            Error::VersionMissing => StatusCode::PRECONDITION_REQUIRED,
            Error::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Error::WrongMediaType(_) => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Error::Wrong(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Error::Calculation(problem) => {
                StatusCode::from_u16(problem.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
            }
            Error::TooMany(_) | Error::OwnShare => StatusCode::TOO_MANY_REQUESTS,
            Error::Busy | Error::TooSlow => StatusCode::SERVICE_UNAVAILABLE,
            Error::DiskFull(_) => StatusCode::INSUFFICIENT_STORAGE,
            Error::Internal(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    /// The last part of the problem's type, and its short name.
    pub(super) fn kind(&self) -> (&'static str, &'static str) {
        match self {
            Error::Malformed(_) => ("malformed", "The request cannot be read"),
            Error::SignInNeeded => ("sign-in-needed", "Sign in first"),
            Error::Forbidden(_) => ("forbidden", "This is not yours to do"),
            Error::NotFound(_) => ("not-found", "Not here"),
            Error::WrongMethod => ("wrong-method", "That cannot be done here"),
            Error::Conflict(_) => ("conflict", "It does not fit with what is there"),
            Error::Stale => ("stale", "It was changed in the meantime"),
            Error::VersionMissing => ("version-missing", "Say which version you change"),
            Error::TooLarge => ("too-large", "Too much at once"),
            Error::WrongMediaType(_) => ("wrong-media-type", "Another media type is read here"),
            Error::Wrong(_) => ("wrong-content", "Something in it is wrong"),
            Error::Calculation(problem) => (problem.kind, "The calculation has no answer"),
            Error::TooMany(_) => ("too-many", "Too many tries"),
            Error::OwnShare => ("own-share", "Yours is still being solved"),
            Error::Busy => ("busy", "Busy just now"),
            Error::TooSlow => ("too-slow", "It took too long"),
            Error::DiskFull(_) => ("disk-full", "There is no room to write it down"),
            Error::Internal(_) => ("fault", "Something broke here"),
        }
    }

    /// What the caller is told.
    pub(super) fn detail(&self) -> String {
        match self {
            Error::Malformed(detail)
            | Error::Forbidden(detail)
            | Error::NotFound(detail)
            | Error::Conflict(detail) => detail.clone(),
            Error::SignInNeeded => {
                "Only members see this. Scripts send a token as Authorization: Bearer.".into()
            }
            Error::WrongMethod => "This address answers other methods; see the Allow header.".into(),
            Error::Stale => {
                "Somebody changed it since you read it. Read it again and repeat your change.".into()
            }
            Error::VersionMissing => {
                "Send the ETag of what you read as If-Match, so that no change of somebody else is lost.".into()
            }
            Error::TooLarge => "It is larger than may be sent here at once; a photo must have at most 12 MB, a file with rows 8 MB, anything else much less.".into(),
            Error::WrongMediaType(wanted) => format!("The body must be {wanted}."),
            Error::Wrong(errors) => Problem::wrong_content(errors.clone()).detail,
            Error::Calculation(problem) => problem.detail.clone(),
            Error::TooMany(wait) => format!("Wait {} s before the next try.", whole_seconds(*wait)),
            Error::OwnShare => {
                "Another calculation of yours is being solved, and others get their turn too. Wait for its answer first.".into()
            }
            Error::Busy => "Others are being served. Try again in a moment.".into(),
            Error::TooSlow => "It was stopped, and nothing was changed. Try again later, or ask for less.".into(),
            Error::DiskFull(_) => {
                "The disk is full, or cannot be written. Nothing was changed; tell whoever keeps the machine.".into()
            }
            Error::Internal(_) => {
                "Nothing was changed. If it happens again, tell a steward the request number.".into()
            }
        }
    }

    /// The problem document (RFC 9457) that says it.
    pub(super) fn problem(&self) -> Problem {
        let (kind, title) = self.kind();
        match self {
            Error::Calculation(problem) => problem.clone(),
            Error::Wrong(errors) => Problem::wrong_content(errors.clone()),
            _ => Problem {
                kind,
                status: self.status().as_u16(),
                title: title.to_owned(),
                detail: self.detail(),
                errors: Vec::new(),
            },
        }
    }

    /// How long to wait before trying again, where that helps.
    fn retry_after(&self) -> Option<u64> {
        match self {
            Error::TooMany(wait) => Some(whole_seconds(*wait)),
            Error::Busy | Error::TooSlow | Error::OwnShare => Some(2),
            _ => None,
        }
    }
}

fn whole_seconds(wait: Duration) -> u64 {
    wait.as_secs() + u64::from(wait.subsec_nanos() > 0)
}

impl IntoResponse for Error {
    fn into_response(self) -> Response {
        let mut response = self.status().into_response();
        if let Some(seconds) = self.retry_after() {
            response
                .headers_mut()
                .insert(header::RETRY_AFTER, HeaderValue::from(seconds));
        }
        response.extensions_mut().insert(Report(Arc::new(self)));
        response
    }
}

/// SQLite's result codes (<https://www.sqlite.org/rescode.html>) that a caller should hear of in plain words.
impl From<store::Error> for Error {
    fn from(error: store::Error) -> Self {
        if matches!(error, store::Error::PoolTimedOut | store::Error::PoolClosed) {
            return Error::Busy;
        }
        let code = error.as_database_error().and_then(|error| error.code());
        match code.as_deref() {
            // SQLITE_BUSY, in case another program holds the file.
            Some("5") => Error::Busy,
            // SQLITE_FULL, SQLITE_IOERR_WRITE.
            Some("13" | "778") => Error::DiskFull(error.into()),
            _ => Error::Internal(error.into()),
        }
    }
}

impl From<anyhow::Error> for Error {
    fn from(error: anyhow::Error) -> Self {
        match error.downcast::<store::Error>() {
            Ok(error) => error.into(),
            Err(error) => Error::Internal(error),
        }
    }
}

/// What the database refused by a rule. A page that can say more by its own words catches the refusal before.
impl From<Refusal> for Error {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::Stale => Error::Stale,
            Refusal::Busy => Error::Busy,
            Refusal::Database(error) => error.into(),
            rule => Error::Conflict(capitalised(&rule.to_string())),
        }
    }
}

/// A predicate or clause as a sentence.
fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters
        .next()
        .map(|letter| letter.to_uppercase().to_string())
        .unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}

impl From<askama::Error> for Error {
    fn from(error: askama::Error) -> Self {
        Error::Internal(error.into())
    }
}

impl From<Busy> for Error {
    fn from(_: Busy) -> Self {
        Error::Busy
    }
}

impl From<NoSlot> for Error {
    fn from(error: NoSlot) -> Self {
        match error {
            NoSlot::Busy(busy) => busy.into(),
            NoSlot::OwnShare => Error::OwnShare,
        }
    }
}

impl From<PasswordError> for Error {
    fn from(error: PasswordError) -> Self {
        match error {
            PasswordError::Busy => Error::Busy,
            other => Error::Internal(other.into()),
        }
    }
}
