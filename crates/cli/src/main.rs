//! The `nextrung` binary.

fn main() {}
