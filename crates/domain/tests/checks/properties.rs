//! Properties: sound drafts always pass, wild ones never panic, and what is kept reads back as it was.

use nextrung_domain::catalog::{Catalog, RungIx};
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{Choice, SetDraft, Setting};
use nextrung_domain::event::{EventBody, StoredEvent};
use nextrung_domain::ids::ShadingId;
use nextrung_domain::ladder_file::{NamedText, read_ladder};
use nextrung_domain::measure::Unit;
use nextrung_domain::profile::{Clearance, Profile};
use nextrung_domain::profile_draft::{ConfirmationDraft, ProfileDraft};
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};
use proptest::option;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};

use crate::fixture::{PULL, catalog, today, wren};

/// How a set ended, without contradictions: stop, units done, target, reserve, pain.
type Ending = (Stop, i64, Option<i64>, Option<i64>, Option<i64>);

fn sound_ending(most: i64) -> impl Strategy<Value = Ending> {
    let parts = (select(&Stop::ALL[..]), 0..=most, 1..=most, any::<bool>(), option::of(0..=10_i64));
    (parts, option::of(0..=10_i64)).prop_map(|((stop, done, target, planned, reserve), pain)| {
        let target = match stop {
            Stop::Target => Some(target.min(done.max(1))),
            Stop::Chosen => (planned && target > done).then_some(target),
            Stop::Strength
            | Stop::Balance
            | Stop::Line
            | Stop::Failed
            | Stop::Pain
            | Stop::Interrupted
            | Stop::Other => planned.then_some(target),
        };
        let done = if stop == Stop::Target { done.max(1) } else { done };
        let reserve = reserve.map(|r| if stop.is_failure() { 0 } else { r });
        let pain = pain.map(|p| if stop == Stop::Pain { p.max(1) } else { p });
        (stop, done, target, reserve, pain)
    })
}

/// Date, session, set number and key of a set.
fn sound_place() -> impl Strategy<Value = ((i64, i64, i64), i64, i64, String)> {
    let days = 11_094..=today().day_number() + 1; // from 2000-05-17, Wren's birth
    let date = days.prop_map(|n| {
        let (y, m, d) = CivilDate::from_day_number(n).unwrap().parts();
        (i64::from(y), i64::from(m), i64::from(d))
    });
    (date, 0..=9_i64, 1..=200_i64, "[a-zA-Z0-9._:-]{1,64}")
}

fn sound_draft() -> impl Strategy<Value = SetDraft> {
    let catalog = catalog();
    let rungs: Vec<u16> = (0..u16::try_from(catalog.rung_count()).unwrap()).collect();
    select(rungs).prop_flat_map(move |n| {
        let rung = catalog.rung(RungIx(n)).clone();
        let name = catalog.name(RungIx(n)).to_string();
        let words: Vec<String> = rung.shadings.iter().map(ShadingId::to_string).collect();
        let count = words.len();
        let loads = if rung.load_share.is_some() { -25.0..200.0 } else { 0.0..0.0001 };
        let load = option::of(loads.prop_map(move |kg: f64| if kg.abs() < 0.001 { 0.0 } else { kg }));
        let masses = (load, option::of(60.0..300.0));
        let words = (subsequence(words, 0..=count).prop_shuffle(), "([0-9X]{4})?", "\\PC{0,200}");
        let ending = sound_ending(i64::from(rung.unit.most()));
        let rest = (select(&Purpose::ALL[..]), option::of(0..=3600_i64));
        (sound_place(), ending, masses, words, rest).prop_map(move |(place, ending, masses, words, rest)| {
            SetDraft {
                client_set_id: place.3,
                training_date: Some(place.0),
                session: place.1,
                set_number: place.2,
                rung: name.clone(),
                purpose: Choice::Known(rest.0),
                shadings: words.0,
                done: Some((rung.unit, ending.1)),
                planned_target: ending.2,
                stop: Choice::Known(ending.0),
                reps_in_reserve: ending.3,
                rest_seconds: rest.1,
                load_kg: masses.0,
                body_mass_kg: masses.1,
                tempo: words.1,
                pain: ending.4,
                note: words.2,
            }
        })
    })
}

/// Any whole number, the tempting ones often.
fn wild_number() -> impl Strategy<Value = i64> {
    prop_oneof![any::<i64>(), -2..=12_i64, select(vec![i64::MIN, i64::MAX, 65_535, 65_536, 2_000, 301])]
}

