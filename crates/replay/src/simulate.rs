//! Simulation: athletes whose truth is known, coached for months, to see what the model and the policy are worth.
//!
//! [`truth`] moves and tests an athlete by the model's own family of formulas, written anew from the design and stepped day
//! by day, with set noise of three kinds ([`noise`]). [`trainee`] lets somebody choose the work of each day ([`chooser`]):
//! the service itself, a rule of thumb ([`rule`]) or an oracle that knows the truth ([`oracle`]). [`coverage`] holds the
//! model's intervals against the truth; [`in_band`] counts how often a working set was of the size wanted; [`limiters`]
//! how often the review finds what holds an athlete back; [`forecast`] how often what was forecast came true; [`refit`]
//! whether a ladder that is wrong is mended.

pub mod band_chance;
pub mod binomial;
pub mod bootstrap;
pub mod chooser;
pub mod coverage;
pub mod forecast;
pub mod in_band;
pub mod limiters;
pub mod noise;
pub mod oracle;
pub mod refit;
pub mod report;
pub mod rule;
pub mod scene;
pub mod trainee;
pub mod truth;
pub mod world;
