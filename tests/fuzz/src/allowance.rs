//! Allowance: the memory that an input may take, counted by the allocator.

use std::alloc::System;

use stats_alloc::{INSTRUMENTED_SYSTEM, Region, StatsAlloc};

#[global_allocator]
static ALLOCATOR: &StatsAlloc<System> = &INSTRUMENTED_SYSTEM;

/// Bytes that an input of so many bytes may take.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Allowance {
    /// Held by the answer: whatever the input, and for each of its bytes.
    pub(crate) held: (usize, usize),
    /// Taken while it is made, whether given back or not.
    pub(crate) taken: (usize, usize),
}

impl Allowance {
    /// Runs a reading of `input`. Panics when it took too much.
    pub(crate) fn watch<T>(self, input: usize, read: impl FnOnce() -> T) -> T {
        let region = Region::new(ALLOCATOR);
        let answer = read();
        let change = region.change();
        let held = change.bytes_allocated.saturating_sub(change.bytes_deallocated);
        let limit = |(always, each): (usize, usize)| always + each * input;
        assert!(held <= limit(self.held), "{held} bytes are held by the answer to {input} bytes");
        let taken = change.bytes_allocated;
        assert!(taken <= limit(self.taken), "{taken} bytes were taken for {input} bytes");
        answer
    }
}
