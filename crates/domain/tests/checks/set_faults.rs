//! Bad values of each field of a set: one problem each, named as in the contract.

use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{Choice, MAX_NOTE, SetDraft, Setting};
use nextrung_domain::ids::ShadingId;
use nextrung_domain::measure::Unit;
use nextrung_domain::profile_draft::ProfileDraft;
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};

use crate::fixture::{catalog, day, five_pull_ups, only_problem, problems_of, today, wren};

fn entry_of(draft: &SetDraft) -> SetEntry {
    let catalog = catalog();
    let profile = wren(&catalog);
    draft.check(&Setting { catalog: &catalog, profile: &profile, today: today() }).expect("a sound set")
}

/// Five pull-ups with one thing changed.
fn with(change: impl FnOnce(&mut SetDraft)) -> SetDraft {
    let mut draft = five_pull_ups();
    change(&mut draft);
    draft
}

/// Asserts that `draft` has one problem, of these words.
#[track_caller]
fn refuses(draft: &SetDraft, field: &str, found: &str, expected: &str) {
    let (f, is, should) = only_problem(draft);
    assert_eq!((f.as_str(), is.as_str(), should.as_str()), (field, found, expected));
}

#[test]
fn repro_a_load_of_less_than_half_a_gram_is_no_load() {
    for kg in [0.000_4, -0.000_4, 5e-324, -0.0] {
        let entry = entry_of(&with(|d| d.load_kg = Some(kg)));
        assert_eq!((entry.load, entry.body_mass), (None, None), "{kg}");
    }
    assert_eq!(entry_of(&with(|d| d.load_kg = Some(0.000_6))).load.map(|load| load.kg()), Some(0.001));
}

#[test]
fn repro_a_long_list_of_shadings_is_one_problem() {
    let many = vec![String::new(); 2_000_000];
    refuses(&with(|d| d.shadings = many), "shadings", "2000000 entries", "at most 20");
}

#[test]
fn a_sound_set_is_kept_as_it_came() {
    let draft = with(|d| {
        d.shadings = vec!["slow-lowering".to_owned(), "light-band".to_owned()];
        d.reps_in_reserve = Some(2);
        d.rest_seconds = Some(180);
        d.load_kg = Some(2.5);
        d.body_mass_kg = Some(61.25);
        d.tempo = "31X1".to_owned();
        d.pain = Some(1);
        d.note = "überstark 💪, пять, 五".to_owned();
    });
    let entry = entry_of(&draft);
    assert_eq!(entry.client_set_id.as_str(), "w1");
    assert_eq!((entry.date, entry.session.get(), entry.number.get()), (today(), 1, 2));
    assert_eq!(entry.rung.to_string(), "pull/pull-up");
    assert_eq!((entry.purpose, entry.stop), (Purpose::Working, Stop::Target));
    let shadings: Vec<&str> = entry.shadings.iter().map(ShadingId::as_str).collect();
    assert_eq!(shadings, ["light-band", "slow-lowering"], "in id order");
    assert_eq!((entry.unit, entry.done, entry.target), (Unit::Reps, 5, Some(5)));
    assert_eq!(entry.reserve.map(|r| r.get()), Some(2));
    assert_eq!(entry.rest.map(|r| r.get()), Some(180));
    assert_eq!(entry.load.map(|m| m.kg()), Some(2.5));
    assert_eq!(entry.body_mass.map(|m| m.kg()), Some(61.25));
    assert_eq!(entry.tempo.map(|t| t.to_string()).as_deref(), Some("31X1"));
    assert_eq!(entry.pain.map(|p| p.get()), Some(1));
    assert_eq!(entry.note, draft.note);
}

#[test]
fn client_set_ids() {
    let expected = "1 to 64 letters, digits or any of . _ : -";
    let long = "x".repeat(65);
    for (bad, found) in [
        ("", "nothing".to_owned()),
        ("a b", "`a b`".to_owned()),
        ("sätze", "`sätze`".to_owned()),
        ("a/b", "`a/b`".to_owned()),
        (long.as_str(), format!("`{long}`")),
    ] {
        refuses(&with(|d| d.client_set_id = bad.to_owned()), "client_set_id", &found, expected);
    }
    for good in ["x", "2026-01-02:w.3_A", &"x".repeat(64)] {
        assert_eq!(entry_of(&with(|d| d.client_set_id = good.to_owned())).client_set_id.as_str(), good);
    }
}

