//! Simulation: athletes whose truth is known, coached for months, to see what the model and the policy are worth.
//!
//! [`truth`] moves and tests an athlete by the model's own family of formulas, written anew from the design and stepped day
//! by day, with set noise of three kinds ([`noise`]). [`trainee`] lets somebody choose the work of each day ([`chooser`]):
//! the service itself, a rule of thumb ([`rule`]) or an oracle that knows the truth ([`oracle`]). [`coverage`] holds the
//! model's intervals against the truth; [`in_band`] counts how often a working set was of the size wanted; [`limiters`]
//! how often the review finds what holds an athlete back; [`forecast`] how often what was forecast came true; [`refit`]
//! whether a ladder that is wrong is mended.
//!
//! [`family`] departs from the model's truth in known ways: in [`growth`], by [`ache`], in [`attendance`], by [`temper`]. A
//! [`season`] is a course on the days on which the athlete turns up, [`standing`] what was true as a set began. [`crowd`]
//! makes rosters of any size for replays; [`policies`] sets choosers and rules of choice side by side.

pub mod ache;
pub mod attendance;
pub mod band_chance;
pub mod binomial;
pub mod bootstrap;
pub mod chooser;
pub mod coverage;
pub mod crowd;
pub mod family;
pub mod forecast;
pub mod growth;
pub mod in_band;
pub mod limiters;
pub mod noise;
pub mod oracle;
pub mod policies;
pub mod refit;
pub mod replay_growth;
pub mod replay_speed;
pub mod report;
pub mod rule;
pub mod scene;
pub mod season;
pub mod standing;
pub mod temper;
pub mod trainee;
pub mod truth;
pub mod who;
pub mod world;
