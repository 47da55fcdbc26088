//! Weeks: invented athletes follow what is prescribed, and the working rung finds its place and keeps it.

use nextrung_capacity::model::Model;
use nextrung_domain::ability::Ability;
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder::{Ladder, Side};
use nextrung_prescribe::prescription::{Block, Item, Kind, Prescription};

use crate::ask::assert_sound;
use crate::gym::Athlete;
use crate::truth::Truth;

/// Follows four weeks or more; returns every prescription.
fn follow(athlete: &mut Athlete, truth: &mut Truth, days: i32) -> Vec<Prescription> {
    let mut all = Vec::new();
    for day in 0..days {
        let p = athlete.prescription(day);
        assert_sound(athlete, day, &p);
        truth.follow(athlete, day, &p);
        all.push(p);
    }
    all
}

/// Working items of a ladder, in order.
fn working<'a>(all: &'a [Prescription], ladder: &str) -> Vec<&'a Item> {
    all.iter()
        .flat_map(|p| &p.items)
        .filter(|i| i.block == Block::Working && i.rung.ladder.as_str() == ladder)
        .collect()
}

/// How often the working rung, shading or kind of load changed.
fn changes(items: &[&Item]) -> usize {
    let key = |i: &Item| (i.rung.clone(), i.shadings.clone(), i.load_kg > 0.0);
    items.windows(2).filter(|w| key(w[0]) != key(w[1])).count()
}

/// Puller with so many true pull-ups: session of the first working sets, and those of the last week.
fn puller(reps: f64, seed: u64) -> (Athlete, Truth, Vec<Prescription>) {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    let mut truth = Truth::new(&wren, &[("vertical-pull", libm::log(reps))], seed);
    let all = follow(&mut wren, &mut truth, 28);
    (wren, truth, all)
}

#[test]
fn newcomers_of_any_strength_train_after_at_most_three_test_sessions_and_find_their_rung() {
    for (reps, seed) in [(15.5, 1), (8.5, 2), (4.5, 3), (1.5, 4), (0.5, 5), (25.0, 6)] {
        let (wren, truth, all) = puller(reps, seed);
        let tests = all.iter().take_while(|p| matches!(p.kind, Kind::Test | Kind::Rest));
        let tests = tests.filter(|p| p.kind == Kind::Test).count();
        assert!(tests <= 3, "{reps}: {tests} test sessions");
        let work = working(&all, "pull");
        assert!(work.len() >= 8, "{reps}: {} sessions", work.len());
        for item in &work[work.len() - 3..] {
            let can = truth.on_rung(&wren, &item.rung.to_string());
            let ix = wren.model.catalog.find(&item.rung).expect("a rung");
            let band = wren.policy.working_band(wren.model.catalog.rung(ix));
            if item.shadings.is_empty() && item.load_kg == 0.0 {
                let (low, high) = (f64::from(band.low) * 0.8, (f64::from(band.high) + 1.0) * 1.25);
                assert!((low..high).contains(&can), "{reps}: {} with {can:.1} true units", item.rung);
            }
        }
    }
}

#[test]
fn a_newcomer_at_the_press_reaches_the_wall_press_within_two_weeks() {
    let mut wren = Athlete::new(&["press/free-press"]);
    let ln = libm::log;
    let levels = [
        ("vertical-push", ln(5.5)),
        ("horizontal-push", ln(30.5)),
        ("line", ln(60.5)),
        ("hand-balance", ln(15.0)),
        ("straight-arm-push", 1.4),
    ];
    let mut truth = Truth::new(&wren, &levels, 7);
    let all = follow(&mut wren, &mut truth, 28);
    let wall = RungRef::parse("press/wall-press").expect("a rung");
    let position = |rung: &RungRef| wren.model.catalog.find(rung);
    let first = all.iter().position(|p| {
        p.items.iter().any(|i| i.block == Block::Working && position(&i.rung) >= position(&wall))
    });
    assert!(first.is_some_and(|day| day <= 14), "{first:?}");
    let last = *working(&all, "press").last().expect("work");
    let can = truth.on_rung(&wren, &last.rung.to_string());
    assert!((2.4..7.5).contains(&can), "{} with {can:.1} true units", last.rung);
    let free = all.iter().flat_map(|p| &p.items).any(|i| i.rung.to_string() == "hand-balance/free-straight");
    assert!(free, "the balance practice leaves the wall");
}

#[test]
fn the_rung_does_not_flip_to_and_fro() {
    for seed in 10..16 {
        let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
        let mut truth = Truth::new(&wren, &[("vertical-pull", libm::log(9.0))], seed);
        let mut all = Vec::new();
        for day in 0..90 {
            let p = wren.prescription(day);
            truth.follow(&mut wren, day, &p);
            all.push(p);
        }
        let work = working(&all, "pull");
        assert!(work.len() >= 30, "{}", work.len());
        // A steady athlete: after the first sessions the work changes rarely, and never back and forth at once.
        let settled = &work[6..];
        assert!(changes(settled) <= 4, "seed {seed}: {} changes", changes(settled));
    }
}

