//! View: answers of the service as pages for people.

pub(crate) mod athlete;
pub(crate) mod capacity;
pub(crate) mod explanation;
pub(crate) mod figure;
pub(crate) mod forecast;
pub(crate) mod gates;
pub(crate) mod guess;
pub(crate) mod hold_back;
pub(crate) mod import;
pub(crate) mod ladder;
pub(crate) mod limiters;
pub(crate) mod prescription;
pub(crate) mod roster;
pub(crate) mod set;
pub(crate) mod supposed;
pub(crate) mod trend;
pub(crate) mod watched;
pub(crate) mod week;
