//! Pins and caps: what the coach insists on and does not allow.

use nextrung_domain::ids::RungRef;
use nextrung_domain::profile::Word;
use nextrung_prescribe::hold_back::HoldBackKind;
use nextrung_prescribe::prescription::{Block, Kind};
use nextrung_prescribe::reason::ReasonCode;

use crate::ask::{assert_sound, figure, has, held, on, only, rung, says, why};
use crate::gym::{Athlete, did, missed, tested};

fn word(rung: &str) -> Word {
    Word { rung: RungRef::parse(rung).expect("a rung"), reason: "ring muscle-up camp".to_owned() }
}

/// Somebody with four clean pull-ups, well known.
fn puller() -> Athlete {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    let session = [did("pull/pull-up", 4), did("pull/pull-up", 4), missed("pull/pull-up", 4, 6)];
    wren.log_on([0, 3, 6, 9, 12], &session);
    wren
}

#[test]
fn a_pin_is_honoured_and_said() {
    let mut wren = puller();
    let free = wren.prescription(15);
    wren.profile.limits.pins = vec![word("pull/shoulder-pull")];
    let p = wren.prescription(15);
    assert_sound(&wren, 15, &p);
    let item = only(&p, Block::Working);
    assert_eq!(rung(item), "pull/shoulder-pull");
    assert_ne!(rung(only(&free, Block::Working)), "pull/shoulder-pull");
    let reason = why(&item.reasons, ReasonCode::PinnedByCoach);
    assert!(reason.sentence.contains("ring muscle-up camp"), "{}", reason.sentence);
    assert_eq!(figure(reason, "p-band").to_bits(), item.expected.p_band.to_bits());
    assert!(!says(&item.reasons, ReasonCode::BestInWorkingBand));
}

#[test]
fn a_pin_comes_before_a_test_session() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    assert_eq!(wren.prescription(0).kind, Kind::Test);
    wren.profile.limits.pins = vec![word("pull/hollow-hang")];
    let p = wren.prescription(0);
    assert_sound(&wren, 0, &p);
    assert_eq!((p.kind, rung(only(&p, Block::Working))), (Kind::Training, "pull/hollow-hang".to_owned()));
}

#[test]
fn a_pin_brings_its_ladder_into_the_week() {
    let mut wren = puller();
    wren.log_on([1, 4, 7, 10, 13], &[did("dips/dip", 4), missed("dips/dip", 5, 6)]);
    assert!(!wren.prescription(16).items.iter().any(|i| i.rung.ladder.as_str() == "dips"));
    wren.profile.limits.pins = vec![word("dips/dip")];
    assert_eq!(rung(on(&wren.prescription(16), Block::Working, "dips")), "dips/dip");
}

#[test]
fn a_pin_on_a_held_back_rung_is_not_honoured_and_that_is_said() {
    let mut wren = puller();
    wren.profile.limits.pins = vec![word("pull/one-arm-pull-up")];
    let p = wren.prescription(15);
    assert_sound(&wren, 15, &p);
    assert!(p.items.iter().all(|i| rung(i) != "pull/one-arm-pull-up"), "{p:#?}");
    let note = why(&p.reasons, ReasonCode::PinnedByCoach);
    assert!(note.sentence.contains("held back"), "{}", note.sentence);
    assert!(has(&p, Block::Working));
    assert!(held(&p, HoldBackKind::Gate).iter().any(|h| h.rung.to_string() == "pull/one-arm-pull-up"));
}

#[test]
fn pain_stands_over_a_pin() {
    let mut wren = puller();
    let hurt = nextrung_domain::draft::SetDraft {
        pain: Some(6),
        stop: nextrung_domain::draft::Choice::Known(nextrung_domain::stop::Stop::Pain),
        planned_target: None,
        ..did("pull/pull-up", 2)
    };
    wren.log(14, [hurt]);
    wren.profile.limits.pins = vec![word("pull/pull-up")];
    let p = wren.prescription(15);
    assert_sound(&wren, 15, &p);
    assert_eq!((p.kind, p.items.len()), (Kind::HeldBack, 0));
    assert!(says(&p.reasons, ReasonCode::PinnedByCoach));
}

#[test]
fn nothing_above_a_cap_is_trained() {
    let mut wren = puller();
    wren.log_on([15, 18, 21], &[tested("pull/pull-up", 12), tested("pull/chest-to-bar", 7)]);
    let free = wren.prescription(24);
    let above = |text: &str| {
        let ix = |t: &str| wren.model.catalog.find(&RungRef::parse(t).expect("a rung"));
        ix(text) > ix("pull/pull-up")
    };
    assert!(free.items.iter().any(|i| above(&rung(i))), "{free:#?}");
    let mut wren = wren.clone();
    wren.profile.limits.caps = vec![word("pull/pull-up")];
    let p = wren.prescription(24);
    assert_sound(&wren, 24, &p);
    assert!(p.items.iter().all(|i| !above(&rung(i))), "{p:#?}");
    let capped = held(&p, HoldBackKind::Capped);
    assert_eq!(capped.len(), 1, "{p:#?}");
    assert!(capped[0].detail.contains("pull-up") && capped[0].detail.contains("camp"), "{capped:?}");
}

#[test]
fn a_pin_leaves_the_other_ladders_of_somebody_without_goals() {
    let mut wren = Athlete::new(&[]);
    let session = [did("pull/pull-up", 4), did("push-up/push-up", 8), missed("pull/pull-up", 4, 6)];
    wren.log_on([0, 3, 6, 9], &session);
    let ladders = |wren: &Athlete| -> Vec<String> {
        let items = wren.prescription(12).items;
        let mut found: Vec<String> = items.iter().map(|i| i.rung.ladder.to_string()).collect();
        found.dedup();
        found.sort();
        found
    };
    let before = ladders(&wren);
    wren.profile.limits.pins = vec![word("pull/shoulder-pull")];
    assert_eq!((ladders(&wren), before.len()), (before, 2));
}

#[test]
fn a_pin_is_not_crowded_out() {
    let goals = ["dips/ring-dip", "push-up/one-arm-push-up", "row/one-arm-row"];
    let mut wren = Athlete::new(&goals.map(|goal| goal));
    wren.profile.limits.pins = vec![word("pull/hollow-hang")];
    let p = wren.prescription(0);
    assert_eq!(rung(on(&p, Block::Working, "pull")), "pull/hollow-hang", "{p:#?}");
    wren.profile.limits.max_sets = 4;
    let p = wren.prescription(0);
    assert_eq!(
        rung(on(&p, Block::Working, "pull")),
        "pull/hollow-hang",
        "what is insisted on is cut last: {p:#?}"
    );
}

#[test]
fn what_shuts_last_times_rung_is_no_reason_for_a_harder_one() {
    let mut wren = puller();
    wren.log_on([15, 18, 21], &[tested("pull/pull-up", 9), did("pull/chest-to-bar", 4)]);
    let before = only(&wren.prescription(24), Block::Working).rung.clone();
    let place = |rung: &RungRef| wren.model.catalog.find(rung).expect("a rung");
    assert!(place(&before) >= place(&word("pull/chest-to-bar").rung), "{before}");
    let last = word("pull/chest-to-bar");
    let limit = place(&last.rung);
    let mut wren = wren.clone();
    wren.profile.limits.bans = vec![last];
    let now = only(&wren.prescription(24), Block::Working).rung.clone();
    assert!(wren.model.catalog.find(&now).expect("a rung") < limit, "{now}");
}