#[test]
fn growing_strength_moves_the_rung_up() {
    let mut wren = Athlete::new(&["pull/one-arm-pull-up"]);
    let mut truth = Truth::new(&wren, &[("vertical-pull", libm::log(6.0))], 20);
    let place = wren.model.catalog.abilities().iter().position(|a| a.id.as_str() == "vertical-pull");
    let mut all = Vec::new();
    for day in 0..180 {
        truth.levels[place.expect("the ability")] += 0.005;
        let p = wren.prescription(day);
        assert_sound(&wren, day, &p);
        truth.follow(&mut wren, day, &p);
        all.push(p);
    }
    let work = working(&all, "pull");
    let find = |i: &Item| wren.model.catalog.find(&i.rung).expect("a rung");
    let (early, late) = (find(work[1]), find(work[work.len() - 1]));
    assert!(late.0 >= early.0 + 2, "{} to {}", work[1].rung, work[work.len() - 1].rung);
    // Six pull-ups times e^0.9 are fifteen: the working rung ends at the archer or beyond.
    let archer = RungRef::parse("pull/archer").expect("a rung");
    assert!(Some(late) >= wren.model.catalog.find(&archer), "{}", work[work.len() - 1].rung);
}

#[test]
fn mixed_goals_share_the_week() {
    let goals =
        ["front-lever/full", "pull/one-arm-pull-up", "press/free-press", "one-leg-squat/one-leg-squat"];
    let mut wren = Athlete::new(&goals);
    let mut truth = Truth::new(&wren, &[("vertical-pull", libm::log(12.5))], 9);
    let all = follow(&mut wren, &mut truth, 28);
    for ladder in ["front-lever", "pull", "press", "one-leg-squat"] {
        let sessions = working(&all, ladder).len();
        assert!((5..=14).contains(&sessions), "{ladder}: {sessions}");
    }
    let rest = all.iter().filter(|p| p.kind == Kind::Rest).count();
    assert!((4..=12).contains(&rest), "{rest} rest days of 28");
}

/// Six weeks of a newcomer on one ladder, with true levels so many standard deviations above everybody's start.
fn assert_ladder_leads_to_work(model: &Model, ladder: &Ladder, shift: f64) {
    let hardest = model.catalog.rungs_of(&ladder.id).last().expect("a rung");
    let mut wren = Athlete::on(model.clone(), &[model.catalog.name(hardest).to_string().as_str()]);
    let level = |a: &Ability| (a.id.as_str().to_owned(), a.start_level + shift * a.start_sd);
    let levels: Vec<(String, f64)> = model.catalog.abilities().iter().map(level).collect();
    let levels: Vec<(&str, f64)> = levels.iter().map(|(id, level)| (id.as_str(), *level)).collect();
    let mut truth = Truth::new(&wren, &levels, 3);
    let all = follow(&mut wren, &mut truth, 42);
    let told = format!("{} {shift:+}", ladder.id);
    let days = |kind: Kind| all.iter().filter(|p| p.kind == kind).count();
    assert!(days(Kind::Test) <= 5, "{told}: {} test sessions", days(Kind::Test));
    assert_eq!(days(Kind::HeldBack), 0, "{told}");
    if ladder.side == Side::Balance {
        assert!(days(Kind::Training) >= 25, "{told}: {} days of practice", days(Kind::Training));
        return;
    }
    let work = working(&all, ladder.id.as_str());
    assert!(work.len() >= 13, "{told}: {} sessions", work.len());
    assert!(changes(&work[work.len() - 8..]) <= 3, "{told}: the work changes to and fro");
    let last = work[work.len() - 1];
    if last.shadings.is_empty() && last.load_kg == 0.0 {
        let can = truth.on_rung(&wren, &last.rung.to_string());
        let rung = model.catalog.rung(model.catalog.find(&last.rung).expect("a rung"));
        let band = wren.policy.working_band(rung);
        let (low, high) = (0.75 * f64::from(band.low), 1.25 * (f64::from(band.high) + 1.0));
        assert!((low..high).contains(&can), "{told}: {} with {can:.1} true units", last.rung);
    }
}

#[test]
fn every_ladder_leads_newcomers_of_three_strengths_to_work_that_fits() {
    let model = crate::gym::model();
    for ladder in model.catalog.ladders() {
        for shift in [-1.0, 0.0, 1.0] {
            assert_ladder_leads_to_work(&model, ladder, shift);
        }
    }
}
