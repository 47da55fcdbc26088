//! Benchmark of a warm prescription; filled below.
fn main() {}
