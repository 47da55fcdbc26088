//! Failures: how often sets on a rung failed, by cause, over time (F-11).

use nextrung_capacity::done::Done;
use nextrung_capacity::task::Task;
use nextrung_domain::catalog::RungIx;
use nextrung_domain::stop::Stop;

use super::Span;
use super::slope::{Slope, logistic_slope};
use crate::share;

/// The 0.975 quantile of the normal distribution.
pub const HALF_95: f64 = 1.959_963_984_540_054;
/// Fewest sets from which a slope is told.
const FEWEST: usize = 8;
/// Days of a week.
const WEEK: i32 = 7;

/// How often sets failed by one cause.
#[derive(Debug, Clone, PartialEq)]
pub struct FailureTrend {
    /// The cause; nothing for any.
    pub cause: Option<Stop>,
    /// Sets that could have failed by it.
    pub sets: u32,
    /// Those that did.
    pub failures: u32,
    /// Wilson's central interval of the rate, level 0.95, over as many sets as those of so many days are worth.
    pub interval: (f64, f64),
    /// Change of the log odds a week, where it can be told.
    pub slope: Option<Slope>,
    /// By week of the span; those without sets are left out.
    pub weeks: Vec<FailureWeek>,
}

/// One week.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FailureWeek {
    /// Its first day, since 1970-01-01.
    pub first_day: i32,
    /// Sets that could have failed.
    pub sets: u32,
    /// Those that did.
    pub failures: u32,
    /// Chance of a failure on its fourth day by the fitted line, when there is one.
    pub fitted: Option<f64>,
}

impl FailureTrend {
    /// Failures a set; 0 of none.
    pub fn rate(&self) -> f64 {
        f64::from(self.failures) / f64::from(self.sets.max(1))
    }
}

/// Failures on a rung, with or without shadings and load: any first, then by each cause that was said at least once. Nothing
/// when no set could have failed.
pub fn of_rung(rung: RungIx, sets: &[(Task, Done)], span: Span) -> Vec<FailureTrend> {
    let on_rung: Vec<&Done> =
        sets.iter().filter(|(t, done)| t.rung == rung && span.has(done.day)).map(|(_, done)| done).collect();
    let causes = [None, Some(Stop::Strength), Some(Stop::Balance), Some(Stop::Line)];
    let one = |cause: Option<Stop>| {
        let at_risk: Vec<(i32, bool)> = on_rung.iter().filter_map(|done| outcome(done, cause)).collect();
        let failures = at_risk.iter().filter(|(_, failed)| *failed).count();
        let is_told = if cause.is_none() { !at_risk.is_empty() } else { failures > 0 };
        is_told.then(|| trend(cause, &at_risk, span))
    };
    causes.into_iter().filter_map(one).collect()
}

/// The day of a set and whether it failed by the cause; nothing for a set that could not: its end was not said, was caused
/// from outside, or nothing was tried. A failure without a cause counts as one of any cause and says nothing of each.
fn outcome(done: &Done, cause: Option<Stop>) -> Option<(i32, bool)> {
    let failed = match done.stop {
        Stop::Target | Stop::Chosen => false,
        Stop::Strength | Stop::Balance | Stop::Line => cause.is_none_or(|cause| cause == done.stop),
        Stop::Failed if cause.is_none() => true,
        Stop::Failed | Stop::Pain | Stop::Interrupted | Stop::Other => return None,
    };
    done.is_effort().then_some((done.day, failed))
}

fn trend(cause: Option<Stop>, at_risk: &[(i32, bool)], span: Span) -> FailureTrend {
    let timed: Vec<(f64, bool)> =
        at_risk.iter().map(|(day, failed)| (weeks_between(span.first, *day), *failed)).collect();
    let slope = if timed.len() < FEWEST { None } else { logistic_slope(&timed) };
    let mut weeks: Vec<FailureWeek> = Vec::new();
    for (day, failed) in at_risk {
        let first_day = day - (day - span.first).rem_euclid(WEEK);
        if weeks.last().is_none_or(|week| week.first_day != first_day) {
            let middle = weeks_between(span.first, first_day + WEEK / 2);
            let fitted = slope.map(|s| s.chance(middle));
            weeks.push(FailureWeek { first_day, sets: 0, failures: 0, fitted });
        }
        if let Some(week) = weeks.last_mut() {
            week.sets += 1;
            week.failures += u32::from(*failed);
        }
    }
    let (sets, failures) = weeks.iter().fold((0, 0), |(n, k), week| (n + week.sets, k + week.failures));
    FailureTrend {
        cause,
        sets,
        failures,
        interval: share::interval(f64::from(failures) / f64::from(sets.max(1)), worth(at_risk), HALF_95),
        slope,
        weeks,
    }
}

/// How many independent sets they are worth: sets of a day share its form.
fn worth(at_risk: &[(i32, bool)]) -> f64 {
    share::worth(at_risk.iter().map(|(day, failed)| (*day, f64::from(u8::from(*failed)))))
}

