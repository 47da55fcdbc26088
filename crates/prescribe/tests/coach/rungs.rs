//! Rungs: move up, hold, step back, shade, load.

use nextrung_domain::draft::SetDraft;
use nextrung_domain::ids::{EquipmentId, RungRef};
use nextrung_domain::profile::Word;
use nextrung_prescribe::prescription::{Block, Direction, Item};
use nextrung_prescribe::reason::ReasonCode;

use crate::ask::{assert_sound, direction, figure, only, rung, says, why};
use crate::gym::{Athlete, did, missed, tested};

fn puller() -> Athlete {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45), tested("pull/pull-up", 8)]);
    wren.log_on(
        [3, 6, 9],
        &[did("pull/chest-to-bar", 5), missed("pull/chest-to-bar", 4, 5), missed("pull/chest-to-bar", 4, 5)],
    );
    wren
}

#[test]
fn last_times_rung_is_held_while_it_fits() {
    let wren = puller();
    let p = wren.prescription(12);
    assert_sound(&wren, 12, &p);
    assert_eq!(rung(only(&p, Block::Working)), "pull/chest-to-bar");
    let hold = direction(&p, "pull");
    assert_eq!((hold.direction, hold.reason.code), (Direction::Hold, ReasonCode::Hold));
    assert_eq!(hold.reason.sentence, "The rung of last time still fits.");
    assert_eq!(figure(&hold.reason, "days-since"), 3.0);
    assert_eq!(hold.previous, hold.rung);
}

#[test]
fn easy_weeks_move_the_rung_up_by_a_step() {
    let mut wren = puller();
    wren.log_on([12, 15, 18, 21], &[tested("pull/chest-to-bar", 8), tested("pull/chest-to-bar", 8)]);
    let p = wren.prescription(24);
    assert_sound(&wren, 24, &p);
    let work = only(&p, Block::Working);
    assert!(["pull/uneven-grip", "pull/archer"].contains(&rung(work).as_str()), "{work:#?}");
    assert_eq!(work.sets, 4, "five sets were for the rung that was held");
    let up = direction(&p, "pull");
    assert_eq!((up.direction, up.reason.code), (Direction::MoveUp, ReasonCode::MoveUp));
    assert!(up.reason.sentence.starts_with("Ready for more than"), "{}", up.reason.sentence);
    assert_eq!(up.previous.as_ref().expect("a rung").to_string(), "pull/chest-to-bar");
}

#[test]
fn a_rung_is_never_raised_by_leaps() {
    let mut wren = Athlete::new(&["row/one-arm-row-75"]);
    wren.log(0, [tested("row/row-45", 12)]);
    wren.log_on([2, 4], &[did("row/row-45", 12), did("row/row-45", 12)]);
    wren.policy.test_doubt = 10.0;
    let p = wren.prescription(6);
    let place = |i| wren.model.catalog.position(wren.model.catalog.find(i).expect("a rung"));
    let work = only(&p, Block::Working);
    let shown = RungRef::parse("row/row-45").expect("a rung");
    assert!(place(&work.rung) <= place(&shown) + 3, "{work:#?}");
}

#[test]
fn a_run_of_misses_steps_back_and_says_so() {
    let mut wren = puller();
    wren.log_on(
        [12, 14, 16],
        &[
            missed("pull/uneven-grip", 2, 3),
            missed("pull/uneven-grip", 1, 3),
            missed("pull/uneven-grip", 1, 3),
        ],
    );
    let p = wren.prescription(19);
    assert_sound(&wren, 19, &p);
    let work = only(&p, Block::Working);
    assert_eq!(rung(work), "pull/chest-to-bar");
    let run = why(&work.reasons, ReasonCode::RunOfMisses);
    assert_eq!(run.sentence, "9 working sets in a row fell short: something is kept in hand.");
    assert_eq!(figure(run, "misses"), 9.0);
    let back = direction(&p, "pull");
    assert_eq!((back.direction, back.reason.code), (Direction::StepBack, ReasonCode::StepBack));
    assert!(
        back.reason.sentence.starts_with("Back from uneven-grip pull-up to chest-to-bar pull-up for now.")
    );
    assert_eq!(work.sets, 3);
    assert!(!p.items.iter().any(|i| i.block == Block::Attempt), "no attempts while sets are missed");
}

