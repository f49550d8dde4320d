//! Requests of a match: refused with a reason, or answered in time with an answer that passes its check.

#![no_main]

use libfuzzer_sys::{fuzz_mutator, fuzz_target};
use scrapwright::wire::matching::answer;
use scrapwright_fuzz::{mutate_json, within_limits};

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    mutate_json(data, size, max_size, seed)
});

fuzz_target!(|body: &[u8]| {
    let answered = within_limits(|budget| answer(body, budget, &|_| ()));
    if let Err(problem) = answered {
        assert!(problem.status < 500, "{problem}");
    }
});
