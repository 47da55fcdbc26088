//! Cautions: the usual ones always, those of inverted work with it.

use nextrung_prescribe::prescription::Kind;

use crate::gym::{Athlete, tested};

#[test]
fn cautions_stand_on_every_kind_of_day() {
    let newcomer = Athlete::new(&["pull/one-arm-pull-up"]);
    let mut shut = newcomer.clone();
    shut.profile.equipment.clear();
    let mut resting = newcomer.clone();
    resting.profile.days = nextrung_domain::profile::Weekdays::from_days([3]);
    for (athlete, kind) in [(newcomer, Kind::Test), (shut, Kind::HeldBack), (resting, Kind::Rest)] {
        let p = athlete.prescription(0);
        assert_eq!(p.kind, kind);
        assert_eq!(
            p.cautions.first().map(String::as_str),
            Some(
                "General training information, not medical advice. Pain or a health condition belongs to a professional."
            )
        );
        assert_eq!(
            p.cautions.last().map(String::as_str),
            Some("Local rules and licensed practice come first.")
        );
    }
}

#[test]
fn head_down_work_carries_its_caution_and_other_work_does_not() {
    let head_down = "Head-down: eye pressure about doubles at once and blood pressure rises: not with glaucoma, high blood pressure or doubt, and not until a professional or the coach has confirmed it is suitable.";
    let balance = Athlete::new(&["hand-balance/free-straight"]).prescription(0);
    assert!(balance.cautions.iter().any(|c| c == head_down), "{balance:#?}");
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 8)]);
    let pull = wren.prescription(2);
    assert!(!pull.cautions.iter().any(|c| c == head_down));
    assert!(pull.cautions.iter().any(|c| c.starts_with("Elbows and shoulders")), "the ladder's own");
}

#[test]
fn no_caution_is_told_twice() {
    let wren =
        Athlete::new(&["press/free-press", "hand-balance/free-straight", "press-to-handstand/l-sit-press"]);
    for day in 0..3 {
        let mut cautions = wren.prescription(day).cautions;
        let all = cautions.len();
        cautions.sort();
        cautions.dedup();
        assert_eq!(cautions.len(), all);
    }
}
