//! Properties: what holds for any log on the real ladders.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::{Grams, Unit};
use nextrung_domain::profile::{Clearance, Confirmation, Weekdays, Word};
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::prescription::Kind;
use proptest::collection::vec;
use proptest::prelude::*;
use std::sync::OnceLock;

use nextrung_capacity::model::Model;
use nextrung_domain::catalog::RungIx;

use crate::ask::assert_sound;
use crate::gym::{Athlete, date, model};
use crate::words::assert_agrees;

fn shared() -> &'static Model {
    static MODEL: OnceLock<Model> = OnceLock::new();
    MODEL.get_or_init(model)
}

/// A set before it is made to fit its rung.
#[derive(Debug, Clone)]
struct Rough {
    day: i32,
    rung: u16,
    purpose: usize,
    done: i64,
    over: Option<i64>,
    stop: usize,
    reserve: Option<i64>,
    pain: Option<i64>,
    shading: Option<usize>,
    load: Option<f64>,
}

fn rough() -> impl Strategy<Value = Rough> {
    let when = (0i32..90, 0u16..400, 0usize..5, 0i64..40);
    let how = (proptest::option::of(0i64..6), 0usize..9, proptest::option::of(0i64..5));
    let with = (
        proptest::option::weighted(0.1, 0i64..=10),
        proptest::option::weighted(0.3, 0usize..8),
        proptest::option::weighted(0.1, -20.0f64..40.0),
    );
    (when, how, with).prop_map(
        |((day, rung, purpose, done), (over, stop, reserve), (pain, shading, load))| Rough {
            day,
            rung,
            purpose,
            done,
            over,
            stop,
            reserve,
            pain,
            shading,
            load,
        },
    )
}

/// The rough set as one that the domain accepts.
fn fit(rough: &Rough) -> SetDraft {
    let catalog = &shared().catalog;
    let count = u16::try_from(catalog.rung_count()).expect("few rungs");
    let ix = RungIx(rough.rung % count);
    let rung = catalog.rung(ix);
    let stop = Stop::ALL[rough.stop];
    let target = match stop {
        Stop::Target => Some(rough.done),
        Stop::Strength
        | Stop::Balance
        | Stop::Line
        | Stop::Failed
        | Stop::Chosen
        | Stop::Pain
        | Stop::Interrupted
        | Stop::Other => rough.over.map(|over| rough.done + over + 1),
    };
    let shading = rough.shading.filter(|_| !rung.shadings.is_empty());
    SetDraft {
        rung: catalog.name(ix).to_string(),
        purpose: Choice::Known(Purpose::ALL[rough.purpose]),
        done: Some((Unit::Reps, if stop == Stop::Target { rough.done.max(1) } else { rough.done })),
        planned_target: target.map(|t| t.max(1)),
        stop: Choice::Known(stop),
        reps_in_reserve: rough.reserve.filter(|_| rung.unit == Unit::Reps && !stop.is_failure()),
        pain: rough.pain.map(|p| if stop == Stop::Pain { p.max(1) } else { p }),
        shadings: shading.map(|s| rung.shadings[s % rung.shadings.len()].to_string()).into_iter().collect(),
        load_kg: rough.load.filter(|kg| rung.load_share.is_some() && kg.abs() > 1.0),
        ..SetDraft::default()
    }
}

#[derive(Debug, Clone)]
struct Person {
    goals: Vec<u16>,
    bare: u8,
    cleared: u8,
    days: u8,
    max_sets: u16,
    max_minutes: u16,
    ban: Option<u16>,
    pin: Option<u16>,
    cap: Option<u16>,
    has_mass: bool,
}

fn person() -> impl Strategy<Value = Person> {
    let first = (vec(0u16..400, 0..4), any::<u8>(), any::<u8>(), 1u8..=127);
    let word = || proptest::option::of(0u16..400);
    let second = (1u16..30, 5u16..120, (word(), word(), word()), any::<bool>());
    (first, second).prop_map(
        |((goals, bare, cleared, days), (max_sets, max_minutes, (ban, pin, cap), has_mass))| Person {
            goals,
            bare,
            cleared,
            days,
            max_sets,
            max_minutes,
            ban,
            pin,
            cap,
            has_mass,
        },
    )
}

