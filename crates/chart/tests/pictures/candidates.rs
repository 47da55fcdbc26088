//! Candidates of an item drawn from hand-made data.

use nextrung_chart::PictureError;

use crate::reading::{assert_sound, attributes, description, has_row, texts};
use crate::sample;

#[test]
fn every_candidate_has_a_bar_of_three_greys_and_its_figures() {
    let data = sample::candidates(18);
    let svg = data.draw().unwrap();
    assert_sound("candidates", &svg);
    assert_eq!(svg, sample::candidates(18).draw().unwrap());
    let fills = attributes(&svg, "rect", "fill");
    // The dark grey, which has no letters in its name, is counted once more in the legend.
    for (fill, count) in [("#FFFFFF", 18), ("#545454", 19), ("#C6C6C6", 18)] {
        assert_eq!(fills.iter().filter(|found| *found == fill).count(), count, "{fill}");
    }
    for one in &data.candidates {
        let chance = |chance: f64| {
            let percent = 100.0 * chance;
            match percent {
                low if low < 0.5 => "<1 %".to_owned(),
                high if high > 99.5 => ">99 %".to_owned(),
                _ => format!("{percent:.0} %"),
            }
        };
        let score = format!("{:.2}", one.score).replace('-', "\u{2212}");
        let cells = [chance(one.easy), chance(one.band), chance(one.hard), score];
        assert!(has_row(&svg, &cells.each_ref().map(String::as_str)), "{cells:?}");
    }
}

#[test]
fn the_one_taken_and_those_held_back_are_marked() {
    let svg = sample::candidates(18).draw().unwrap();
    let words = texts(&svg);
    assert_eq!(words.iter().filter(|word| word.starts_with("chosen: ")).count(), 1);
    let held: Vec<&String> = words.iter().filter(|word| word.starts_with("held (")).collect();
    assert!(
        held.iter().any(
            |word| *word == "held (1): The gate asks for 20 s in the hollow hang first; 12 s were shown."
        )
    );
    assert!(words.contains(&"3 more were weighed and are not shown.".to_owned()));
    assert!(description(&svg).contains("chosen, in band"));
    // Thick bars for the open ones, thin ones for those held back.
    let heights: std::collections::BTreeSet<String> =
        attributes(&svg, "rect", "height").into_iter().collect();
    assert!(heights.iter().filter(|height| height.len() == 3 || *height == "76").count() >= 2, "{heights:?}");
}

#[test]
fn forty_one_and_none_can_be_drawn() {
    for (name, count) in [("candidates-40", 40), ("candidates-1", 1)] {
        let svg = sample::candidates(count).draw().unwrap();
        assert_sound(name, &svg);
        assert!(!texts(&svg).contains(&"\u{2212}0.00".to_owned()), "{name}: nothing below nothing");
    }
    let svg = sample::candidates(0).draw().unwrap();
    assert_sound("candidates-empty", &svg);
    assert!(texts(&svg).join(" ").contains("There is nothing to show"));
}

#[test]
fn extreme_and_hostile_answers_stay_on_the_paper() {
    let mut data = sample::candidates(12);
    data.candidates[0].name = sample::HOSTILE.repeat(30);
    data.candidates[1].score = -1e300;
    data.candidates[2].hard = 5.0;
    data.candidates[3].fate = nextrung_chart::candidates::Fate::HeldBack(sample::HOSTILE.repeat(12));
    data.item = sample::HOSTILE.to_owned();
    data.about = sample::HOSTILE.to_owned();
    assert_sound("candidates-hostile", &data.draw().unwrap());
    data.candidates[0].easy = f64::NAN;
    assert_eq!(data.draw(), Err(PictureError::NotFinite { what: "a figure of a candidate" }));
}
