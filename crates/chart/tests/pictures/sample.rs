//! Hand-made answers of the size coaches will see, and of sizes they should not.

use nextrung_chart::day::Day;
use nextrung_chart::trend::{Capacity, CauseTrend, FailureWeek, RungTrend, Trend};

/// A Monday.
pub(crate) const START: Day = Day { count: 20_696 };
/// Text that tries to leave its element.
pub(crate) const HOSTILE: &str =
    "</text><script>alert(\"1\")</script>&amp; 'x' \u{0}\u{1b}[1m\u{202e}\u{ffff}";

pub(crate) fn day(after: i32) -> Day {
    Day { count: START.count + after }
}

/// Three sessions a week, slowly getting better, with doubt that shrinks.
pub(crate) fn capacities(weeks: i32, first: f64, growth: f64) -> Vec<Capacity> {
    let days = (0..weeks).flat_map(|week| [1, 3, 5].map(|of_week| 7 * week + of_week));
    let of = |at: i32| {
        let along = f64::from(at) / 7.0;
        let median = first * libm::exp(growth * along + 0.04 * libm::sin(along * 2.1));
        let sd = 0.09 + 0.16 / (1.0 + along);
        let ends = |z: f64| (median * libm::exp(-z * sd), median * libm::exp(z * sd));
        Capacity { day: day(at), median, intervals: [ends(0.674), ends(1.282), ends(1.96)] }
    };
    days.map(of).collect()
}

pub(crate) fn failure_weeks(weeks: i32) -> Vec<FailureWeek> {
    let of = |week: i32| {
        let sets = u32::try_from(6 + week % 4).unwrap();
        let failures = u32::try_from((week * 5 + 3) % 7).unwrap().min(sets);
        let fitted = 1.0 / (1.0 + libm::exp(-0.3 + 0.05 * f64::from(week)));
        FailureWeek { start: day(7 * week), sets, failures, fitted }
    };
    (0..weeks).filter(|week| week % 6 != 4).map(of).collect()
}

pub(crate) fn causes() -> Vec<CauseTrend> {
    let cause = |cause: &str, failures: u32, slope| CauseTrend {
        cause: cause.to_owned(),
        sets: 84,
        failures,
        rate: f64::from(failures) / 84.0,
        interval: (0.28, 0.48),
        slope,
    };
    vec![
        cause("any cause", 31, Some((-0.05, (-0.12, 0.02)))),
        cause("strength", 20, Some((-0.02, (-0.1, 0.06)))),
        cause("balance", 11, None),
    ]
}

pub(crate) fn rung(name: &str, unit: &str, weeks: i32, first: f64) -> RungTrend {
    RungTrend {
        name: name.to_owned(),
        unit: unit.to_owned(),
        band: Some(if unit == "reps" { (3, 5) } else { (8, 15) }),
        points: capacities(weeks, first, 0.03),
        weeks: failure_weeks(weeks),
        is_fitted: true,
        causes: causes(),
        sentences: vec![
            "The median went from 3.0 to 4.3 reps in 12 weeks; it is 97 % likely that it went up.".to_owned(),
            "Of 84 sets whose end was said 31 failed (37 %); the odds fell by 5 % a week (12 % down to 2 % up).".to_owned(),
        ],
    }
}

pub(crate) fn trend(weeks: i32, rungs: Vec<RungTrend>) -> Trend {
    Trend { who: "hall/wren".to_owned(), from: START, to: day(7 * weeks - 1), rungs }
}
