//! Gates, rung choice, dose, reasons: what one athlete should train on one day, and why.
//!
//! [`session::prescribe`] is the one entry. It is a pure function of the athlete's state and history, the profile, the
//! policy and the date: same input, same answer. Hold-backs ([`hold_back`]) come before any score ([`candidate`]).

pub mod candidate;
pub mod choice;
pub mod day;
pub mod dice;
pub mod dose;
pub mod explain;
pub mod forecast;
pub mod gate_review;
pub mod goal;
pub mod history;
pub mod hold_back;
pub mod influence;
pub mod limiter;
mod opening;
pub mod policy;
pub mod prescription;
pub mod reason;
pub mod session;
mod share;
pub mod situation;
mod story;
pub mod supposition;
mod test_session;
pub mod trend;
pub mod turn;
pub mod week;
mod wording;