fn wild_kg() -> impl Strategy<Value = f64> {
    prop_oneof![any::<f64>(), -300.0..300.0, select(vec![f64::NAN, f64::INFINITY, -0.0, f64::MIN])]
}

fn wild_text() -> impl Strategy<Value = String> {
    let words = ["pull/pull-up", "pull/hollow-hang", "press/wall-press", "light-band", "31X1", "", "/", "w1"];
    prop_oneof![any::<String>(), select(words.map(str::to_owned).to_vec()), "[a-z-]{0,8}/[a-z-]{0,8}"]
}

fn wild_choice<T: Copy + std::fmt::Debug + 'static>(all: &'static [T]) -> impl Strategy<Value = Choice<T>> {
    prop_oneof![
        Just(Choice::Missing),
        wild_text().prop_map(Choice::Unknown),
        select(all).prop_map(Choice::Known)
    ]
}

fn wild_date() -> impl Strategy<Value = Option<(i64, i64, i64)>> {
    option::of(prop_oneof![
        (wild_number(), wild_number(), wild_number()),
        (1899..=2201_i64, 0..=13_i64, 0..=32_i64)
    ])
}

fn wild_draft() -> impl Strategy<Value = SetDraft> {
    let texts =
        (wild_text(), wild_text(), prop::collection::vec(wild_text(), 0..4), wild_text(), wild_text());
    let scales = prop::array::uniform4(option::of(wild_number()));
    let place = (wild_date(), wild_number(), wild_number());
    let ends = (wild_choice(&Purpose::ALL), wild_choice(&Stop::ALL));
    let done = option::of((select(&Unit::ALL[..]), wild_number()));
    let masses = (option::of(wild_kg()), option::of(wild_kg()));
    (texts, scales, place, ends, done, masses).prop_map(|(texts, scales, place, ends, done, masses)| {
        SetDraft {
            client_set_id: texts.0,
            training_date: place.0,
            session: place.1,
            set_number: place.2,
            rung: texts.1,
            purpose: ends.0,
            shadings: texts.2,
            done,
            planned_target: scales[0],
            stop: ends.1,
            reps_in_reserve: scales[1],
            rest_seconds: scales[2],
            load_kg: masses.0,
            body_mass_kg: masses.1,
            tempo: texts.3,
            pain: scales[3],
            note: texts.4,
        }
    })
}

fn wild_profile() -> impl Strategy<Value = ProfileDraft> {
    let confirmation = (wild_choice(&Clearance::ALL), wild_date(), wild_text())
        .prop_map(|(c, d, by)| ConfirmationDraft { clearance: c, confirmed_date: d, confirmed_by: by });
    let lists = (
        prop::collection::vec(wild_text(), 0..4),
        prop::collection::vec(wild_text(), 0..4),
        prop::collection::vec(any::<u8>(), 0..4),
        prop::array::uniform3(prop::collection::vec((wild_text(), wild_text()), 0..3)),
        prop::collection::vec(confirmation, 0..3),
    );
    let four = || option::of((wild_number(), wild_number(), wild_number(), wild_number()));
    let bands = [four().boxed(), four().boxed(), four().boxed()];
    let limits = prop::array::uniform3(option::of(wild_number()));
    let dates = [wild_date().boxed(), wild_date().boxed(), wild_date().boxed()];
    (wild_text(), wild_date(), option::of(wild_kg()), lists, limits, bands, dates).prop_map(
        |(name, birth, mass, lists, limits, bands, dates)| ProfileDraft {
            display_name: name,
            birth_date: birth,
            body_mass_kg: mass,
            goals: lists.0.into_iter().zip(dates).collect(),
            equipment: lists.1,
            available_weekdays: lists.2,
            max_pain: limits[0],
            max_sets_per_session: limits[1],
            max_minutes: limits[2],
            bans: lists.3[0].clone(),
            pins: lists.3[1].clone(),
            caps: lists.3[2].clone(),
            clearances: lists.4,
            bands,
        },
    )
}

