//! Doses: sets, targets, limits, minors.

use nextrung_domain::band::{Band, BandPair, Bands};
use nextrung_prescribe::prescription::Block;
use nextrung_prescribe::reason::ReasonCode;

use crate::ask::{assert_sound, figure, has, only, says, why};
use crate::gym::{Athlete, date, did, missed, tested};

fn puller() -> Athlete {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 9)]);
    wren.log(3, [tested("pull/chest-to-bar", 5), did("pull/chest-to-bar", 4)]);
    wren
}

#[test]
fn sets_grow_from_three_to_five_on_a_rung_that_is_held() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 9)]);
    let sets = |wren: &Athlete, day: i32| only(&wren.prescription(day), Block::Working).sets;
    assert_eq!(sets(&wren, 2), 3);
    wren.log(3, [did("pull/chest-to-bar", 4), missed("pull/chest-to-bar", 5, 6)]);
    assert_eq!(sets(&wren, 5), 4);
    wren.log_on([6, 9], &[did("pull/chest-to-bar", 4), missed("pull/chest-to-bar", 5, 6)]);
    let p = wren.prescription(12);
    assert_sound(&wren, 12, &p);
    let work = only(&p, Block::Working);
    assert_eq!(work.sets, 5);
    let why = why(&work.reasons, ReasonCode::SetsChosen);
    assert_eq!(
        why.sentence,
        "Five sets, since the rung has been held without misses, 3 min of rest between them."
    );
    assert_eq!((figure(why, "sets"), figure(why, "rest")), (5.0, 180.0));
}

#[test]
fn few_sets_a_session_cut_the_dose() {
    let mut wren = puller();
    wren.profile.limits.max_sets = 3;
    let p = wren.prescription(6);
    assert_sound(&wren, 6, &p);
    let cut = why(&p.reasons, ReasonCode::CutToLimits);
    assert!(figure(cut, "sets-before") > 3.0);
    assert_eq!(figure(cut, "sets"), 3.0);
    assert_eq!(only(&p, Block::Working).sets, 3, "attempts go before working sets: {p:#?}");
    assert!(!has(&p, Block::Attempt));
}

#[test]
fn few_minutes_cut_the_dose() {
    let mut wren = puller();
    wren.profile.limits.max_minutes = 12;
    let p = wren.prescription(6);
    assert_sound(&wren, 6, &p);
    let cut = why(&p.reasons, ReasonCode::CutToLimits);
    assert!(figure(cut, "minutes") <= 12.0);
    let seconds: u32 = p.items.iter().map(|i| u32::from(i.sets) * (u32::from(i.rest_seconds) + 40)).sum();
    assert!(seconds <= 12 * 60, "{p:#?}");
    assert!(has(&p, Block::Working));
}

#[test]
fn one_set_is_left_of_a_day_with_no_time() {
    let mut wren = puller();
    wren.profile.limits.max_sets = 1;
    let p = wren.prescription(6);
    assert_eq!(p.items.iter().map(|i| i.sets).sum::<u16>(), 1);
}

#[test]
fn the_target_is_the_band_cut_to_what_is_likely() {
    let mut wren = puller();
    wren.log_on([6, 9, 12], &[missed("pull/chest-to-bar", 3, 5), missed("pull/chest-to-bar", 3, 5)]);
    let p = wren.prescription(15);
    assert_sound(&wren, 15, &p);
    let work = only(&p, Block::Working);
    let cut = why(&work.reasons, ReasonCode::TargetClipped);
    assert_eq!((figure(cut, "band-low"), figure(cut, "band-high")), (3.0, 5.0));
    assert!(work.target_high < 5 && work.target_low <= 3, "{work:#?}");
    assert!(figure(cut, "p-target-high") >= 0.35);
    assert!(cut.sentence.starts_with("The band is 3 to 5 reps; today "), "{}", cut.sentence);
}

#[test]
fn the_coachs_bands_are_used() {
    let mut wren = puller();
    let band = |low, high| Band { low, high };
    let reps = BandPair { working: band(6, 8), attempt: band(2, 3) };
    wren.policy.bands = Bands { reps, ..Bands::default() };
    let p = wren.prescription(6);
    assert_sound(&wren, 6, &p);
    let work = only(&p, Block::Working);
    assert!(work.target_high >= 6, "{work:#?}");
    assert!(why(&work.reasons, ReasonCode::PlainEnough).sentence.contains("6 to 8 clean reps"));
}

#[test]
fn a_minor_trains_under_supervision() {
    let mut wren = puller();
    wren.profile.birth_date = Some(date(-365 * 15));
    let p = wren.prescription(6);
    assert_sound(&wren, 6, &p);
    let minor = why(&p.reasons, ReasonCode::MinorSupervision);
    assert_eq!(figure(minor, "age"), 15.0);
    assert!(p.cautions.iter().any(|c| c.contains("minor")));
    wren.profile.birth_date = Some(date(-365 * 30));
    let p = wren.prescription(6);
    assert!(!says(&p.reasons, ReasonCode::MinorSupervision));
    assert!(!p.cautions.iter().any(|c| c.contains("minor")));
}
