//! Crowd: rosters with a known truth are what they say they are.

#![expect(clippy::unwrap_used, clippy::panic, reason = "a test that cannot be set up must fail")]
#![expect(clippy::print_stdout, reason = "the figures are part of what a run reports")]

mod draws;
mod families;
mod files;
mod foretelling;
mod log;
mod scene;
