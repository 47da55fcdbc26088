//! The refit: slopes against differences, what other programs find, steps that were wrong, and what is kept of it.

#![expect(clippy::panic, reason = "a test that cannot build its case must fail")]
#![expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]

mod account;
mod cohort;
mod newcomers;
mod promotion;
mod recovery;
mod reference;
mod slopes;
