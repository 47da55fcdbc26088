//! Bad values of each field of a profile: one problem each, named as in the contract.

use nextrung_domain::draft::{Choice, MAX_NOTE};
use nextrung_domain::measure::Pain;
use nextrung_domain::problem::Problem;
use nextrung_domain::profile::{Clearance, Profile, Weekdays};
use nextrung_domain::profile_draft::{ConfirmationDraft, ProfileDraft, check_bands_draft};

use crate::fixture::{catalog, day, today};

fn lark() -> ProfileDraft {
    ProfileDraft { display_name: "Lark".to_owned(), ..ProfileDraft::default() }
}

fn check(change: impl FnOnce(&mut ProfileDraft)) -> Result<Profile, Vec<Problem>> {
    let mut draft = lark();
    change(&mut draft);
    draft.check(&catalog(), today())
}

/// The one problem that comes of a change, as it reads.
#[track_caller]
fn refusal(change: impl FnOnce(&mut ProfileDraft)) -> String {
    let problems = check(change).expect_err("must be refused");
    assert_eq!(problems.len(), 1, "{problems:?}");
    problems[0].to_string()
}

fn confirmed(clearance: Clearance, date: (i64, i64, i64), by: &str) -> ConfirmationDraft {
    ConfirmationDraft {
        clearance: Choice::Known(clearance),
        confirmed_date: Some(date),
        confirmed_by: by.to_owned(),
    }
}

#[test]
fn a_bare_profile_has_careful_defaults() {
    let profile = check(|_| {}).unwrap();
    assert_eq!(profile.display_name, "Lark");
    assert_eq!(profile.limits.max_pain, Pain::DEFAULT_LIMIT);
    assert_eq!((profile.limits.max_sets, profile.limits.max_minutes), (24, 90));
    assert_eq!(profile.days, Weekdays::ALL);
    assert!(profile.clearances.is_empty() && profile.equipment.is_empty() && profile.bands.is_none());
}

#[test]
fn repro_a_long_list_is_one_problem() {
    let many = 2_000_000;
    let told = |text: String| (String::new(), text);
    let rung = |_| told(String::new());
    let none = || ConfirmationDraft {
        clearance: Choice::Missing,
        confirmed_date: None,
        confirmed_by: String::new(),
    };
    for (field, text) in [
        ("goals", refusal(|d| d.goals = vec![(String::new(), None); many])),
        ("equipment", refusal(|d| d.equipment = vec![String::new(); many])),
        ("available_weekdays", refusal(|d| d.available_weekdays = vec![9; many])),
        ("limits.banned_rungs", refusal(|d| d.bans = (0..many).map(rung).collect())),
        ("limits.pinned_rungs", refusal(|d| d.pins = (0..many).map(rung).collect())),
        ("limits.capped_rungs", refusal(|d| d.caps = (0..many).map(rung).collect())),
        ("clearances", refusal(|d| d.clearances = vec![none(); many])),
    ] {
        assert_eq!(text, format!("{field}: found 2000000 entries; expected at most 300"));
    }
}

#[test]
fn names() {
    for bad in [String::new(), " \t".to_owned(), "x".repeat(121), "é".repeat(61)] {
        let text = refusal(|d| d.display_name = bad.clone());
        assert!(text.starts_with("display_name: found "), "{text}");
        assert!(text.ends_with("; expected a name of 1 to 120 bytes"), "{text}");
    }
    assert_eq!(check(|d| d.display_name = " Łarkß 鳥 ".to_owned()).unwrap().display_name, "Łarkß 鳥");
    assert!(check(|d| d.display_name = "é".repeat(60)).is_ok());
}