#[test]
fn training_dates() {
    let on = |parts| with(|d| d.training_date = parts);
    refuses(&on(None), "training_date", "nothing", "the day of training: year, month and day");
    for parts in [
        (2026, 2, 29),
        (2026, 4, 31),
        (2026, 0, 1),
        (2026, 13, 1),
        (2026, 1, 0),
        (2026, -1, 1),
        (1899, 12, 31),
        (2200, 1, 1),
        (i64::MAX, i64::MIN, 258),
    ] {
        let found = format!("{}-{}-{}", parts.0, parts.1, parts.2);
        refuses(&on(Some(parts)), "training_date", &found, "a day that exists, from 1900 to 2199");
    }
    assert_eq!(entry_of(&on(Some((2024, 2, 29)))).date, day("2024-02-29"));
    assert_eq!(entry_of(&on(Some((2026, 3, 15)))).date, day("2026-03-15"), "east of the service");
    refuses(&on(Some((2026, 3, 16))), "training_date", "2026-03-16", "a day not after 2026-03-15");
    assert_eq!(entry_of(&on(Some((2000, 5, 17)))).date, day("2000-05-17"));
    refuses(
        &on(Some((2000, 5, 16))),
        "training_date",
        "2000-05-16",
        "a day not before the athlete's birth on 2000-05-17",
    );
}

#[test]
fn without_a_birth_date_any_past_day_will_do() {
    let catalog = catalog();
    let nameless = ProfileDraft { display_name: "Lark".to_owned(), ..ProfileDraft::default() };
    let profile = nameless.check(&catalog, today()).unwrap();
    let setting = Setting { catalog: &catalog, profile: &profile, today: today() };
    let draft = with(|d| d.training_date = Some((1900, 1, 1)));
    assert_eq!(draft.check(&setting).map(|e| e.date), Ok(day("1900-01-01")));
    let last = Setting { today: CivilDate::parse("2199-12-31").unwrap(), ..setting };
    let draft = with(|d| d.training_date = Some((2199, 12, 31)));
    assert_eq!(draft.check(&last).map(|e| e.date), Ok(day("2199-12-31")));
}

#[test]
fn sessions_and_set_numbers() {
    assert_eq!(entry_of(&with(|d| d.session = 0)).session.get(), 1, "0 stands for 1");
    assert_eq!(entry_of(&with(|d| d.session = 9)).session.get(), 9);
    for bad in [-1, 10, i64::MIN, i64::MAX] {
        refuses(&with(|d| d.session = bad), "session", &bad.to_string(), "a whole number from 1 to 9");
    }
    for good in [1, 200] {
        assert_eq!(i64::from(entry_of(&with(|d| d.set_number = good)).number.get()), good);
    }
    for bad in [0, -1, 201, i64::MIN, i64::MAX] {
        refuses(
            &with(|d| d.set_number = bad),
            "set_number",
            &bad.to_string(),
            "a whole number from 1 to 200",
        );
    }
}

#[test]
fn rungs() {
    let expected = "a rung of one of the ladders, written ladder/rung";
    let long = format!("pull/{}", "x".repeat(16_000_000));
    for (bad, found, guess) in [
        ("", "nothing".to_owned(), ""),
        ("pull/pul-up", "`pull/pul-up`".to_owned(), "; did you mean `pull/pull-up`?"),
        ("pull/Pull-Up", "`pull/Pull-Up`".to_owned(), "; did you mean `pull/pull-up`?"),
        ("pullup", "`pullup`".to_owned(), ""),
        ("pull/pull-up/x", "`pull/pull-up/x`".to_owned(), "; did you mean `pull/pull-up`?"),
        ("swim/crawl", "`swim/crawl`".to_owned(), ""),
        (long.as_str(), format!("`pull/{}`", "x".repeat(75)), ""),
    ] {
        refuses(&with(|d| d.rung = bad.to_owned()), "rung", &found, &format!("{expected}{guess}"));
    }
}

