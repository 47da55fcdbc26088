//! Band chance: how likely the sets of an item truly land in a band.

use nextrung_capacity::task::Task;
use nextrung_domain::band::Band;

use crate::simulate::truth::Truth;

/// Work of one set of the item, in sets to the limit: as the service reckons it.
const SET_WORK: f64 = 0.8;

/// The true chance that a set of the item lands in the band, on average over its sets, given what was done today before.
pub fn in_band(truth: &Truth, task: &Task, band: Band, (sets, rest_seconds): (u16, u16)) -> f64 {
    let faded = truth.left_after(rest_seconds);
    let (mut left, mut more, mut sum) = (1.0, 0.0, 0.0);
    for _ in 0..sets {
        left *= faded;
        more *= faded;
        let reach = |units: f64| truth.at_least(task, units, (left, more));
        sum += reach(f64::from(band.low)) - reach(f64::from(band.high) + 1.0);
        more += SET_WORK;
    }
    sum / f64::from(sets.max(1))
}
