//! Json: the target of its name, for libFuzzer, which is told how to change what is asked.

#![no_main]

use libfuzzer_sys::{fuzz_mutator, fuzz_target, fuzzer_mutate};

fuzz_target!(|bytes: &[u8]| (nextrung_fuzz::JSON.judge)(bytes));

// Every other time the bytes are changed as bytes: most of what is wrong with a request no client would write.
fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    let changed = nextrung_fuzz::mutation::change_call(&data[..size], seed).filter(|_| seed % 2 == 0);
    match changed.filter(|changed| changed.len() <= max_size) {
        Some(changed) => {
            data[..changed.len()].copy_from_slice(&changed);
            changed.len()
        }
        None => fuzzer_mutate(data, size, max_size),
    }
});