#[test]
fn fewer_than_the_top_of_the_band_is_no_miss() {
    let mut wren = puller();
    wren.log_on([12, 14, 16, 18], &[missed("pull/chest-to-bar", 4, 5), missed("pull/chest-to-bar", 4, 5)]);
    let p = wren.prescription(21);
    assert!(!says(&only(&p, Block::Working).reasons, ReasonCode::RunOfMisses), "{p:#?}");
}

#[test]
fn a_rung_between_two_is_shaded() {
    // Seven chest-to-bar pull-ups are too many for the band, and the coach wants none of what comes next.
    let mut wren = puller();
    ban(&mut wren, &["uneven-grip", "archer", "side-to-side", "one-arm-lowering", "one-arm-strap"]);
    wren.profile.equipment.remove(&EquipmentId::new("weight").expect("a slug"));
    wren.log_on([12, 15, 18, 21], &[tested("pull/chest-to-bar", 7), tested("pull/chest-to-bar", 7)]);
    let p = wren.prescription(24);
    assert_sound(&wren, 24, &p);
    let work = only(&p, Block::Working);
    assert_eq!(rung(work), "pull/chest-to-bar");
    assert_eq!(work.shadings.len(), 1);
    let shaded = why(&work.reasons, ReasonCode::ShadedBetweenRungs);
    assert!(
        shaded.sentence.starts_with("Plain chest-to-bar pull-up is likely too easy"),
        "{}",
        shaded.sentence
    );
    assert!(figure(shaded, "p-easy-plain") > 0.5);
    assert!(work.expected.p_band > figure(shaded, "p-band-plain") + wren.policy.shading_cost);
}

#[test]
fn no_shading_where_a_plain_rung_fits() {
    // A change to the well known rung would land in the band more surely than the next rung does.
    let mut wren = puller();
    wren.log_on([12, 15, 18, 21], &[tested("pull/chest-to-bar", 7), tested("pull/chest-to-bar", 7)]);
    let e = wren.explanation(24);
    let (item, told) =
        e.prescription.items.iter().zip(&e.items).find(|(i, _)| i.block == Block::Working).expect("work");
    assert!(item.shadings.is_empty() && item.expected.p_band >= wren.policy.plain_enough, "{item:#?}");
    assert!(told.candidates.iter().any(|c| c.shading.is_some() && c.p_band > item.expected.p_band));
}

#[test]
fn a_surer_change_that_was_not_thought_of_is_named() {
    // Between two rungs: the harder one fits well enough, eased it would land in the band more surely.
    let mut wren = puller();
    wren.policy.plain_enough = 0.2;
    let mut named = 0;
    for (day, reps) in (12..48).step_by(3).zip(4..) {
        wren.log(day, [tested("pull/chest-to-bar", reps), tested("pull/chest-to-bar", reps)]);
        let e = wren.explanation(day + 3);
        let parts = e.prescription.items.iter().zip(&e.items).filter(|(i, _)| i.block == Block::Working);
        for (item, told) in parts.filter(|(i, _)| says(&i.reasons, ReasonCode::PlainEnough)) {
            let reason = why(&item.reasons, ReasonCode::PlainEnough);
            let surer =
                told.candidates.iter().find(|c| c.p_band == figure(reason, "p-band-surer")).expect("it");
            assert!(reason.sentence.ends_with(&format!("; {} would be surer.", surer.label)), "{reason:?}");
            let chosen = told.candidates.iter().find(|c| c.is_chosen).expect("a choice");
            assert!(surer.held_by.is_empty() && surer.score > chosen.score, "{surer:?}");
            named += 1;
        }
    }
    assert!(named > 0);
}

fn ban(wren: &mut Athlete, rungs: &[&str]) {
    for rung in rungs {
        let rung = RungRef::parse(&format!("pull/{rung}")).expect("a rung");
        wren.profile.limits.bans.push(Word { rung, reason: "elbows".to_owned() });
    }
}

