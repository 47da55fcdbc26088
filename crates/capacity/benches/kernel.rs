//! Costs of the update kernel.

fn main() {}
