//! Evaluate: replays histories to see how good predictions and advice were.
//!
//! [`walk`] goes through one athlete's log in the order of arrival; late, corrected and withdrawn sets lead the fold back
//! ([`timeline`]). Before each set every forecaster of the [`panel`] says how it may end, and is scored ([`set_score`]) on how
//! it did ([`outcome`]). Sums are exact ([`exact`], [`tally`]), so that a [`part`] of a roster joins to the whole in any
//! grouping: threads, processes and machines give the same figures. [`selection`] says what is scored and why the rest is
//! not.

pub mod conclusion;
pub mod crew;
pub mod entry;
pub mod exact;
pub mod learned;
pub mod outcome;
pub mod panel;
pub mod part;
pub mod row;
pub mod run;
pub mod selection;
pub mod set_score;
pub mod source;
pub mod study;
pub mod summarise;
pub mod summary;
pub mod tally;
pub mod timeline;
pub mod walk;
