//! Foretold: how a set may end, in a buffer that is used again.

use crate::score::ScoreError;
use crate::score::ending::Endings;

/// Chances of how a set ends: by failure after 0, 1, ... units for strength, balance or line, or at the top.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Foretold {
    failed: Vec<[f64; 3]>,
    reached: f64,
}

impl Foretold {
    /// Nothing said yet about a set foretold up to `top` units.
    pub fn clear(&mut self, top: u16) {
        self.failed.clear();
        self.failed.resize(usize::from(top), [0.0; 3]);
        self.reached = 1.0;
    }

    /// Units up to which is foretold.
    pub fn top(&self) -> usize {
        self.failed.len()
    }

    /// Adds a chance to fail after `units` by a kind of ability, both counted from 0; ends beyond the top are left out.
    pub fn fail(&mut self, units: usize, kind: usize, chance: f64) {
        if let Some(place) = self.failed.get_mut(units).and_then(|by_kind| by_kind.get_mut(kind)) {
            *place += chance.max(0.0);
        }
    }

    /// Says how likely the top is reached.
    pub fn reach(&mut self, chance: f64) {
        self.reached = chance;
    }

    /// Says it all by the chances of at least 1, 2, ... units, which must not rise, and the shares of the causes.
    pub fn by_survival(&mut self, survival: impl IntoIterator<Item = f64>, causes: [f64; 3]) {
        let mut still = 1.0;
        for (by_kind, next) in self.failed.iter_mut().zip(survival) {
            *by_kind = causes.map(|share| (still - next).max(0.0) * share);
            still = next;
        }
        self.reached = still;
    }

    /// As what is scored. The buffer comes back by [`Foretold::take_back`].
    ///
    /// # Errors
    ///
    /// Those of [`Endings::new`]: what was said is no distribution.
    pub fn endings(&mut self) -> Result<Endings<3>, ScoreError> {
        Endings::new(std::mem::take(&mut self.failed), self.reached)
    }

    /// Takes what is scored for its own, the buffer with it.
    pub fn take_back(&mut self, endings: Endings<3>) {
        (self.failed, self.reached) = endings.into_parts();
    }
}
