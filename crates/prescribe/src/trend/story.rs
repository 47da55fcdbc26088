//! Story: a trend in plain sentences.

use nextrung_domain::ladder::Rung;
use nextrung_domain::stop::Stop;

use super::Point;
use super::failures::FailureTrend;
use super::slope::Slope;
use crate::wording::{decimal, percent};

/// What a coach would say of the points and the failures.
pub(super) fn sentences(rung: &Rung, points: &[Point], failures: &[FailureTrend]) -> Vec<String> {
    let mut all = vec![of_points(rung, points)];
    match failures.first() {
        Some(any) => {
            all.push(of_failures(any, &failures[1..]));
            all.extend(of_slope(any));
        }
        None => all.push("No set on it told whether it failed.".to_owned()),
    }
    all
}

fn of_points(rung: &Rung, points: &[Point]) -> String {
    let unit = rung.unit.short();
    let eighty =
        |p: &Point| format!("80 % of sets {} to {}", decimal(p.intervals[1].0), decimal(p.intervals[1].1));
    match points {
        [] => "Nothing that it asks for was trained in these days.".to_owned(),
        [one] => format!(
            "One day of training: a fresh set of about {} {unit} ({}).",
            decimal(one.median),
            eighty(one)
        ),
        [first, .., last] if decimal(first.median) == decimal(last.median) => format!(
            "Over {} days of training a fresh set stayed at about {} {unit} ({}).",
            points.len(),
            decimal(last.median),
            eighty(last)
        ),
        [first, .., last] => format!(
            "Over {} days of training a fresh set went from about {} to {} {unit} (at the end {}).",
            points.len(),
            decimal(first.median),
            decimal(last.median),
            eighty(last)
        ),
    }
}

fn of_failures(any: &FailureTrend, causes: &[FailureTrend]) -> String {
    let mut said: Vec<&FailureTrend> = causes.iter().collect();
    said.sort_by_key(|one| u32::MAX - one.failures);
    let word = |one: &&FailureTrend| format!("{} by {}", one.failures, one.cause.map_or("any", Stop::word));
    let list = said.iter().map(word).collect::<Vec<_>>().join(", ");
    let by = if list.is_empty() { String::new() } else { format!(": {list}") };
    let (low, high) = any.interval;
    format!(
        "{} of {} sets failed ({}, 95 % interval {} to {}){by}.",
        any.failures,
        any.sets,
        percent(any.rate()),
        percent(low),
        percent(high)
    )
}

fn of_slope(any: &FailureTrend) -> Option<String> {
    let Some(slope) = any.slope else {
        let enough = any.failures > 0 && any.failures < any.sets;
        return enough.then(|| "Too few sets or days to say whether failures grow rarer.".to_owned());
    };
    let (low, high) = slope.interval();
    Some(if low > 0.0 || high < 0.0 {
        format!("The odds of a failure {} a week (95 % interval: {}).", change(slope.slope), both(slope))
    } else {
        format!(
            "Whether failures grow rarer or more frequent cannot be told (95 % interval of the odds: {}).",
            both(slope)
        )
    })
}

fn both(slope: Slope) -> String {
    let (low, high) = slope.interval();
    format!("{} to {} a week", signed(low), signed(high))
}

fn change(log_odds: f64) -> String {
    match libm::round(100.0 * libm::expm1(log_odds)) {
        0.0 => "hardly change".to_owned(),
        share if share < 0.0 => format!("fall by {} %", -share),
        share => format!("rise by {share} %"),
    }
}

fn signed(log_odds: f64) -> String {
    match libm::round(100.0 * libm::expm1(log_odds)) {
        0.0 => "0 %".to_owned(),
        share if share > 999.0 => "over +999 %".to_owned(),
        share => format!("{share:+} %"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_hardly_changes_has_no_sign() {
        let said = |share: f64| (change(libm::log1p(share)), signed(libm::log1p(share)));
        let words = |change: &str, signed: &str| (change.to_owned(), signed.to_owned());
        assert_eq!(said(-0.004), words("hardly change", "0 %"));
        assert_eq!(said(0.004), words("hardly change", "0 %"));
        assert_eq!(said(-0.104), words("fall by 10 %", "-10 %"));
        assert_eq!(said(0.106), words("rise by 11 %", "+11 %"));
        assert_eq!(said(20.0).1, "over +999 %");
    }
}