fn weeks_between(first: i32, day: i32) -> f64 {
    f64::from(day - first) / f64::from(WEEK)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn done(day: i32, units: u16, stop: Stop) -> Done {
        Done { day, session: 1, units, target: Some(5), stop, reserve: None, rest_seconds: None }
    }

    #[test]
    fn a_share_has_the_published_interval() {
        // 10 of 100 by hand: (10 + 1.92073) / 103.8415 -+ 1.95996 / 103.8415 x sqrt(9 + 0.96036).
        let (low, high) = share::interval(0.1, 100.0, HALF_95);
        assert!((low - 0.055_229).abs() < 1e-5 && (high - 0.174_366).abs() < 1e-5, "{low} {high}");
        assert!(
            share::interval(0.0, 5.0, HALF_95).0.abs() < 1e-12
                && (share::interval(1.0, 5.0, HALF_95).1 - 1.0).abs() < 1e-12
        );
        let (low, high) = share::interval(0.0, 0.0, HALF_95);
        assert!(low.abs() < 1e-12 && (high - 1.0).abs() < 1e-12, "{low} {high}");
    }

    #[test]
    fn sets_of_a_day_are_worth_less_the_more_they_are_alike() {
        let of = |days: &[(i32, &[bool])]| {
            let at_risk: Vec<(i32, bool)> =
                days.iter().flat_map(|(day, sets)| sets.iter().map(|failed| (*day, *failed))).collect();
            worth(&at_risk)
        };
        let (yes, no) = ([true; 3], [false; 3]);
        let near = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-9, "{found} {expected}");
        near(of(&[(0, &yes), (2, &no), (4, &yes), (7, &no)]), 4.0);
        near(of(&[(0, &yes[..1]), (2, &no[..1]), (4, &yes[..1]), (7, &no[..1])]), 4.0);
        // One of three each day: the sets of a day differ as they can, and are worth so many sets at most.
        near(of(&[(0, &[true, false, false]), (2, &[false, true, false])]), 6.0);
        let mixed: [(i32, &[bool]); 4] =
            [(0, &[true, false]), (2, &[false, false]), (4, &[true, true]), (7, &[false, false])];
        // By hand: 3 of 8, so 3/4 expected a day; off by 1/4, 3/4, 5/4 and 3/4, squares together 11/4. 15/64 over 11/4 / 64.
        near(of(&mixed), 60.0 / 11.0);
        // One day alone tells nothing of how alike its sets are.
        near(of(&[(0, &[true, false, false])]), 1.0);
        near(of(&[(0, &no), (2, &no)]), 2.0);
        near(of(&[(0, &yes), (2, &yes)]), 2.0);
    }

    #[test]
    fn sets_that_could_not_fail_are_left_out() {
        assert_eq!(outcome(&done(3, 4, Stop::Strength), None), Some((3, true)));
        assert_eq!(outcome(&done(3, 4, Stop::Strength), Some(Stop::Balance)), Some((3, false)));
        assert_eq!(outcome(&done(3, 4, Stop::Failed), None), Some((3, true)));
        for stop in [Stop::Failed, Stop::Pain, Stop::Interrupted, Stop::Other] {
            assert_eq!(outcome(&done(3, 4, stop), Some(Stop::Strength)), None, "{stop:?}");
        }
        assert_eq!(outcome(&done(3, 0, Stop::Chosen), None), None);
        assert_eq!(outcome(&done(3, 0, Stop::Strength), None), Some((3, true)));
    }

    #[test]
    fn weeks_count_from_the_first_day_and_add_up() {
        let span = Span { first: 100, last: 127 };
        let at_risk: Vec<(i32, bool)> =
            [100, 106, 107, 115, 121, 121, 122, 127].iter().map(|day| (*day, day % 2 == 0)).collect();
        let found = trend(None, &at_risk, span);
        let firsts: Vec<(i32, u32)> = found.weeks.iter().map(|w| (w.first_day, w.sets)).collect();
        assert_eq!(firsts, [(100, 2), (107, 1), (114, 1), (121, 4)]);
        assert_eq!((found.sets, found.failures), (8, 3));
        assert!(found.slope.is_some() && found.weeks.iter().all(|w| w.fitted.is_some()));
    }

    #[test]
    fn a_slope_is_not_told_from_too_little() {
        let span = Span { first: 0, last: 83 };
        let of = |days: &[i32], failed: fn(i32) -> bool| {
            let at_risk: Vec<(i32, bool)> = days.iter().map(|day| (*day, failed(*day))).collect();
            trend(None, &at_risk, span).slope
        };
        let eight = [0, 7, 14, 21, 28, 35, 42, 49];
        assert!(of(&eight, |day| day % 2 == 0).is_some());
        assert!(of(&eight[..7], |day| day % 2 == 0).is_none(), "seven sets");
        assert!(of(&eight, |_| true).is_none() && of(&eight, |_| false).is_none());
        assert!(of(&[5; 12], |_| true).is_none());
        assert!(of(&eight, |day| day > 20).is_none(), "the failures all come last");
    }
}
