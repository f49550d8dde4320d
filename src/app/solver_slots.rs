use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;

use crate::calc::budget::Budget;
use crate::wire::matching::Limits;

/// The few places at which solvers may work at the same time, off the async threads.
///
/// When all are taken a caller waits briefly and is then told to come back. A solve ends early when its caller goes
/// away, when it has run for the longest time allowed, and when the program shuts down; its slot is free
/// only once its thread has really ended.
#[derive(Clone, Debug)]
pub struct SolverSlots {
    places: Arc<Semaphore>,
    wait: Duration,
    longest: Duration,
    shutdown: CancellationToken,
}

/// Set when a solve must end; a solver looks at it every few hundred microseconds.
pub type Stop = Arc<AtomicBool>;

/// What a solve may spend that begins now: its request's limits, never more than `longest`.
pub fn budget(limits: Limits, longest: Duration, stop: &AtomicBool) -> Budget<'_> {
    let begun = Instant::now();
    Budget::until(limits.time.min(longest), move || begun.elapsed())
        .with_stop(stop)
        .with_threads(limits.threads)
}

/// All slots were taken.
#[derive(Debug, thiserror::Error)]
#[error("all solver slots are busy")]
pub struct Busy;

/// Sets the flag when the caller stops waiting, for whatever reason.
struct StopWhenDropped(Stop);

impl Drop for StopWhenDropped {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

impl SolverSlots {
    /// `count` slots; a caller waits at most `wait` for one, and keeps it at most `longest`.
    #[must_use]
    pub fn new(
        count: usize,
        wait: Duration,
        longest: Duration,
        shutdown: CancellationToken,
    ) -> SolverSlots {
        SolverSlots {
            places: Arc::new(Semaphore::new(count.max(1))),
            wait,
            longest,
            shutdown,
        }
    }

    /// The longest time that a solve may take, whatever its request says.
    #[must_use]
    pub fn longest(&self) -> Duration {
        self.longest
    }

    /// Runs `work` in a slot. It gets the flag that says when to end; dropping the future sets it.
    ///
    /// # Errors
    /// [`Busy`] if no slot became free in time, or the program is shutting down.
    ///
    /// # Panics
    /// If `work` panics, the panic goes on in the caller.
    pub async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Stop) -> T + Send + 'static,
    ) -> Result<T, Busy> {
        let place = tokio::time::timeout(self.wait, Arc::clone(&self.places).acquire_owned())
            .await
            .map_err(|_| Busy)?
            .map_err(|_| Busy)?;
        if self.shutdown.is_cancelled() {
            return Err(Busy);
        }
        let stop = Stop::default();
        let guard = StopWhenDropped(Arc::clone(&stop));
        let mut thread = tokio::task::spawn_blocking(move || {
            let answer = work(&stop);
            drop(place);
            answer
        });
        let ended = tokio::select! {
            ended = &mut thread => ended,
            () = tokio::time::sleep(self.longest) => {
                guard.0.store(true, Ordering::Relaxed);
                thread.await
            }
            () = self.shutdown.cancelled() => {
                guard.0.store(true, Ordering::Relaxed);
                thread.await
            }
        };
        match ended {
            Ok(answer) => Ok(answer),
            Err(error) if error.is_panic() => std::panic::resume_unwind(error.into_panic()),
            Err(_) => Err(Busy),
        }
    }
}