#[test]
fn birth_dates() {
    assert_eq!(check(|d| d.birth_date = Some((2026, 3, 14))).unwrap().birth_date, Some(today()));
    assert_eq!(check(|d| d.birth_date = Some((1900, 1, 1))).unwrap().birth_date, Some(day("1900-01-01")));
    for (bad, found) in [
        ((2026, 3, 15), "2026-3-15"),
        ((2001, 2, 29), "2001-2-29"),
        ((1899, 12, 31), "1899-12-31"),
        ((0, 0, 0), "0-0-0"),
    ] {
        assert_eq!(
            refusal(|d| d.birth_date = Some(bad)),
            format!("birth_date: found {found}; expected a day that exists, not after 2026-03-14")
        );
    }
}

#[test]
fn body_masses() {
    for bad in [19.9, 300.1, -70.0, f64::NAN, f64::INFINITY] {
        assert_eq!(
            refusal(|d| d.body_mass_kg = Some(bad)),
            format!("body_mass_kg: found {bad}; expected kilograms from 20 to 300")
        );
    }
    for good in [20.0, 300.0] {
        assert_eq!(check(|d| d.body_mass_kg = Some(good)).unwrap().body_mass.map(|m| m.kg()), Some(good));
    }
}

#[test]
fn goals() {
    let goals = |names: &[&str]| {
        let names = names.iter().map(|n| ((*n).to_owned(), None)).collect();
        move |d: &mut ProfileDraft| d.goals = names
    };
    assert_eq!(
        refusal(goals(&["pull/pull-up", "press/wal-press"])),
        "goals[1].rung: found `press/wal-press`; expected a rung of one of the ladders, written ladder/rung; \
         did you mean `press/wall-press`?"
    );
    assert_eq!(
        refusal(goals(&["pull/pull-up", "pull/pull-up"])),
        "goals[1].rung: found `pull/pull-up` again; expected each goal once"
    );
    let profile = check(goals(&["press/wall-press", "pull/pull-up"])).unwrap();
    let names: Vec<String> = profile.goals.iter().map(|g| g.rung.to_string()).collect();
    assert_eq!(names, ["press/wall-press", "pull/pull-up"], "the dearest first");
    let by = |date| move |d: &mut ProfileDraft| d.goals = vec![("pull/pull-up".to_owned(), Some(date))];
    assert_eq!(check(by((2027, 1, 1))).unwrap().goals[0].by, Some(day("2027-01-01")));
    assert_eq!(
        refusal(by((2027, 2, 29))),
        "goals[0].by_date: found 2027-2-29; expected a day that exists, from 1900 to 2199"
    );
}

#[test]
fn equipment() {
    let expected = "expected one of band, bar, box, parallettes, wall";
    assert_eq!(
        refusal(|d| d.equipment = vec!["bar".to_owned(), "bnad".to_owned()]),
        format!("equipment[1]: found `bnad`; {expected}; did you mean `band`?")
    );
    assert_eq!(
        refusal(|d| d.equipment = vec!["Trampoline!".to_owned()]),
        format!("equipment[0]: found `Trampoline!`; {expected}")
    );
    let profile = check(|d| d.equipment = ["wall", "bar", "wall"].map(str::to_owned).to_vec()).unwrap();
    let words: Vec<&str> = profile.equipment.iter().map(|e| e.as_str()).collect();
    assert_eq!(words, ["bar", "wall"]);
}

#[test]
fn weekdays() {
    let profile = check(|d| d.available_weekdays = vec![6, 0]).unwrap();
    assert_eq!(profile.days.days().collect::<Vec<_>>(), [0, 6]);
    for bad in [7, 255] {
        assert_eq!(
            refusal(|d| d.available_weekdays = vec![0, bad]),
            format!("available_weekdays[1]: found {bad}; expected a day from Monday to Sunday")
        );
    }
}