#[test]
fn purposes_and_stops() {
    let purposes = "one of working, attempt, practice, test, free";
    let stops = "one of target, strength, balance, line, failed, chosen, pain, interrupted, other";
    refuses(&with(|d| d.purpose = Choice::Missing), "purpose", "nothing", purposes);
    refuses(
        &with(|d| d.purpose = Choice::Unknown("workng".to_owned())),
        "purpose",
        "`workng`",
        &format!("{purposes}; did you mean `working`?"),
    );
    refuses(&with(|d| d.purpose = Choice::Unknown("17".to_owned())), "purpose", "`17`", purposes);
    refuses(&with(|d| d.stop = Choice::Missing), "stop", "nothing", stops);
    refuses(
        &with(|d| d.stop = Choice::Unknown("balanced".to_owned())),
        "stop",
        "`balanced`",
        &format!("{stops}; did you mean `balance`?"),
    );
    for purpose in Purpose::ALL {
        assert_eq!(entry_of(&with(|d| d.purpose = Choice::Known(purpose))).purpose, purpose);
    }
}

#[test]
fn shadings() {
    let shaded = |words: &[&str]| with(|d| d.shadings = words.iter().map(|w| (*w).to_owned()).collect());
    let expected = "a shading offered on pull/pull-up: light-band, slow-lowering";
    refuses(&shaded(&["light-band", "deficit"]), "shadings[1]", "`deficit`", expected);
    refuses(
        &shaded(&["slow-lowring"]),
        "shadings[0]",
        "`slow-lowring`",
        &format!("{expected}; did you mean `slow-lowering`?"),
    );
    refuses(&shaded(&[""]), "shadings[0]", "nothing", expected);
    refuses(&shaded(&["light-band", "light-band"]), "shadings[1]", "`light-band` again", "each shading once");
    let mut hang = shaded(&["light-band"]);
    hang.rung = "pull/hollow-hang".to_owned();
    hang.done = Some((Unit::HoldSeconds, 20));
    // The shading is known to the ladder but not offered on this rung.
    let (field, found, expected) = only_problem(&hang);
    assert_eq!((field.as_str(), found.as_str()), ("shadings[0]", "`light-band`"));
    assert_eq!(expected, "a shading offered on pull/hollow-hang: none");
    let fields: Vec<String> =
        problems_of(&shaded(&["x-ray", "", "deficit"])).into_iter().map(|p| p.field).collect();
    assert_eq!(fields, ["shadings[0]", "shadings[1]", "shadings[2]"]);
}

#[test]
fn clean_units_done() {
    let chosen = |rung: &str, done| {
        with(|d| {
            d.rung = rung.to_owned();
            d.done = done;
            d.planned_target = None;
            d.stop = Choice::Known(Stop::Chosen);
        })
    };
    for (rung, unit, field, most) in [
        ("pull/pull-up", Unit::Reps, "reps", 300),
        ("pull/hollow-hang", Unit::HoldSeconds, "hold_seconds", 1800),
        ("pull/lowering", Unit::LoweringSeconds, "lowering_seconds", 300),
    ] {
        for good in [0, 1, most] {
            assert_eq!(i64::from(entry_of(&chosen(rung, Some((unit, good)))).done), good, "{rung}");
        }
        for bad in [-1, most + 1, 65_536, i64::MIN, i64::MAX] {
            let expected = format!("a whole number from 0 to {most}");
            refuses(&chosen(rung, Some((unit, bad))), field, &bad.to_string(), &expected);
        }
        let expected = format!("the clean units done, in {field}");
        refuses(&chosen(rung, None), "done", "nothing", &expected);
    }
}

