//! Conversions between the contract and the domain, all of them. Messages that come in are taken apart field by field, so
//! that a new field breaks the build until somebody decides what it means.

pub mod access;
pub mod athlete;
pub mod band;
pub mod capacity;
pub mod explanation;
pub mod export;
pub mod forecast;
pub mod gates;
pub mod ladder;
pub mod limiters;
pub mod prescription;
pub mod replay;
pub mod roster;
pub mod set;
pub mod trend;
pub mod week;
pub mod words;
