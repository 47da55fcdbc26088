//! The scores: hand-computed cases and limits, values of other libraries, properties, and draws with fixed seeds.

#![expect(clippy::expect_used, reason = "a test that cannot build its case must fail")]

mod draws;
mod limits;
mod properties;
mod reference;
