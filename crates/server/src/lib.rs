//! Services of the contract over the engine, made with tonic.
//!
//! Conversions stand in [`convert`], statuses in [`status`], nothing else knows both sides. [`server::start`] wires a
//! store, the ladders and the services to a loopback port and drains them at the end.

pub mod access;
pub mod convert;
mod door;
pub mod fields;
pub mod fingerprint;
pub mod ladders;
mod listen;
pub mod names;
pub mod page;
pub mod server;
pub mod service;
pub mod settings;
pub mod status;

pub use listen::tls::TlsError;
pub use server::{Running, StartError, StopError, start};
pub use settings::{LadderSource, Settings, TlsFiles};
