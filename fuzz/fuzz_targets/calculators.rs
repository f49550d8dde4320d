//! The small calculators. The first byte chooses one.

#![no_main]

use libfuzzer_sys::{fuzz_mutator, fuzz_target};
use scrapwright::wire::calculators::CALCULATORS;
use scrapwright_fuzz::mutate_json;

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    if size < 2 || seed % 16 == 0 {
        return libfuzzer_sys::fuzzer_mutate(data, size, max_size);
    }
    1 + mutate_json(&mut data[1..], size - 1, max_size - 1, seed)
});

fuzz_target!(|data: &[u8]| {
    let Some((which, body)) = data.split_first() else {
        return;
    };
    let calculator = &CALCULATORS[usize::from(*which) % CALCULATORS.len()];
    match (calculator.answer)(body) {
        Ok(answer) => assert!(answer.is_object()),
        Err(problem) => assert!(problem.status < 500 && !problem.errors.is_empty(), "{problem}"),
    }
});