#[test]
fn another_unit_than_the_rungs_is_refused() {
    for (rung, right) in [
        ("pull/pull-up", Unit::Reps),
        ("pull/hollow-hang", Unit::HoldSeconds),
        ("pull/lowering", Unit::LoweringSeconds),
    ] {
        for wrong in Unit::ALL.into_iter().filter(|u| *u != right) {
            let draft = with(|d| {
                d.rung = rung.to_owned();
                d.done = Some((wrong, 5));
            });
            let found = format!("5 {}", wrong.field());
            let expected = format!("{}, the unit of {rung}", right.field());
            refuses(&draft, wrong.field(), &found, &expected);
        }
    }
}

#[test]
fn planned_targets() {
    let planned = |target| {
        with(|d| {
            d.planned_target = Some(target);
            d.stop = Choice::Known(Stop::Strength);
        })
    };
    for good in [1, 5, 300] {
        assert_eq!(entry_of(&planned(good)).target.map(i64::from), Some(good));
    }
    for bad in [0, -5, 301, i64::MIN, i64::MAX] {
        refuses(&planned(bad), "planned_target", &bad.to_string(), "a whole number from 1 to 300");
    }
}

#[test]
fn small_scales() {
    let reserve = |v| {
        with(|d| {
            d.reps_in_reserve = Some(v);
            d.stop = Choice::Known(Stop::Target);
        })
    };
    let rest = |v| with(|d| d.rest_seconds = Some(v));
    let pain = |v| with(|d| d.pain = Some(v));
    for good in [0, 10] {
        assert_eq!(entry_of(&reserve(good)).reserve.map(i64::from), Some(good));
        assert_eq!(entry_of(&pain(good)).pain.map(i64::from), Some(good));
    }
    for good in [0, 3600] {
        assert_eq!(entry_of(&rest(good)).rest.map(i64::from), Some(good));
    }
    for bad in [-1, 11, i64::MAX] {
        refuses(&reserve(bad), "reps_in_reserve", &bad.to_string(), "a whole number from 0 to 10");
        refuses(&pain(bad), "pain", &bad.to_string(), "a whole number from 0 to 10");
    }
    for bad in [-1, 3601, i64::MIN] {
        refuses(&rest(bad), "rest_seconds", &bad.to_string(), "a whole number from 0 to 3600");
    }
}

#[test]
fn tempos() {
    let expected =
        "four signs for lowering, bottom, rising and top, each a digit of seconds or X, such as 31X1";
    for bad in ["3", "31x1", "3-1-X-1", "31X10", "３１X1"] {
        refuses(&with(|d| d.tempo = bad.to_owned()), "tempo", &format!("`{bad}`"), expected);
    }
    assert_eq!(entry_of(&with(|d| d.tempo = String::new())).tempo, None);
}

#[test]
fn notes_of_any_script_up_to_1000_bytes() {
    let smiles = "🙂".repeat(MAX_NOTE / 4);
    assert_eq!(entry_of(&with(|d| d.note = smiles.clone())).note, smiles);
    for odd in ["line one\nline two\r\n", "\u{202e}reversed", "e\u{301}", "\0", "\"; DROP TABLE sets; --"] {
        assert_eq!(entry_of(&with(|d| d.note = odd.to_owned())).note, odd);
    }
    refuses(&with(|d| d.note = format!("{smiles}x")), "note", "1001 bytes", "at most 1000 bytes");
}

#[test]
fn loads() {
    let load = |kg| with(|d| d.load_kg = Some(kg));
    for good in [-50.0, -0.001, 0.001, 12.5, 200.0] {
        let entry = entry_of(&load(good));
        assert_eq!(entry.load.map(|m| m.kg()), Some(good));
        assert_eq!(entry.body_mass.map(|m| m.kg()), Some(60.0), "the profile's stands in");
    }
    for (bad, found) in [
        (f64::NAN, "NaN"),
        (f64::INFINITY, "inf"),
        (f64::NEG_INFINITY, "-inf"),
        (200.1, "200.1"),
        (-200.1, "-200.1"),
    ] {
        refuses(&load(bad), "load_kg", found, "kilograms from -200 to 200");
    }
    // 0.9 * 0.95 * 60 kg = 51.3 kg of the 57 kg moved.
    refuses(&load(-51.3), "load_kg", "-51.3", "less help than nine tenths of the mass moved");
    assert_eq!(entry_of(&load(-51.299)).load.map(|m| m.kg()), Some(-51.299));
}

