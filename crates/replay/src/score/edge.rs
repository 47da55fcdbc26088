//! Edge: a band read as two yes-or-no events, one at each end.

use nextrung_domain::band::Band;

use crate::score::distribution::Counts;

/// An event that was predicted and then came or did not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Event {
    /// Chance given to it.
    pub chance: f64,
    /// Whether it came.
    pub came: bool,
    /// Weight in means, above 0.
    pub weight: f64,
}

/// The events "at least the band's low" and "more than the band's high", each of weight 1; nothing where the edge lies above
/// the prediction's top, since such a set could not show on which side of it the athlete is.
pub fn events(counts: &Counts, count: usize, band: Band) -> [Option<Event>; 2] {
    [usize::from(band.low), usize::from(band.high) + 1].map(|edge| {
        let below = counts.below(edge)?;
        Some(Event { chance: 1.0 - below, came: count >= edge, weight: 1.0 })
    })
}