fn athlete(person: &Person) -> Athlete {
    let catalog = &shared().catalog;
    let count = u16::try_from(catalog.rung_count()).expect("few rungs");
    let name = |n: &u16| catalog.name(RungIx(n % count));
    let mut goals: Vec<String> = person.goals.iter().map(|g| name(g).to_string()).collect();
    goals.sort();
    goals.dedup();
    let goals: Vec<&str> = goals.iter().map(String::as_str).collect();
    let mut wren = Athlete::on(shared().clone(), &goals);
    let mut at = 0;
    wren.profile.equipment.retain(|_| {
        at += 1;
        person.bare & (1 << (at % 8)) != 0 || at % 3 == 0
    });
    wren.profile.clearances.retain(|c| {
        let place = Clearance::ALL.iter().position(|k| *k == c.clearance).expect("a clearance");
        person.cleared & (1 << place) != 0
    });
    wren.profile.days = Weekdays::from_days((0..7).filter(|d| person.days & (1 << d) != 0));
    wren.profile.limits.max_sets = person.max_sets;
    wren.profile.limits.max_minutes = person.max_minutes;
    let words = |n: Option<u16>| {
        n.iter().map(|n| Word { rung: name(n), reason: "no".to_owned() }).collect::<Vec<_>>()
    };
    wren.profile.limits.bans = words(person.ban);
    wren.profile.limits.pins = words(person.pin);
    wren.profile.limits.caps = words(person.cap);
    if !person.has_mass {
        wren.profile.body_mass = None;
    }
    wren
}

fn logged(person: &Person, sets: &[Rough]) -> Athlete {
    let mut wren = athlete(person);
    let mass = wren.profile.body_mass;
    // Loads were logged while the body mass was known.
    wren.profile.body_mass = Grams::from_kg(70.0, 20.0, 300.0);
    let mut sets = sets.to_vec();
    sets.sort_by_key(|s| s.day);
    for of_day in sets.chunk_by(|a, b| a.day == b.day) {
        wren.log(of_day[0].day, of_day.iter().map(fit));
    }
    wren.profile.body_mass = mass;
    wren
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 160, ..ProptestConfig::default() })]

    /// Never panics; every chance is one; nothing held back is prescribed; limits hold; words and figures agree.
    #[test]
    fn every_prescription_is_sound(person in person(), sets in vec(rough(), 0..60), later in 1i32..60) {
        let wren = logged(&person, &sets);
        for day in [90, 90 + later] {
            let e = wren.explanation(day);
            assert_sound(&wren, day, &e.prescription);
            assert_agrees(&e);
        }
    }

    /// Same log, same bits.
    #[test]
    fn prescriptions_are_deterministic(person in person(), sets in vec(rough(), 0..30)) {
        let text = |w: &Athlete| format!("{:?}", w.explanation(90));
        prop_assert_eq!(text(&logged(&person, &sets)), text(&logged(&person, &sets)));
    }

    /// A clearance confirmed later leaves the prescription of a day as it was.
    #[test]
    fn later_confirmations_do_not_count(person in person(), sets in vec(rough(), 1..40)) {
        let known = logged(&person, &sets);
        let mut later = known.clone();
        later.profile.clearances.extend(Clearance::ALL.map(|clearance| Confirmation {
            clearance,
            on: date(91),
            by: "coach".to_owned(),
        }));
        prop_assert_eq!(known.prescription(90), later.prescription(90));
    }

    /// The minutes of a session stay within the limit.
    #[test]
    fn time_limits_hold(person in person(), sets in vec(rough(), 0..30)) {
        let wren = logged(&person, &sets);
        let p = wren.prescription(90);
        let seconds: u32 = p.items.iter().map(|i| u32::from(i.sets) * (u32::from(i.rest_seconds) + 40)).sum();
        prop_assert!(seconds <= u32::from(person.max_minutes) * 60 || p.kind == Kind::Rest, "{} s", seconds);
    }
}