#[test]
fn a_load_asks_for_a_known_share_and_a_body_mass() {
    let high = with(|d| {
        d.rung = "pull/high-pull-up".to_owned();
        d.load_kg = Some(5.0);
    });
    let expected = "no load: the share of body mass moved on this rung is not known; use a shading";
    refuses(&high, "load_kg", "5", expected);

    let catalog = catalog();
    let unweighed = ProfileDraft { display_name: "Lark".to_owned(), ..ProfileDraft::default() };
    let profile = unweighed.check(&catalog, today()).unwrap();
    let setting = Setting { catalog: &catalog, profile: &profile, today: today() };
    let problems = with(|d| d.load_kg = Some(5.0)).check(&setting).unwrap_err();
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert_eq!(
        problems[0].to_string(),
        "body_mass_kg: found nothing; expected the body mass, here or in the athlete's profile, when a load is given"
    );
    let weighed = with(|d| {
        d.load_kg = Some(5.0);
        d.body_mass_kg = Some(58.0);
    });
    assert_eq!(weighed.check(&setting).map(|e| e.body_mass.map(|m| m.kg())), Ok(Some(58.0)));
}

#[test]
fn no_load_is_body_mass_alone_on_every_rung() {
    for zero in [0.0, -0.0] {
        let draft = with(|d| {
            d.rung = "pull/high-pull-up".to_owned();
            d.load_kg = Some(zero);
        });
        let entry = entry_of(&draft);
        assert_eq!((entry.load, entry.body_mass), (None, None));
    }
}

#[test]
fn body_masses() {
    let mass = |kg| with(|d| d.body_mass_kg = Some(kg));
    for good in [20.0, 72.345, 300.0] {
        assert_eq!(entry_of(&mass(good)).body_mass.map(|m| m.kg()), Some(good));
    }
    for (bad, found) in
        [(f64::NAN, "NaN"), (f64::INFINITY, "inf"), (19.999, "19.999"), (300.001, "300.001"), (-60.0, "-60")]
    {
        refuses(&mass(bad), "body_mass_kg", found, "kilograms from 20 to 300");
    }
    assert_eq!(entry_of(&five_pull_ups()).body_mass, None, "not taken from the profile without a load");
}

#[test]
fn every_bad_field_is_named_at_once() {
    let draft = SetDraft {
        client_set_id: "no good".to_owned(),
        training_date: Some((2026, 2, 30)),
        session: 77,
        set_number: -4,
        rung: "pull/pull-up".to_owned(),
        purpose: Choice::Unknown("fun".to_owned()),
        shadings: vec!["light-band".to_owned(), "wind".to_owned()],
        done: Some((Unit::HoldSeconds, 5)),
        planned_target: Some(0),
        stop: Choice::Unknown("tired".to_owned()),
        reps_in_reserve: Some(50),
        rest_seconds: Some(-1),
        load_kg: Some(f64::NAN),
        body_mass_kg: Some(f64::INFINITY),
        tempo: "slow".to_owned(),
        pain: Some(11),
        note: "x".repeat(MAX_NOTE + 1),
    };
    let mut fields: Vec<String> = problems_of(&draft).into_iter().map(|p| p.field).collect();
    fields.sort();
    assert_eq!(
        fields,
        [
            "body_mass_kg",
            "client_set_id",
            "hold_seconds",
            "load_kg",
            "note",
            "pain",
            "planned_target",
            "purpose",
            "reps_in_reserve",
            "rest_seconds",
            "session",
            "set_number",
            "shadings[1]",
            "stop",
            "tempo",
            "training_date",
        ]
    );
}

#[test]
fn an_empty_draft_names_every_required_field() {
    let fields: Vec<String> = problems_of(&SetDraft::default()).into_iter().map(|p| p.field).collect();
    assert_eq!(fields, ["client_set_id", "training_date", "set_number", "purpose", "stop", "rung", "done"]);
}
