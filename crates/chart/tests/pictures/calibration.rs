//! Calibration drawn from hand-made steps.

use nextrung_chart::PictureError;
use nextrung_chart::calibration::{Calibration, Event, Step};

use crate::reading::{assert_sound, attributes, description, texts};
use crate::sample;

fn steps() -> Vec<Step> {
    let step = |(from, to, came, weight): (f64, f64, f64, f64)| Step { from, to, came, weight };
    [(0.0, 0.1, 0.05, 0.3), (0.2, 0.2, 0.33, 0.1), (0.5, 0.9, 0.8, 0.55), (1.0, 1.0, 1.0, 0.05)]
        .map(step)
        .to_vec()
}

fn calibration() -> Calibration {
    let event = |words: &str| Event { words: words.to_owned(), steps: steps() };
    Calibration {
        title: "Chances and what came".to_owned(),
        subtitle: "Steps on the broken line are right.".to_owned(),
        events: vec![event("At least the low end"), event("More than the high end")],
        notes: vec!["How to read it.".to_owned()],
    }
}

#[test]
fn every_step_has_its_ends_and_its_bar() {
    let svg = calibration().draw().unwrap();
    assert_sound("calibration", &svg);
    assert_eq!(svg, calibration().draw().unwrap());
    assert_eq!(attributes(&svg, "circle", "r").len(), 2 * 4 * 2);
    let bars = attributes(&svg, "rect", "fill").iter().filter(|fill| *fill == "#9C9C9C").count();
    assert_eq!(bars, 2 * 4);
    let told = description(&svg);
    assert!(told.contains("At least the low end: said 0 % to 10 %, came 5 %, 30 % of sets;"), "{told}");
}

#[test]
fn higher_shares_stand_higher() {
    let svg = calibration().draw().unwrap();
    let at = |name: &str, place: usize| attributes(&svg, "circle", name)[place].parse::<f64>().unwrap();
    // Ends of the first event, from its first step on: as steep as the figures, both axes from -2 to 102 %.
    let (across, up) = (at("cx", 6) - at("cx", 0), at("cy", 0) - at("cy", 6));
    assert!(across > 0.0 && up > 0.0);
    let (wide, high) = (f64::from((760 - 48 - 24) / 2 - 46) * 10.0, f64::from(320 - 22) * 10.0);
    assert!(
        (across / wide - 1.0 / 1.04).abs() < 0.005 && (up / high - 0.95 / 1.04).abs() < 0.005,
        "{across} {up}"
    );
}

#[test]
fn extreme_and_hostile_steps_stay_on_the_paper() {
    let mut drawn = calibration();
    drawn.events[0].words = sample::HOSTILE.to_owned();
    drawn.events[0].steps[0] = Step { from: -9.0, to: 1e30, came: 5.0, weight: 77.0 };
    drawn.events[1].steps.clear();
    assert_sound("calibration-extreme", &drawn.draw().unwrap());
    drawn.events[0].steps[0].came = f64::NAN;
    assert_eq!(drawn.draw(), Err(PictureError::NotFinite { what: "a step" }));
    let svg = Calibration { events: vec![], ..calibration() }.draw().unwrap();
    assert_sound("calibration-empty", &svg);
    assert!(texts(&svg).contains(&"There is nothing to show.".to_owned()));
}
