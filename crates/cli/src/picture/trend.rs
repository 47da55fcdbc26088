//! Trend as a picture.

use nextrung_api::v1;
use nextrung_chart::trend::{Capacity, CauseTrend, FailureWeek, RungTrend, Trend};

use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::picture::{count, day, ends, unit};
use crate::words;

/// The picture as SVG.
pub(crate) fn draw(
    found: &v1::EstimateTrendResponse,
    who: &str,
    lexicon: &Lexicon,
) -> Result<String, Failure> {
    let rungs = found.rungs.iter().map(|rung| of_rung(rung, lexicon));
    let trend = Trend {
        who: who.to_owned(),
        from: day(found.start_date.as_ref())?,
        to: day(found.end_date.as_ref())?,
        rungs: rungs.collect::<Result<_, _>>()?,
    };
    Ok(trend.draw()?)
}

fn of_rung(found: &v1::RungTrend, lexicon: &Lexicon) -> Result<RungTrend, Failure> {
    let any = found.failures.first();
    let weeks = any.map_or(&[][..], |any| &any.weeks);
    Ok(RungTrend {
        name: lexicon.rung(&found.rung),
        unit: unit(found.unit).to_owned(),
        band: lexicon.working_band(&found.rung),
        points: found.points.iter().map(of_point).collect::<Result<_, _>>()?,
        weeks: weeks.iter().map(of_week).collect::<Result<_, _>>()?,
        is_fitted: any.is_some_and(|any| any.slope_per_week.is_some()),
        causes: found.failures.iter().map(of_cause).collect(),
        sentences: found.sentences.clone(),
    })
}

fn of_point(point: &v1::TrendPoint) -> Result<Capacity, Failure> {
    let median = point.median_units;
    let interval = |at: usize| ends(point.intervals.get(at), median);
    let intervals = [interval(0), interval(1), interval(2)];
    Ok(Capacity { day: day(point.date.as_ref())?, median, intervals })
}

fn of_week(week: &v1::FailureWeek) -> Result<FailureWeek, Failure> {
    let start = day(week.start_date.as_ref())?;
    Ok(FailureWeek { start, sets: count(week.sets), failures: count(week.failures), fitted: week.fitted })
}

fn of_cause(found: &v1::FailureTrend) -> CauseTrend {
    let is_any = found.cause == i32::from(v1::Stop::Unspecified);
    let slope = found.slope_per_week;
    CauseTrend {
        cause: if is_any { "any cause".to_owned() } else { words::phrase_of::<v1::Stop>(found.cause) },
        sets: count(found.sets),
        failures: count(found.failures),
        rate: found.rate,
        interval: ends(found.rate_interval.as_ref(), found.rate),
        slope: slope.map(|slope| (slope, ends(found.slope_interval.as_ref(), slope))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: v1::Date = v1::Date { year: 2026, month: 11, day: 23 };

    fn answer() -> v1::EstimateTrendResponse {
        let interval = |level: f64, low: f64, high: f64| v1::Interval { level, low, high };
        let point = v1::TrendPoint {
            date: Some(DAY),
            median_units: 4.2,
            intervals: vec![interval(0.5, 3.9, 4.6), interval(0.8, 3.5, 5.1), interval(0.95, 3.1, 5.8)],
        };
        let any = v1::FailureTrend { sets: 12, failures: 5, rate: 5.0 / 12.0, ..v1::FailureTrend::default() };
        let week = v1::FailureWeek { start_date: Some(DAY), sets: 12, failures: 5, fitted: 0.0 };
        let balance = v1::FailureTrend { cause: v1::Stop::Balance.into(), failures: 2, ..any.clone() };
        let rung = v1::RungTrend {
            rung: "ladders/pull/rungs/pull-up".to_owned(),
            unit: v1::Unit::Reps.into(),
            points: vec![point],
            failures: vec![v1::FailureTrend { weeks: vec![week], ..any }, balance],
            sentences: vec!["A sentence of it.".to_owned()],
        };
        v1::EstimateTrendResponse {
            start_date: Some(DAY),
            end_date: Some(DAY),
            rungs: vec![rung],
            ..v1::EstimateTrendResponse::default()
        }
    }

    #[test]
    fn the_answer_stands_in_the_picture() {
        let svg = draw(&answer(), "hall/wren", &Lexicon::default()).unwrap();
        for text in [
            "hall/wren",
            ">pull/pull-up<",
            ">4.2<",
            ">3.9 to 4.6<",
            ">3.5 to 5.1<",
            ">3.1 to 5.8<",
            ">5 of 12<",
            ">any cause<",
            ">balance<",
            ">2 of 12<",
            ">A sentence of it.<",
        ] {
            assert!(svg.contains(text), "{text} in {svg}");
        }
    }

    #[test]
    fn an_answer_without_days_is_a_failure() {
        let none = v1::EstimateTrendResponse { start_date: None, ..answer() };
        assert_eq!(draw(&none, "hall/wren", &Lexicon::default()).unwrap_err().exit_code(), 4);
    }
}
