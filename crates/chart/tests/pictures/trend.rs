//! Trends drawn from hand-made data.

use nextrung_chart::PictureError;
use nextrung_chart::trend::{Capacity, RungTrend};

use crate::reading::{assert_sound, attributes, description, has_row, texts};
use crate::sample;

#[test]
fn twelve_weeks_of_two_rungs_stand_beside_their_figures() {
    let long = "One-leg squat standing on a box, free leg hanging";
    let rungs =
        vec![sample::rung("Pull-up", "reps", 12, 3.0), sample::rung(long, "seconds of holding", 12, 6.0)];
    let svg = sample::trend(12, rungs).draw().unwrap();
    assert_sound("trend", &svg);
    assert_eq!(
        svg,
        sample::trend(
            12,
            vec![sample::rung("Pull-up", "reps", 12, 3.0), sample::rung(long, "seconds of holding", 12, 6.0),]
        )
        .draw()
        .unwrap()
    );
    assert!(has_row(
        &svg,
        &["any cause", "31 of 84", "37 %", "28 to 48 %", "\u{2212}5 %", "\u{2212}11 % to +2 %"]
    ));
    assert!(has_row(&svg, &["balance", "11 of 84", "13 %", "28 to 48 %", "\u{2013}", "\u{2013}"]));
    assert!(description(&svg).contains("Pull-up: The median went from 3.0 to 4.3 reps"));
}

#[test]
fn every_week_has_its_figures() {
    let rung = sample::rung("Pull-up", "reps", 26, 3.0);
    let svg = sample::trend(26, vec![rung.clone()]).draw().unwrap();
    assert_sound("trend-26", &svg);
    for week in 0..26 {
        let last =
            rung.points.iter().rfind(|point| (point.day.count - sample::START.count) / 7 == week).unwrap();
        let range = |(low, high): (f64, f64)| {
            let one = |units: f64| if units < 9.95 { format!("{units:.1}") } else { format!("{units:.0}") };
            format!("{} to {}", one(low), one(high))
        };
        let mut cells = vec![sample::day(7 * week).iso(), format!("{:.1}", last.median)];
        cells.extend(last.intervals.map(range));
        cells.push(
            rung.weeks
                .iter()
                .find(|other| other.start == sample::day(7 * week))
                .map_or_else(|| "\u{2013}".to_owned(), |week| format!("{} of {}", week.failures, week.sets)),
        );
        let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
        assert!(has_row(&svg, &cells), "{cells:?}");
    }
}

#[test]
fn long_spans_have_fewer_rows_and_say_so() {
    let svg = sample::trend(53, vec![sample::rung("Pull-up", "reps", 53, 3.0)]).draw().unwrap();
    assert_sound("trend-53", &svg);
    assert!(texts(&svg).join(" ").contains("every third week is shown"));
    assert!(has_row(&svg, &[&sample::day(7 * 52).iso()]), "the last week is always there");
    assert!(!has_row(&svg, &[&sample::day(7 * 51).iso()]));
}

#[test]
fn bands_differ_in_lightness_and_the_inner_one_is_darkest() {
    let svg = sample::trend(12, vec![sample::rung("Pull-up", "reps", 12, 3.0)]).draw().unwrap();
    let fills = attributes(&svg, "polygon", "fill");
    assert_eq!(fills, ["#E4E4E4", "#C6C6C6", "#9C9C9C"]);
}

#[test]
fn a_single_day_can_be_seen() {
    let mut rung = sample::rung("Pull-up", "reps", 1, 3.0);
    rung.points.truncate(1);
    rung.weeks.truncate(1);
    let svg = sample::trend(1, vec![rung]).draw().unwrap();
    assert_sound("trend-1", &svg);
    for points in attributes(&svg, "polygon", "points") {
        let across: Vec<&str> = points.split(' ').filter_map(|point| point.split(',').next()).collect();
        assert_ne!(across.first(), across.get(1), "{points} has no width");
    }
}

#[test]
fn what_is_not_there_is_said() {
    let empty = RungTrend {
        name: "Hand balance".to_owned(),
        unit: "seconds of holding".to_owned(),
        band: None,
        points: vec![],
        weeks: vec![],
        is_fitted: false,
        causes: vec![],
        sentences: vec![],
    };
    let svg = sample::trend(12, vec![empty]).draw().unwrap();
    assert_sound("trend-untrained", &svg);
    assert_eq!(texts(&svg).iter().filter(|text| text.starts_with("Nothing to show")).count(), 2);
    let svg = sample::trend(12, vec![]).draw().unwrap();
    assert_sound("trend-empty", &svg);
    assert!(texts(&svg).join(" ").contains("There is nothing to show"));
}

#[test]
fn extreme_figures_stay_on_the_paper() {
    let mut rung = sample::rung("Pull-up", "reps", 12, 3.0);
    for (at, point) in rung.points.iter_mut().enumerate() {
        let median = if at % 2 == 0 { 1e-12 } else { 1e12 };
        *point = Capacity { median, intervals: [(median / 10.0, median * 10.0); 3], ..*point };
    }
    for cause in &mut rung.causes {
        cause.slope = Some((50.0, (-50.0, 700.0)));
    }
    let svg = sample::trend(12, vec![rung]).draw().unwrap();
    assert_sound("trend-extreme", &svg);
    assert!(has_row(&svg, &["<0.01", "<0.01 to <0.01"]) && has_row(&svg, &["9999+", "9999+ to 9999+"]));
}

#[test]
fn twenty_rungs_fit() {
    let rungs = (0..20).map(|at| sample::rung(&format!("Rung {at}"), "reps", 12, 3.0)).collect();
    assert_sound("trend-20", &sample::trend(12, rungs).draw().unwrap());
}

#[test]
fn text_of_others_stays_text() {
    let mut rung = sample::rung(&sample::HOSTILE.repeat(20), sample::HOSTILE, 12, 3.0);
    rung.sentences = vec![sample::HOSTILE.to_owned(), "x".repeat(4000)];
    rung.causes[0].cause = sample::HOSTILE.to_owned();
    let mut trend = sample::trend(12, vec![rung]);
    trend.who = sample::HOSTILE.to_owned();
    assert_sound("trend-hostile", &trend.draw().unwrap());
}

#[test]
fn what_is_no_number_is_refused() {
    let mut rung = sample::rung("Pull-up", "reps", 12, 3.0);
    rung.points[3].median = f64::NAN;
    let refused = sample::trend(12, vec![rung]).draw();
    assert_eq!(refused, Err(PictureError::NotFinite { what: "a capacity" }));
}
