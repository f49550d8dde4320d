//! How long a solver may go on, told from outside: a calculation has no clock of its own.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

/// What a solver may spend. It ends at whichever limit is reached first.
pub struct Budget<'a> {
    elapsed: Box<dyn Fn() -> Duration + Send + Sync + 'a>,
    deadline: Option<Duration>,
    stop: Option<&'a AtomicBool>,
    steps: Option<u64>,
    steps_taken: AtomicU64,
    threads: usize,
}

impl<'a> Budget<'a> {
    /// Until `deadline` by the clock `elapsed`, which counts from the moment the solve began.
    pub fn until(
        deadline: Duration,
        elapsed: impl Fn() -> Duration + Send + Sync + 'a,
    ) -> Budget<'a> {
        Budget {
            elapsed: Box::new(elapsed),
            deadline: Some(deadline),
            stop: None,
            steps: None,
            steps_taken: AtomicU64::new(0),
            threads: 1,
        }
    }

    /// `steps` units of work, whatever they take: the same on every machine, for tests.
    /// What a step is, is the solver's own matter.
    pub fn of_steps(steps: u64) -> Budget<'static> {
        Budget {
            elapsed: Box::new(|| Duration::ZERO),
            deadline: None,
            stop: None,
            steps: Some(steps),
            steps_taken: AtomicU64::new(0),
            threads: 1,
        }
    }

    /// Ends early once `stop` is set.
    pub fn with_stop(mut self, stop: &'a AtomicBool) -> Budget<'a> {
        self.stop = Some(stop);
        self
    }

    /// At most `threads` threads, at least one.
    pub fn with_threads(mut self, threads: usize) -> Budget<'a> {
        self.threads = threads.max(1);
        self
    }

    pub fn threads(&self) -> usize {
        self.threads
    }

    /// Time since the solve began; zero where only steps count.
    pub fn elapsed(&self) -> Duration {
        (self.elapsed)()
    }

    /// The share of the deadline that has passed, or of the steps where there is no deadline.
    pub fn spent_share(&self) -> f64 {
        match (self.deadline, self.steps) {
            (Some(deadline), _) if !deadline.is_zero() => {
                self.elapsed().as_secs_f64() / deadline.as_secs_f64()
            }
            (None, Some(steps)) if steps > 0 => {
                self.steps_taken.load(Ordering::Relaxed) as f64 / steps as f64
            }
            _ => 1.0,
        }
    }

    /// Counts `steps` as taken.
    pub fn take(&self, steps: u64) {
        self.steps_taken.fetch_add(steps, Ordering::Relaxed);
    }

    /// Whether the solver must end now. It reads the clock, so ask every few hundred microseconds.
    pub fn is_spent(&self) -> bool {
        self.stop.is_some_and(|stop| stop.load(Ordering::Relaxed))
            || self
                .steps
                .is_some_and(|steps| self.steps_taken.load(Ordering::Relaxed) >= steps)
            || self
                .deadline
                .is_some_and(|deadline| (self.elapsed)() >= deadline)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_by_steps_by_time_or_by_the_flag() {
        let by_steps = Budget::of_steps(2);
        by_steps.take(1);
        assert!(!by_steps.is_spent());
        by_steps.take(1);
        assert!(by_steps.is_spent());

        let now = AtomicU64::new(0);
        let stop = AtomicBool::new(false);
        let by_time = Budget::until(Duration::from_secs(5), || {
            Duration::from_secs(now.load(Ordering::Relaxed))
        })
        .with_stop(&stop);
        assert!(!by_time.is_spent());
        now.store(5, Ordering::Relaxed);
        assert!(by_time.is_spent());
        now.store(1, Ordering::Relaxed);
        stop.store(true, Ordering::Relaxed);
        assert!(by_time.is_spent());
    }
}