/// Fourteen pull-ups, with the harder rungs banned: load is what is left.
fn heavy() -> Athlete {
    let mut wren = Athlete::new(&["pull/pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45)]);
    wren.log_on([3, 6, 9, 12, 15], &[tested("pull/pull-up", 14), did("pull/pull-up", 10)]);
    let harder =
        ["chest-to-bar", "uneven-grip", "archer", "side-to-side", "one-arm-lowering", "one-arm-strap"];
    ban(&mut wren, &harder);
    wren
}

#[test]
fn load_is_chosen_where_nothing_harder_fits() {
    let wren = heavy();
    let p = wren.prescription(18);
    assert_sound(&wren, 18, &p);
    let work = only(&p, Block::Working);
    assert_eq!(rung(work), "pull/pull-up");
    assert!(work.load_kg >= 10.0 && work.load_kg <= 25.0, "{work:#?}");
    assert_eq!(work.load_kg % 1.25, 0.0);
    let loaded = why(&work.reasons, ReasonCode::LoadChosen);
    assert_eq!(figure(loaded, "load"), work.load_kg);
    assert!(figure(loaded, "p-easy-plain") > 0.99);
    assert!(p.headline.contains("kg"), "{}", p.headline);
}

/// Half a kilogram more or less is the same work: the sessions on it are counted on, and so are its misses.
#[test]
fn a_little_more_or_less_load_is_the_same_work() {
    let planned = |loads: [f64; 5], done: i64| {
        let mut wren = heavy();
        for (day, load) in (18..).step_by(3).zip(loads) {
            let set = SetDraft { load_kg: Some(load), ..missed("pull/pull-up", done, 5) };
            wren.log(day, [set.clone(), set.clone(), set]);
        }
        wren.prescription(33)
    };
    for done in [4, 2] {
        let (same, unlike) = (planned([15.0; 5], done), planned([15.0, 15.5, 15.0, 15.5, 15.0], done));
        let (one, other) = (only(&same, Block::Working), only(&unlike, Block::Working));
        assert_eq!((one.sets, rung(one)), (other.sets, rung(other)), "{done} done");
        let said = |item: &Item| says(&item.reasons, ReasonCode::RunOfMisses);
        assert_eq!((said(one), said(other)), (done == 2, done == 2), "{done} done");
    }
    assert_eq!(only(&planned([15.0, 15.5, 15.0, 15.5, 15.0], 4), Block::Working).sets, 5);
}

/// Without its band the work of last time is no candidate any more; without the band it is harder all the same.
#[test]
fn a_shading_that_eased_last_time_is_not_forgotten() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45)]);
    let eased = SetDraft { shadings: vec!["light-band".to_owned()], ..did("pull/pull-up", 5) };
    wren.log_on([3, 6, 9], &[eased.clone(), eased.clone(), eased]);
    wren.profile.equipment.remove(&EquipmentId::new("band").expect("a slug"));
    let banned =
        ["chest-to-bar", "uneven-grip", "archer", "side-to-side", "one-arm-lowering", "one-arm-strap"];
    ban(&mut wren, &banned);
    let mut held = 0;
    for more in 0..6 {
        let p = wren.prescription(12 + more);
        let turn = direction(&p, "pull");
        if rung(only(&p, Block::Working)) == "pull/pull-up" {
            held += 1;
            assert_eq!(turn.direction, Direction::MoveUp, "{turn:#?}");
            assert_eq!(turn.reason.sentence, "Ready for more than pull-up, light band: pull-up.");
        }
    }
    assert!(held > 0);
}

#[test]
fn load_needs_weights_a_belt_and_a_body_mass() {
    for missing in ["weight", "dip-belt"] {
        let mut wren = heavy();
        wren.profile.equipment.remove(&EquipmentId::new(missing).expect("a slug"));
        assert!(wren.prescription(18).items.iter().all(|i| i.load_kg == 0.0), "without {missing}");
    }
    let mut wren = heavy();
    wren.profile.body_mass = None;
    assert!(wren.prescription(18).items.iter().all(|i| i.load_kg == 0.0), "without body mass");
}

#[test]
fn the_next_rung_comes_before_kilograms() {
    let mut wren = heavy();
    wren.profile.limits.bans.clear();
    let p = wren.prescription(18);
    let work = only(&p, Block::Working);
    assert_eq!(work.load_kg, 0.0);
    assert_ne!(rung(work), "pull/pull-up");
}

#[test]
fn seconds_do_not_replace_reps_where_reps_fit() {
    let mut wren = Athlete::new(&["pull/pull-up"]);
    wren.log(0, [tested("pull/hollow-hang", 45)]);
    wren.log_on([2, 4, 6], &[tested("pull/pull-up", 4), tested("pull/pull-up", 3)]);
    let p = wren.prescription(9);
    assert_eq!(rung(only(&p, Block::Working)), "pull/pull-up");
}