fn sound_profile() -> impl Strategy<Value = ProfileDraft> {
    let goals = ["pull/pull-up", "pull/high-pull-up", "press/wall-press"].map(str::to_owned).to_vec();
    let tools = ["band", "bar", "box", "parallettes", "wall"].map(str::to_owned).to_vec();
    let date = || (1950..=2025_i64, 1..=12_i64, 1..=28_i64);
    let one = move |c: Clearance| {
        (date(), "[a-z]{1,20}").prop_map(move |(on, by)| ConfirmationDraft {
            clearance: Choice::Known(c),
            confirmed_date: Some(on),
            confirmed_by: by,
        })
    };
    let clearances = (option::of(one(Clearance::InvertedWork)), option::of(one(Clearance::ExitPractised)));
    let band = || (1..=100_i64, 0..=100_i64).prop_map(|(low, more)| (low, low + more));
    let pair = move || option::of((band(), band()).prop_map(|(w, a)| (w.0, w.1, a.0, a.1)));
    let lists = (
        subsequence(goals.clone(), 0..=3).prop_shuffle(),
        subsequence(tools, 0..=5),
        subsequence(vec![0_u8, 1, 2, 3, 4, 5, 6], 0..=7).prop_shuffle(),
        subsequence(goals.clone(), 0..=2),
        subsequence(goals, 0..=1),
    );
    let limits = (option::of(1..=10_i64), option::of(1..=60_i64), option::of(1..=300_i64));
    let bands = [pair().boxed(), pair().boxed(), pair().boxed()];
    let person = (
        "\\PC{0,10}[a-z]\\PC{0,10}",
        option::of(date()),
        option::of(20.0..300.0),
        prop::array::uniform3(option::of(date())),
    );
    (person, lists, limits, clearances, bands).prop_map(|(person, lists, limits, clearances, bands)| {
        ProfileDraft {
            display_name: person.0,
            birth_date: person.1,
            body_mass_kg: person.2,
            goals: lists.0.into_iter().zip(person.3).collect(),
            equipment: lists.1,
            available_weekdays: lists.2,
            max_pain: limits.0,
            max_sets_per_session: limits.1,
            max_minutes: limits.2,
            bans: lists.3.into_iter().map(|r| (r, "for now".to_owned())).collect(),
            pins: lists.4.iter().map(|r| (r.clone(), "at last".to_owned())).collect(),
            caps: lists.4.into_iter().map(|r| (r, "no more".to_owned())).collect(),
            clearances: clearances.0.into_iter().chain(clearances.1).collect(),
            bands,
        }
    })
}

/// Field names of the contract, up to a list index.
const FIELDS: [&str; 19] = [
    "client_set_id",
    "training_date",
    "session",
    "set_number",
    "rung",
    "purpose",
    "shadings",
    "done",
    "reps",
    "hold_seconds",
    "lowering_seconds",
    "planned_target",
    "stop",
    "reps_in_reserve",
    "rest_seconds",
    "load_kg",
    "body_mass_kg",
    "tempo",
    "pain",
];

fn there_and_back<T: serde::Serialize + serde::de::DeserializeOwned>(value: &T) -> T {
    let text = serde_json::to_string(value).expect("serialises");
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{e} in {text}"))
}

fn judge(draft: &SetDraft, catalog: &Catalog, profile: &Profile) -> Result<SetEntry, Vec<String>> {
    let setting = Setting { catalog, profile, today: today() };
    draft.check(&setting).map_err(|problems| problems.into_iter().map(|p| p.field).collect())
}

