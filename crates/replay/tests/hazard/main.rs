//! Hazard baseline: the regression against reference values, its limits, its sample, and rows of a known hazard recovered.

#![expect(
    clippy::expect_used,
    clippy::print_stdout,
    reason = "tests fail loudly and tell how near they came"
)]

mod athlete;
mod limits;
mod recovery;
mod reference;
mod sample;
mod scene;
