//! Forecasts drawn from hand-made data.

use nextrung_chart::PictureError;

use crate::reading::{assert_sound, attributes, has_row, texts};
use crate::sample;

#[test]
fn two_lines_are_told_apart_by_dash_and_mark() {
    let svg = sample::forecast(12).draw().unwrap();
    assert_sound("forecast", &svg);
    assert_eq!(svg, sample::forecast(12).draw().unwrap());
    // A disc for each week of the first line in both plots and one in the legend; white squares for the second.
    assert_eq!(attributes(&svg, "circle", "cx").len(), 25);
    let white = attributes(&svg, "polygon", "fill").iter().filter(|fill| *fill == "#FFFFFF").count();
    assert_eq!(white, 24);
    let mut one = sample::forecast(12);
    one.lines.truncate(1);
    let single = one.draw().unwrap();
    assert_sound("forecast-one", &single);
    // A broken line is many short ones.
    let pieces = |svg: &str| attributes(svg, "polyline", "points").len();
    assert!(pieces(&svg) > pieces(&single) + 60, "{} and {}", pieces(&svg), pieces(&single));
}

#[test]
fn every_week_of_both_lines_is_in_the_table() {
    let forecast = sample::forecast(26);
    let svg = forecast.draw().unwrap();
    assert_sound("forecast-26", &svg);
    for (one, two) in forecast.lines[0].weeks.iter().zip(&forecast.lines[1].weeks) {
        let mut cells = vec![one.number.to_string(), one.end.iso()];
        for week in [one, two] {
            let units =
                |units: f64| if units < 0.995 { format!("{units:.2}") } else { format!("{units:.1}") };
            let percent = 100.0 * week.chance;
            cells.push(if percent < 0.5 { "<1 %".to_owned() } else { format!("{percent:.0} %") });
            cells.push(units(week.median));
            cells.push(format!("{} to {}", units(week.interval.0), units(week.interval.1)));
        }
        let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
        assert!(has_row(&svg, &cells), "{cells:?}");
    }
}

#[test]
fn a_year_has_every_second_week_in_its_table() {
    let svg = sample::forecast(52).draw().unwrap();
    assert_sound("forecast-52", &svg);
    assert!(texts(&svg).contains(&"every second week is shown".to_owned()));
    assert!(has_row(&svg, &["52", &sample::day(84 + 7 * 52).iso()]));
    assert!(!has_row(&svg, &["51", &sample::day(84 + 7 * 51).iso()]));
}

#[test]
fn one_week_and_none_can_be_drawn() {
    assert_sound("forecast-1", &sample::forecast(1).draw().unwrap());
    let mut none = sample::forecast(12);
    none.lines.clear();
    let svg = none.draw().unwrap();
    assert_sound("forecast-empty", &svg);
    assert!(texts(&svg).join(" ").contains("There is nothing to show"));
}

#[test]
fn extreme_and_hostile_answers_stay_on_the_paper() {
    let mut forecast = sample::forecast(12);
    for (at, week) in forecast.lines[0].weeks.iter_mut().enumerate() {
        week.median = if at % 2 == 0 { 1e-30 } else { 1e30 };
        week.interval = (1e-40, 1e40);
        week.chance = 1.0;
    }
    forecast.lines[1].assumption = sample::HOSTILE.repeat(9);
    forecast.goal = sample::HOSTILE.to_owned();
    forecast.unit = sample::HOSTILE.to_owned();
    forecast.cautions.push(sample::HOSTILE.to_owned());
    assert_sound("forecast-extreme", &forecast.draw().unwrap());
    forecast.lines[0].weeks[0].chance = f64::INFINITY;
    assert_eq!(forecast.draw(), Err(PictureError::NotFinite { what: "a chance" }));
}