proptest! {
    #[test]
    fn a_sound_draft_passes_and_reads_back(draft in sound_draft()) {
        let catalog = catalog();
        let entry = judge(&draft, &catalog, &wren(&catalog));
        prop_assert!(entry.is_ok(), "{:?} of {:?}", entry, draft);
        let entry = entry.unwrap();
        prop_assert_eq!(&there_and_back(&entry), &entry);
        let event = StoredEvent {
            sequence: 7,
            arrived_at_ms: 1_773_446_400_000,
            body: EventBody::Corrected { set: entry, reason: draft.note },
        };
        prop_assert_eq!(&there_and_back(&event), &event);
    }

    #[test]
    fn a_wild_draft_is_judged_without_a_panic(draft in wild_draft()) {
        let catalog = catalog();
        match judge(&draft, &catalog, &wren(&catalog)) {
            Ok(entry) => prop_assert_eq!(&there_and_back(&entry), &entry),
            Err(fields) => {
                prop_assert!(!fields.is_empty());
                for (i, field) in fields.iter().enumerate() {
                    let plain = field.split('[').next().unwrap();
                    prop_assert!(FIELDS.contains(&plain) || plain == "note", "{}", field);
                    prop_assert!(!fields[..i].contains(field), "{} twice", field);
                }
            }
        }
    }

    #[test]
    fn one_bad_field_in_a_sound_draft_is_the_one_named(draft in sound_draft(), which in 0..5_usize) {
        let mut draft = draft;
        let field = match which {
            0 => { draft.session = 10; "session" }
            1 => { draft.set_number = 0; "set_number" }
            2 => { draft.rest_seconds = Some(-1); "rest_seconds" }
            3 => { draft.tempo = "fast".to_owned(); "tempo" }
            _ => { draft.client_set_id = "ä".to_owned(); "client_set_id" }
        };
        let catalog = catalog();
        prop_assert_eq!(judge(&draft, &catalog, &wren(&catalog)), Err(vec![field.to_owned()]));
    }

    #[test]
    fn a_sound_profile_passes_and_reads_back(draft in sound_profile()) {
        let profile = draft.check(&catalog(), today());
        prop_assert!(profile.is_ok(), "{:?} of {:?}", profile, draft);
        let profile = profile.unwrap();
        prop_assert_eq!(&there_and_back(&profile), &profile);
        let body = EventBody::Profiled { profile: Box::new(profile) };
        prop_assert_eq!(&there_and_back(&body), &body);
    }

    #[test]
    fn a_wild_profile_is_judged_without_a_panic(draft in wild_profile()) {
        if let Err(problems) = draft.check(&catalog(), today()) {
            prop_assert!(!problems.is_empty());
        }
    }

    #[test]
    fn days_read_back(number in -25_567..=84_005_i32, shift in -400_000..=400_000_i32) {
        let date = CivilDate::from_day_number(number).unwrap();
        let (y, m, d) = date.parts();
        prop_assert_eq!(CivilDate::from_parts(i64::from(y), i64::from(m), i64::from(d)), Ok(date));
        prop_assert_eq!(CivilDate::parse(&date.to_string()), Ok(date));
        prop_assert_eq!(there_and_back(&date), date);
        prop_assert_eq!(date.plus_days(1).weekday(), if date.day_number() == 84_005 {
            date.weekday()
        } else {
            (date.weekday() + 1) % 7
        });
        let moved = date.plus_days(shift);
        prop_assert_eq!(moved.days_since(date), shift.clamp(-25_567 - number, 84_005 - number));
        prop_assert_eq!(moved > date, moved.day_number() > number);
    }

    #[test]
    fn a_mangled_ladder_file_is_judged_without_a_panic(at in 0..3000_usize, cut in 0..40_usize, put in "\\PC{0,12}") {
        let mut from = at.min(PULL.len());
        while !PULL.is_char_boundary(from) { from -= 1; }
        let mut to = (from + cut).min(PULL.len());
        while !PULL.is_char_boundary(to) { to -= 1; }
        let text = format!("{}{}{}", &PULL[..from], put, &PULL[to..]);
        let lines = 1 + text.matches('\n').count();
        let catalog = catalog();
        if let Err(problems) = read_ladder(NamedText { name: "mangled.toml", text: &text }, catalog.abilities()) {
            prop_assert!(!problems.is_empty());
            for p in problems {
                prop_assert!((1..=lines).contains(&p.line), "{}", p);
            }
        }
    }
}

#[test]
fn every_day_of_three_centuries_exists_once() {
    let mut date = CivilDate::parse("1900-01-01").unwrap();
    let last = CivilDate::parse("2199-12-31").unwrap();
    let mut count = 1;
    while date < last {
        let next = date.plus_days(1);
        let (y, m, d) = next.parts();
        assert_eq!(CivilDate::from_parts(i64::from(y), i64::from(m), i64::from(d)), Ok(next));
        date = next;
        count += 1;
    }
    assert_eq!(count, 109_573, "300 years with 73 leap days");
}

#[test]
fn kept_sets_refuse_values_that_no_draft_would_pass() {
    let catalog = catalog();
    let entry = judge(&crate::fixture::five_pull_ups(), &catalog, &wren(&catalog)).unwrap();
    let text = serde_json::to_string(&entry).unwrap();
    for (from, to) in [
        ("\"number\":2", "\"number\":0"),
        ("\"rung\":\"pull/pull-up\"", "\"rung\":\"pull\""),
        ("\"stop\":\"target\"", "\"stop\":\"tired\""),
        ("\"date\":\"2026-03-14\"", "\"date\":\"2026-02-30\""),
        ("\"id\":\"w1\"", "\"id\":\"\""),
    ] {
        assert_eq!(text.matches(from).count(), 1, "{from} in {text}");
        assert!(serde_json::from_str::<SetEntry>(&text.replacen(from, to, 1)).is_err(), "{to}");
    }
}