#[test]
fn limits() {
    for bad in [0, 11, -1, i64::MAX] {
        assert_eq!(
            refusal(|d| d.max_pain = Some(bad)),
            format!("limits.max_pain: found {bad}; expected a whole number from 1 to 10")
        );
    }
    for bad in [0, 61, i64::MIN] {
        assert_eq!(
            refusal(|d| d.max_sets_per_session = Some(bad)),
            format!("limits.max_sets_per_session: found {bad}; expected a whole number from 1 to 60")
        );
    }
    for bad in [0, 301, 65_536] {
        assert_eq!(
            refusal(|d| d.max_minutes = Some(bad)),
            format!("limits.max_minutes: found {bad}; expected a whole number from 1 to 300")
        );
    }
    for (pain, sets, minutes) in [(1, 1, 1), (10, 60, 300)] {
        let profile = check(|d| {
            d.max_pain = Some(pain);
            d.max_sets_per_session = Some(sets);
            d.max_minutes = Some(minutes);
        });
        let limits = profile.unwrap().limits;
        let found = (i64::from(limits.max_pain), i64::from(limits.max_sets), i64::from(limits.max_minutes));
        assert_eq!(found, (pain, sets, minutes));
    }
}

#[test]
fn bans() {
    let bans = |list: &[(&str, &str)]| {
        let list = list.iter().map(|(r, w)| ((*r).to_owned(), (*w).to_owned())).collect();
        move |d: &mut ProfileDraft| d.bans = list
    };
    let profile = check(bans(&[("pull/pull-up", "elbow")])).unwrap();
    assert_eq!(profile.limits.bans[0].reason, "elbow");
    assert_eq!(
        refusal(bans(&[("pull/pull-up", "elbow"), ("pull/pullup", "x")])),
        "limits.banned_rungs[1].rung: found `pull/pullup`; expected a rung of one of the ladders, written \
         ladder/rung; did you mean `pull/pull-up`?"
    );
    assert_eq!(
        refusal(bans(&[("pull/pull-up", " ")])),
        "limits.banned_rungs[0].reason: found nothing; expected why the rung is banned"
    );
    assert_eq!(
        refusal(bans(&[("pull/pull-up", &"x".repeat(MAX_NOTE + 1))])),
        "limits.banned_rungs[0].reason: found 1001 bytes; expected at most 1000 bytes"
    );
    assert_eq!(
        refusal(bans(&[("pull/pull-up", "a"), ("pull/pull-up", "b")])),
        "limits.banned_rungs[1].rung: found `pull/pull-up` again; expected each rung once"
    );
}

#[test]
fn clearances() {
    let given = |list: Vec<ConfirmationDraft>| move |d: &mut ProfileDraft| d.clearances = list;
    let fine = confirmed(Clearance::InvertedWork, (2026, 3, 1), "coach");
    let profile = check(given(vec![fine.clone()])).unwrap();
    assert!(!profile.is_cleared(Clearance::InvertedWork, day("2026-02-28")));
    assert!(profile.is_cleared(Clearance::InvertedWork, day("2026-03-01")));
    assert!(!profile.is_cleared(Clearance::ExitPractised, day("2026-03-14")));

    let words = "expected one of inverted-work, exit-practised, slow-lowering-full-range";
    let mut odd = fine.clone();
    odd.clearance = Choice::Unknown("exit-practiced".to_owned());
    assert_eq!(
        refusal(given(vec![fine.clone(), odd])),
        format!("clearances[1].clearance: found `exit-practiced`; {words}; did you mean `exit-practised`?")
    );
    let mut odd = fine.clone();
    odd.clearance = Choice::Missing;
    assert_eq!(refusal(given(vec![odd])), format!("clearances[0].clearance: found nothing; {words}"));
    let mut odd = fine.clone();
    odd.confirmed_date = None;
    assert_eq!(
        refusal(given(vec![odd])),
        "clearances[0].confirmed_date: found nothing; expected the day on which it was confirmed"
    );
    // As with training dates, a day more for those who live east of the service.
    assert!(check(given(vec![confirmed(Clearance::InvertedWork, (2026, 3, 15), "coach")])).is_ok());
    assert_eq!(
        refusal(given(vec![confirmed(Clearance::InvertedWork, (2026, 3, 16), "coach")])),
        "clearances[0].confirmed_date: found 2026-3-16; expected a day that exists, not after 2026-03-15"
    );
    assert_eq!(
        refusal(given(vec![confirmed(Clearance::InvertedWork, (2026, 3, 1), "\n")])),
        "clearances[0].confirmed_by: found nothing; expected who confirmed it"
    );
    assert_eq!(
        refusal(given(vec![confirmed(Clearance::InvertedWork, (2026, 3, 1), &"x".repeat(1001))])),
        "clearances[0].confirmed_by: found 1001 bytes; expected at most 1000 bytes"
    );
    assert_eq!(
        refusal(given(vec![fine.clone(), fine])),
        "clearances[1].clearance: found `inverted-work` again; expected each clearance once"
    );
}

