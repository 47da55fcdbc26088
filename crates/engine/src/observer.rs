//! Observer: is told what the engine does, to count it. Nothing that could name or describe an athlete is told.

use crate::foretelling::Rank;

/// Is told what the engine does. Every method does nothing unless it is written anew; none may block.
pub trait Observer: Send + Sync + 'static {
    /// A head was asked for, and was in memory or not.
    fn head_asked(&self, was_cached: bool) {
        let _ = was_cached;
    }

    /// A log of so many sets was folded, from its start or from a checkpoint.
    fn folded(&self, sets: usize) {
        let _ = sets;
    }

    /// A set arrived whose outcome had been foretold.
    fn foretold(&self, rank: Rank) {
        let _ = rank;
    }
}

/// Nobody.
#[derive(Debug, Clone, Copy, Default)]
pub struct Nobody;

impl Observer for Nobody {}
