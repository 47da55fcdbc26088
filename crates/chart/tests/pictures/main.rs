//! Pictures of hand-made answers: what they hold, and that nothing overlaps, leaves the paper or needs colour.

#![expect(clippy::expect_used, clippy::panic, reason = "a picture that cannot be read back must fail")]

mod calibration;
mod candidates;
mod coverage;
mod forecast;
mod intervals;
mod limiters;
mod ranks;
mod reading;
mod sample;
mod trend;
mod week;
