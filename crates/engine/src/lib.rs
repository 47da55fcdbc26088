//! Use cases: record, correct, withdraw, prescribe, why; the state cache.
//!
//! [`engine::Engine`] is the service without its transport. The log is the truth: every state is a fold over it
//! ([`set_log`], [`fold`]), kept in a bounded [`cache`] only to be quick. Edges (the clock, the store) come in from
//! outside.

mod answers;
pub mod athlete;
mod bad_sets;
pub mod cache;
pub mod capacity;
pub mod clock;
pub mod engine;
mod erase;
pub mod error;
pub mod export;
pub mod fold;
pub mod forecast;
pub mod foretelling;
pub mod gates;
pub mod goal;
mod influence;
pub mod issued;
mod lookback;
mod moves;
pub mod observer;
pub mod prescribe;
pub mod record;
pub mod request;
pub mod review;
pub mod roster;
pub mod roster_log;
pub mod set_log;
pub mod suppose;
mod tail;
pub mod trend;
mod turn;
pub mod watch;
pub mod week;
pub mod why;
