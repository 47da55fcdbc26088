//! Replays of histories: no look-ahead, the same figures in any grouping, nothing lost, and who beats whom.

#![expect(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on must fail")]

mod baselines;
mod exclusions;
mod files;
mod grouping;
mod look_ahead;
mod scene;
mod score;
mod timeline;
