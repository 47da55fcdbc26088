//! Pictures of hand-made answers: what they hold, and that nothing overlaps, leaves the paper or needs colour.

mod reading;
mod sample;
mod trend;
