//! Forecast as a picture.

use nextrung_api::v1;
use nextrung_chart::forecast::{Forecast, Line, Week};

use crate::failure::Failure;
use crate::lexicon::Lexicon;
use crate::picture::{count, day, ends, unit};

/// The picture as SVG.
pub(crate) fn draw(found: &v1::GoalForecast, who: &str, lexicon: &Lexicon) -> Result<String, Failure> {
    let mut sentences = found.sentences.clone();
    if !found.no_second_line.is_empty() {
        sentences.push(format!("No line for the recommended dose. {}", found.no_second_line));
    }
    let forecast = Forecast {
        who: who.to_owned(),
        goal: lexicon.rung(&found.rung),
        unit: unit(found.unit).to_owned(),
        from: day(found.date.as_ref())?,
        lines: found.lines.iter().map(of_line).collect::<Result<_, _>>()?,
        sentences,
        cautions: found.cautions.clone(),
    };
    Ok(forecast.draw()?)
}

fn of_line(line: &v1::ForecastLine) -> Result<Line, Failure> {
    Ok(Line {
        assumption: line.assumption.clone(),
        first: first(line),
        weeks: line.weeks.iter().map(of_week).collect::<Result<_, _>>()?,
    })
}

/// When the first clean unit is likely: `An even chance by week 7; 80 % range week 3 to after week 12.`
fn first(line: &v1::ForecastLine) -> String {
    let last = line.weeks.last().map_or(0, |week| week.week);
    let after = format!("after week {last}");
    let even = line.median_week.map_or_else(
        || format!("An even chance only {after}"),
        |week| format!("An even chance by week {week}"),
    );
    let named = |week: f64| if week > f64::from(last) { after.clone() } else { format!("week {week:.0}") };
    match &line.first_week {
        Some(range) if range.low > f64::from(last) => format!("{even}; 80 % range wholly {after}."),
        Some(range) if range.low >= range.high => format!("{even}; 80 % range {} alone.", named(range.low)),
        Some(range) => format!("{even}; 80 % range {} to {}.", named(range.low), named(range.high)),
        None => format!("{even}."),
    }
}

fn of_week(week: &v1::ForecastWeek) -> Result<Week, Failure> {
    Ok(Week {
        number: count(week.week),
        end: day(week.end_date.as_ref())?,
        chance: week.chance_by_then,
        median: week.median_units,
        interval: ends(week.interval.as_ref(), week.median_units),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(median_week: Option<i32>, low: f64, high: f64) -> v1::ForecastLine {
        let week = v1::ForecastWeek { week: 12, ..v1::ForecastWeek::default() };
        let first_week = Some(v1::Interval { level: 0.8, low, high });
        v1::ForecastLine { weeks: vec![week], first_week, median_week, ..v1::ForecastLine::default() }
    }

    #[test]
    fn the_answer_stands_in_the_picture() {
        let date = Some(v1::Date { year: 2026, month: 11, day: 23 });
        let interval = Some(v1::Interval { level: 0.8, low: 0.5, high: 1.8 });
        let week = v1::ForecastWeek {
            week: 1,
            end_date: date,
            chance_by_then: 0.34,
            median_units: 0.92,
            interval,
            ..v1::ForecastWeek::default()
        };
        let line =
            v1::ForecastLine { assumption: "As now.".to_owned(), weeks: vec![week], ..line(None, 1.0, 2.0) };
        let forecast = v1::GoalForecast {
            date,
            lines: vec![line],
            no_second_line: "Too little is known.".to_owned(),
            cautions: vec!["Take care.".to_owned()],
            ..v1::GoalForecast::default()
        };
        let svg = draw(&forecast, "hall/wren", &Lexicon::default()).unwrap();
        for text in [
            "As now. An even chance only after week 1",
            ">34 %<",
            ">0.92<",
            ">0.50 to 1.8<",
            "Too little is known.",
            "Take care.",
        ] {
            assert!(svg.contains(text), "{text} in {svg}");
        }
    }

    #[test]
    fn the_first_clean_unit_is_told_within_the_weeks_looked_at() {
        assert_eq!(
            first(&line(Some(7), 3.0, 10.0)),
            "An even chance by week 7; 80 % range week 3 to week 10."
        );
        assert_eq!(first(&line(Some(1), 1.0, 1.0)), "An even chance by week 1; 80 % range week 1 alone.");
        let late = "An even chance only after week 12; 80 % range week 9 to after week 12.";
        assert_eq!(first(&line(None, 9.0, 13.0)), late);
        let beyond = "An even chance only after week 12; 80 % range wholly after week 12.";
        assert_eq!(first(&line(None, 13.0, 13.0)), beyond);
    }
}
