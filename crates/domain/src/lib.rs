//! Ids, validated values, set log events, ladders and their checks.
//!
//! No input or output, no protobuf, no SQL. Everything that enters the service passes one of two doors here:
//! [`draft`] turns loose field values into a checked [`set::SetEntry`], [`ladder_file`] turns TOML text into a
//! checked [`ladder::Ladder`]. Both report every bad field at once as [`problem::Problem`]s.

pub mod ability;
pub mod ability_file;
pub mod adjustment;
pub mod band;
pub mod catalog;
pub mod date;
pub mod draft;
pub mod event;
pub mod gate_graph;
pub mod ids;
pub mod ladder;
pub mod ladder_file;
pub mod measure;
pub mod problem;
pub mod profile;
pub mod profile_draft;
pub mod set;
pub mod stop;
mod toml_reader;
