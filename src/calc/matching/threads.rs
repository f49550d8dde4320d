//! The same work over many indexes, on a few threads; results come in the order of the indexes.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// `work` of every index below `count`, on at most `threads` threads.
pub(super) fn map<T: Send>(
    count: usize,
    threads: usize,
    work: impl Fn(usize) -> T + Sync,
) -> Vec<T> {
    if threads <= 1 || count <= 1 {
        return (0..count).map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let take = || {
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= count {
                return done;
            }
            done.push((index, work(index)));
        }
    };
    let mut results: Vec<(usize, T)> = thread::scope(|scope| {
        let others: Vec<_> = (1..threads.min(count)).map(|_| scope.spawn(take)).collect();
        let mut results = take();
        for other in others {
            results.extend(other.join().expect("pricing does not panic"));
        }
        results
    });
    results.sort_by_key(|result| result.0);
    results.into_iter().map(|result| result.1).collect()
}
