use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use tokio::sync::Semaphore;
use tokio_util::sync::CancellationToken;

use crate::calc::budget::Budget;
use crate::store::MemberId;
use crate::wire::matching::Limits;

/// Who asks for a calculation that needs a slot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Asker {
    Member(MemberId),
    /// A guest, by the network that they call from.
    Guest(IpAddr),
}

/// How many slots each asker has or waits for.
type Shares = Arc<Mutex<HashMap<Asker, usize>>>;

/// Counts one slot for its asker until dropped.
struct Share {
    shares: Shares,
    asker: Asker,
}

impl Share {
    /// `None` if the asker has `most` already.
    fn take(shares: &Shares, asker: Asker, most: usize) -> Option<Share> {
        let mut table = shares.lock().unwrap_or_else(PoisonError::into_inner);
        let taken = table.entry(asker).or_default();
        if *taken >= most {
            return None;
        }
        *taken += 1;
        Some(Share {
            shares: Arc::clone(shares),
            asker,
        })
    }
}

impl Drop for Share {
    fn drop(&mut self) {
        let mut table = self.shares.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(taken) = table.get_mut(&self.asker) {
            *taken -= 1;
            if *taken == 0 {
                table.remove(&self.asker);
            }
        }
    }
}

/// The few places at which solvers may work at the same time, off the async threads.
///
/// When all are taken a caller waits briefly and is then told to come back. A solve ends early when its caller goes
/// away, when it has run for the longest time allowed, and when the program shuts down; its slot is free
/// only once its thread has really ended.
#[derive(Clone, Debug)]
pub struct SolverSlots {
    places: Arc<Semaphore>,
    count: usize,
    shares: Shares,
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

/// Why a calculation without stored data got no slot.
#[derive(Debug, thiserror::Error)]
pub enum NoSlot {
    #[error(transparent)]
    Busy(#[from] Busy),
    #[error("the asker has as many slots as one may have")]
    OwnShare,
}

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
            count,
            shares: Shares::default(),
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

    /// Runs `work` in a slot as [`run`](Self::run) does, and leaves others a slot: one asker has or waits for at most all
    /// but one, so nobody who sends many requests can keep everybody else out.
    ///
    /// # Errors
    /// [`NoSlot::OwnShare`] at once if the asker has their share; [`NoSlot::Busy`] as `run`.
    pub async fn run_for<T: Send + 'static>(
        &self,
        asker: Asker,
        work: impl FnOnce(&Stop) -> T + Send + 'static,
    ) -> Result<T, NoSlot> {
        let most = self.count.saturating_sub(1).max(1);
        let share = Share::take(&self.shares, asker, most).ok_or(NoSlot::OwnShare)?;
        let worked = self
            .run(move |stop| {
                let answer = work(stop);
                // A caller who goes away gives the share back only when the thread has ended.
                drop(share);
                answer
            })
            .await?;
        Ok(worked)
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

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn whoever_asks_often_leaves_others_a_slot() {
        let (wait, longest) = (Duration::from_millis(50), Duration::from_secs(60));
        let slots = SolverSlots::new(2, wait, longest, CancellationToken::new());
        let guest = Asker::Guest("203.0.113.7".parse().expect("an address"));
        let (begun_tell, begun) = tokio::sync::oneshot::channel();
        let first = tokio::spawn({
            let slots = slots.clone();
            async move {
                let until_stopped = move |stop: &Stop| {
                    let _ = begun_tell.send(());
                    while !stop.load(Ordering::Relaxed) {
                        std::thread::yield_now();
                    }
                };
                slots.run_for(guest, until_stopped).await
            }
        });
        begun.await.expect("the first solve has begun");
        let second = slots.run_for(guest, |_| ()).await;
        assert!(matches!(second, Err(NoSlot::OwnShare)));
        for other in [
            Asker::Member(MemberId(1)),
            Asker::Guest("203.0.113.8".parse().expect("an address")),
        ] {
            assert_eq!(slots.run_for(other, |_| 7).await.ok(), Some(7));
        }
        // The first goes away; their share is theirs again as soon as the thread has ended.
        first.abort();
        let again = async {
            while slots.run_for(guest, |_| ()).await.is_err() {
                tokio::time::sleep(Duration::from_millis(5)).await;
            }
        };
        assert!(
            tokio::time::timeout(Duration::from_secs(10), again)
                .await
                .is_ok()
        );
    }
}
