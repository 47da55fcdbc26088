//! A coach's cases on the real ladders: what is prescribed, why, with which figures and in which words.

#![expect(clippy::expect_used, clippy::panic, reason = "a test that cannot build its athlete must fail")]

#[path = "../support/gym.rs"]
mod gym;
#[path = "../support/truth.rs"]
mod truth;

mod ask;
mod cautions;
mod days;
mod doses;
mod forecasts;
mod gate_reviews;
mod gates;
mod goals;
mod limiters;
mod pain;
mod pins;
mod practice;
mod properties;
mod rungs;
mod starts;
mod trends;
mod turns;
mod week_plans;
mod weeks;
mod words;
