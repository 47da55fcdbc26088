//! Band chance: how likely a set truly lands in a band, averaged over the planned sets.

use nextrung_capacity::task::Task;
use nextrung_domain::band::Band;
use nextrung_prescribe::candidate::mean_over_sets;
use nextrung_prescribe::situation::Situation;

use crate::simulate::truth::Truth;

/// The true chance that the capacity of a planned set lies in the band, on average over the sets with their fatigue.
pub fn in_band(truth: &Truth, at: &Situation<'_>, task: &Task, (band, plan): (Band, (u16, u16))) -> f64 {
    let [chance] = mean_over_sets(at, plan, |work| {
        let reach = |units: f64| truth.at_least(task, units, work);
        [reach(f64::from(band.low)) - reach(f64::from(band.high) + 1.0)]
    });
    chance
}
