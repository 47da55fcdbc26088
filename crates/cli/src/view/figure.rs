//! Figures: units, chances, intervals and doses as people read them.

use nextrung_api::v1;

use crate::words;

/// Units with as many digits as they deserve: `4.1`, `23`.
pub(crate) fn units(value: f64) -> String {
    if value < 9.95 { format!("{value:.1}") } else { format!("{value:.0}") }
}

/// A chance in percent; never 0 or 100, which no estimate says.
pub(crate) fn chance(probability: f64) -> String {
    let percent = 100.0 * probability;
    if percent < 0.5 {
        "<1 %".to_owned()
    } else if percent > 99.5 {
        ">99 %".to_owned()
    } else {
        format!("{percent:.0} %")
    }
}

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

/// `a, b and c`.
pub(crate) fn and_list(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_as_many_digits_as_they_deserve() {
        assert_eq!(
            (units(4.12), units(9.96), units(23.4)),
            ("4.1".to_owned(), "10".to_owned(), "23".to_owned())
        );
        assert_eq!(
            (chance(0.001), chance(0.716), chance(1.0)),
            ("<1 %".into(), "72 %".into(), ">99 %".into())
        );
        let interval = v1::Interval { level: 0.8, low: 3.2, high: 5.34 };
        assert_eq!(likely(4.1, Some(&interval)), "4.1 (3.2 to 5.3)");
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

    #[test]
    fn lists_read_as_a_sentence() {
        let parts = ["a", "b", "c"].map(str::to_owned);
        assert_eq!(and_list(&parts), "a, b and c");
        assert_eq!(and_list(&parts[..1]), "a");
        assert_eq!(and_list(&[]), "");
    }
}
