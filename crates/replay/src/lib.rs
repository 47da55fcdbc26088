//! Simulated athletes and batch evaluation.
//!
//! Everything random here comes from one seed ([`dice`]): the same seed gives the same bits on every machine. [`hall`]
//! invents the demo roster; its truth is of another family than the model. [`simulate`] has athletes whose truth is the
//! model's own family, to hold its intervals and choices against. [`score`] says how good predictions were; [`hazard`] is a
//! baseline to hold them against.

pub use nextrung_prescribe::dice;

pub mod advice;
pub mod athlete_log;
pub mod evaluate;
pub mod files;
pub mod forecaster;
pub mod hall;
pub mod hazard;
pub mod ladders;
pub mod output;
pub mod refit;
pub mod score;
pub mod simulate;
