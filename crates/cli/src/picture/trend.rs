//! Trend as a picture.

use nextrung_api::v1;
use nextrung_chart::trend::{Capacity, CauseTrend, FailureWeek, RungTrend, Trend};

use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::picture::{count, day, ends, undrawn, unit};
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
    trend.draw().map_err(undrawn)
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
