//! Limiters drawn from hand-made data.

use nextrung_chart::PictureError;

use crate::reading::{assert_sound, attributes, has_row, texts};
use crate::sample;

#[test]
fn the_first_is_named_heavier_and_darker() {
    let svg = sample::limiters().draw().unwrap();
    assert_sound("limiters", &svg);
    assert_eq!(svg, sample::limiters().draw().unwrap());
    let words = texts(&svg);
    assert!(words.contains(&"First: strength (71 % sure).".to_owned()), "{words:?}");
    assert!(words.contains(&"first: strength".to_owned()));
    let bars = |fill: &str| attributes(&svg, "rect", "fill").iter().filter(|found| *found == fill).count();
    assert_eq!((bars("#9C9C9C"), bars("#E4E4E4")), (1, 3));
}

#[test]
fn every_figure_is_in_the_table() {
    let svg = sample::limiters().draw().unwrap();
    assert!(has_row(&svg, &["strength", "62 %", "48 % to 77 %", "71 %"]));
    assert!(has_row(&svg, &["balance", "41 %", "20 % to 60 %", "21 %"]));
    assert!(has_row(&svg, &["wrong rung", "33 %", "21 % to 44 %", "5 %"]));
    assert!(has_row(&svg, &["training", "<1 %", "<1 % to 6 %", "1 %"]));
}

#[test]
fn what_the_goal_does_not_ask_for_has_no_bar() {
    let svg = sample::limiters().draw().unwrap();
    assert!(has_row(&svg, &["line", "not asked for by the goal"]));
    assert!(has_row(&svg, &["line", "\u{2013}", "\u{2013}", "\u{2013}"]));
}

#[test]
fn a_log_that_cannot_tell_is_said_so() {
    let undecided = nextrung_chart::limiters::Limiters { first: None, ..sample::limiters() };
    let svg = undecided.draw().unwrap();
    assert_sound("limiters-undecided", &svg);
    assert!(texts(&svg).contains(&"The log cannot tell which of them comes first.".to_owned()));
    let none = nextrung_chart::limiters::Limiters { findings: vec![], ..sample::limiters() };
    let svg = none.draw().unwrap();
    assert_sound("limiters-empty", &svg);
    assert!(texts(&svg).join(" ").contains("There is nothing to show"));
}

#[test]
fn extreme_and_hostile_answers_stay_on_the_paper() {
    let mut limiters = sample::limiters();
    limiters.findings[0].weight = 7.0;
    limiters.findings[0].interval = (-3.0, 1e30);
    limiters.findings[1].name = sample::HOSTILE.to_owned();
    limiters.findings[1].sentence = sample::HOSTILE.repeat(9);
    limiters.findings[2].chance_first = 1.0;
    limiters.change = sample::HOSTILE.to_owned();
    assert_sound("limiters-extreme", &limiters.draw().unwrap());
    limiters.findings[0].interval.0 = f64::NAN;
    assert_eq!(limiters.draw(), Err(PictureError::NotFinite { what: "a weight" }));
}
