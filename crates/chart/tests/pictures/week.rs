//! Weeks drawn from hand-made data.

use crate::reading::{assert_sound, attributes, description, has_row, texts};
use crate::sample;

#[test]
fn days_stand_side_by_side_with_their_parts_in_words() {
    let svg = sample::week().draw().unwrap();
    assert_sound("week", &svg);
    assert_eq!(svg, sample::week().draw().unwrap());
    let words = texts(&svg);
    for heading in ["Monday 31 Aug", "Sunday 6 Sep", "Planche: 3 working"] {
        assert!(words.iter().any(|word| word == heading), "{heading} in {words:?}");
    }
    assert!(has_row(&svg, &["Tuesday 2026-09-01", "rest"]));
    assert!(has_row(&svg, &["Wednesday 2026-09-02", "bent-arm and legs"]));
    assert!(description(&svg).contains("Tuesday: rest."));
}

#[test]
fn hard_work_is_open_when_trained_and_filled_when_planned() {
    let svg = sample::week().draw().unwrap();
    let fills = attributes(&svg, "rect", "fill");
    let of_plot = |fill: &str| fills.iter().filter(|found| *found == fill).count();
    // Monday is past with three abilities worked hard; Wednesday, Friday and Sunday are planned with three each.
    assert_eq!((of_plot("#FFFFFF"), of_plot("#545454")), (3, 9));
    let names =
        ["hand balance", "line", "straight arm pull", "straight arm push", "vertical pull", "vertical push"];
    assert!(has_row(&svg, &names));
}

#[test]
fn wishes_say_whether_they_are_met() {
    let svg = sample::week().draw().unwrap();
    assert!(has_row(&svg, &["met", "rest between hard days: vertical pull"]));
    assert!(has_row(&svg, &["MISSED", "exposures: Planche"]));
    assert!(description(&svg).contains("Wishes missed: 1 of 3."));
}

#[test]
fn weeks_of_rest_and_weeks_without_days_can_be_drawn() {
    let mut week = sample::week();
    for day in &mut week.days {
        day.parts.clear();
    }
    week.wishes.clear();
    let svg = week.draw().unwrap();
    assert_sound("week-rest", &svg);
    assert!(texts(&svg).contains(&"No ability is worked hard this week.".to_owned()));
    week.days.clear();
    let svg = week.draw().unwrap();
    assert_sound("week-empty", &svg);
    assert!(texts(&svg).join(" ").contains("There is nothing to show"));
}

#[test]
fn crowded_and_hostile_weeks_stay_on_the_paper() {
    let mut week = sample::week();
    for day in &mut week.days {
        day.purpose = sample::HOSTILE.to_owned();
        day.sentence = sample::HOSTILE.repeat(4);
        let part = sample::part(sample::HOSTILE, &"Long ladder ".repeat(20), 12, &[sample::HOSTILE, "m"]);
        day.parts = vec![part; 8];
    }
    week.wishes[0].name = "w".repeat(500);
    week.days.push(week.days[0].clone());
    assert_sound("week-hostile", &week.draw().unwrap());
}
