use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use jiff::Timestamp;

/// Where the program gets the time from.
#[derive(Clone, Debug)]
pub enum Clock {
    /// The machine's own.
    System,
    /// Seconds since 1970, moved by hand: for tests and for demo data that tells of the past.
    Set(Arc<AtomicI64>),
}

impl Clock {
    /// A clock that stands at `instant` until it is moved.
    #[must_use]
    pub fn standing_at(instant: Timestamp) -> Clock {
        Clock::Set(Arc::new(AtomicI64::new(instant.as_second())))
    }

    /// The time, in whole seconds, which is all that is ever stored.
    #[must_use]
    pub fn now(&self) -> Timestamp {
        let seconds = match self {
            Clock::System => system_seconds(),
            Clock::Set(seconds) => seconds.load(Ordering::Relaxed),
        };
        Timestamp::from_second(seconds).expect("a clock within jiff's ten thousand years")
    }

    /// Moves a clock that was set by hand; the system's goes its own way.
    pub fn advance(&self, seconds: i64) {
        if let Clock::Set(at) = self {
            at.fetch_add(seconds, Ordering::Relaxed);
        }
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "the one place that reads the machine's clock"
)]
fn system_seconds() -> i64 {
    Timestamp::now().as_second()
}
