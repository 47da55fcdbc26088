//! Figures: units, chances, intervals and doses as people read them.

use nextrung_api::v1;
pub(crate) use nextrung_chart::figure::{and_list, chance, units};

use crate::words;

/// A median with its interval: `4.1 (3.2 to 5.3)`.
pub(crate) fn likely(median: f64, interval: Option<&v1::Interval>) -> String {
    match interval {
        Some(interval) => format!("{} ({} to {})", units(median), units(interval.low), units(interval.high)),
        None => units(median),
    }
}

/// `3-5`, or `3` when both ends are the same.
pub(crate) fn range(low: i32, high: i32) -> String {
    if low == high { low.to_string() } else { format!("{low}-{high}") }
}

/// `4 x 3-5 reps`.
pub(crate) fn dose(item: &v1::PrescribedItem) -> String {
    let unit = words::unit(item.unit);
    format!("{} x {} {unit}", item.sets, range(item.target_low, item.target_high))
}

/// A rest: `90 s`, `3 min`.
pub(crate) fn rest(seconds: i32) -> String {
    if seconds >= 120 && seconds % 60 == 0 { format!("{} min", seconds / 60) } else { format!("{seconds} s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_median_has_its_interval_beside_it() {
        let interval = v1::Interval { level: 0.8, low: 3.2, high: 5.34 };
        assert_eq!(likely(4.1, Some(&interval)), "4.1 (3.2 to 5.3)");
        assert_eq!(likely(0.41, None), "0.41");
    }

    #[test]
    fn doses_and_rests_are_short() {
        let item = v1::PrescribedItem {
            sets: 4,
            target_low: 3,
            target_high: 5,
            unit: i32::from(v1::Unit::Reps),
            ..v1::PrescribedItem::default()
        };
        assert_eq!(dose(&item), "4 x 3-5 reps");
        let hold = v1::PrescribedItem { target_high: 3, unit: i32::from(v1::Unit::HoldSeconds), ..item };
        assert_eq!(dose(&hold), "4 x 3 s");
        assert_eq!((rest(90), rest(180), rest(200)), ("90 s".into(), "3 min".into(), "200 s".into()));
    }
}
