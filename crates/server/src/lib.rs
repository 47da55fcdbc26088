//! Services of the contract over the engine, made with tonic.
//!
//! Conversions stand in [`convert`], statuses in [`status`], nothing else knows both sides. [`server::start`] wires a
//! store, the ladders and the services to a loopback port and drains them at the end.

pub mod access;
pub mod configuration;
pub mod convert;
mod door;
pub mod fields;
pub mod fingerprint;
mod front;
mod held_body;
pub mod journal;
pub mod json;
pub mod ladders;
mod listen;
mod meter;
pub mod names;
pub mod openapi;
pub mod page;
mod patience;
mod pulse;
mod readiness;
pub mod secret;
pub mod server;
pub mod service;
pub mod settings;
mod side_port;
pub mod status;
mod traces;
mod watched_store;
mod witness;

pub use front::origin::Origins;
pub use listen::tls::TlsError;
pub use pulse::LIVENESS;
pub use server::{Running, StartError, StopError, lock, start};
pub use settings::{LadderSource, LogFormat, LogLevel, Settings, TlsFiles};
pub use witness::REQUEST_ID;