#[test]
fn bands() {
    let bands = check(|d| d.bands[1] = Some((10, 20, 3, 6))).unwrap().bands.unwrap();
    assert_eq!((bands.hold.working.low, bands.hold.working.high), (10, 20));
    assert_eq!((bands.reps.working.low, bands.reps.working.high), (3, 5), "the default");
    let names = ["reps", "hold_seconds", "lowering_seconds"];
    for (unit, (name, most)) in names.into_iter().zip([300, 1800, 300]).enumerate() {
        for bad in [(5, 3, 1, 2), (0, 3, 1, 2), (3, 5, 2, 1), (3, 5, -1, 2), (3, most + 1, 1, 2)] {
            let (a, b, c, d) = bad;
            assert_eq!(
                refusal(|p| p.bands[unit] = Some(bad)),
                format!(
                    "bands.{name}: found working {a}-{b}, attempt {c}-{d}; expected for each, a low of at least 1 \
                     that is not above the high, and a high of at most {most}"
                )
            );
        }
        let mut draft = [None; 3];
        draft[unit] = Some((1, most, 1, 1));
        assert!(check_bands_draft(&draft).unwrap().is_some());
    }
    assert_eq!(check_bands_draft(&[None; 3]), Ok(None));
    let problems = check_bands_draft(&[Some((0, 0, 0, 0)); 3]).unwrap_err();
    assert_eq!(problems.len(), 3);
}

#[test]
fn every_bad_field_is_named_at_once() {
    let problems = check(|d| {
        d.display_name = String::new();
        d.birth_date = Some((2026, 2, 30));
        d.body_mass_kg = Some(f64::NAN);
        d.goals = vec![("nowhere".to_owned(), Some((2026, 2, 30)))];
        d.equipment = vec!["sled".to_owned()];
        d.available_weekdays = vec![9];
        d.max_pain = Some(0);
        d.max_sets_per_session = Some(0);
        d.max_minutes = Some(0);
        d.bans = vec![("nowhere".to_owned(), String::new())];
        d.clearances = vec![ConfirmationDraft {
            clearance: Choice::Missing,
            confirmed_date: None,
            confirmed_by: String::new(),
        }];
        d.bands = [Some((0, 0, 0, 0)), None, Some((2, 1, 1, 1))];
    })
    .unwrap_err();
    let mut fields: Vec<&str> = problems.iter().map(|p| p.field.as_str()).collect();
    fields.sort_unstable();
    assert_eq!(
        fields,
        [
            "available_weekdays[0]",
            "bands.lowering_seconds",
            "bands.reps",
            "birth_date",
            "body_mass_kg",
            "clearances[0].clearance",
            "clearances[0].confirmed_by",
            "clearances[0].confirmed_date",
            "display_name",
            "equipment[0]",
            "goals[0].by_date",
            "goals[0].rung",
            "limits.banned_rungs[0].reason",
            "limits.banned_rungs[0].rung",
            "limits.max_minutes",
            "limits.max_pain",
            "limits.max_sets_per_session",
        ]
    );
}
