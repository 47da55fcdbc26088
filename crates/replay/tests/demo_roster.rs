//! The demo roster: the kept files are those the generator writes, every row is a sound set, and the stories are there.

#![expect(clippy::expect_used, clippy::panic, reason = "a test that cannot read its data must fail")]

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::params::Parameters;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::catalog::Catalog;
use nextrung_domain::date::CivilDate;
use nextrung_domain::draft::{Choice, Setting};
use nextrung_domain::profile::{Clearance, Profile};
use nextrung_domain::profile_draft::{ConfirmationDraft, ProfileDraft};
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};
use nextrung_prescribe::history::History;
use nextrung_prescribe::hold_back::HoldBackKind;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::prescription::{Block, Kind, Prescription};
use nextrung_prescribe::session::prescribe;
use nextrung_prescribe::situation::Situation;
use nextrung_replay::hall::{self, profile_file, row};
use nextrung_replay::ladders;

fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../data")
}

fn catalog() -> Catalog {
    ladders::read(&data()).unwrap_or_else(|e| panic!("{e}"))
}

fn kept(name: &str) -> String {
    std::fs::read_to_string(data().join("demo").join(name)).expect("the kept file")
}

#[test]
fn the_kept_files_are_those_the_generator_writes() {
    let rows = hall::logs(&catalog(), hall::SEED).expect("logs");
    let how = "differs; if the generator or the ladders changed on purpose: \
               cargo run --release -p nextrung-replay --bin demo-roster -- data/demo";
    assert!(row::csv(&rows).expect("csv") == kept("sets.csv"), "sets.csv {how}");
    assert!(profile_file::toml() == kept("athletes.toml"), "athletes.toml {how}");
    let other = hall::logs(&catalog(), hall::SEED + 1).expect("logs");
    assert_ne!(rows, other, "the seed matters");
}

type Parts = (i64, i64, i64);

fn parts(text: &str) -> Parts {
    let mut numbers = text.split('-').map(|n| n.parse().expect("a number"));
    let mut next = || numbers.next().expect("a part of a date");
    (next(), next(), next())
}

const WEEKDAYS: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

fn texts(table: &toml::Table, key: &str) -> Vec<String> {
    let list = table.get(key).and_then(toml::Value::as_array).expect("a list");
    list.iter().map(|v| v.as_str().expect("a text").to_owned()).collect()
}

fn clearance(table: &toml::Value) -> ConfirmationDraft {
    let field = |key: &str| table.get(key).and_then(toml::Value::as_str).expect("a text").to_owned();
    ConfirmationDraft {
        clearance: Clearance::from_word(&field("clearance"))
            .map_or(Choice::Unknown(field("clearance")), Choice::Known),
        confirmed_date: Some(parts(&field("confirmed_date"))),
        confirmed_by: field("confirmed_by"),
    }
}

fn draft(athlete: &toml::Table) -> ProfileDraft {
    let text = |key: &str| athlete.get(key).and_then(toml::Value::as_str).expect("a text").to_owned();
    let limits = athlete.get("limits").and_then(toml::Value::as_table);
    let limit = |key: &str| limits.and_then(|l| l.get(key)).and_then(toml::Value::as_integer);
    let bans = limits.and_then(|l| l.get("banned_rungs")).and_then(toml::Value::as_array);
    let ban = |b: &toml::Value| {
        let field = |key: &str| b.get(key).and_then(toml::Value::as_str).expect("a text").to_owned();
        (field("rung"), field("reason"))
    };
    let clearances = athlete.get("clearance").and_then(toml::Value::as_array);
    let weekday = |word: &String| WEEKDAYS.iter().position(|w| w == word).expect("a weekday");
    ProfileDraft {
        display_name: text("display_name"),
        birth_date: Some(parts(&text("birth_date"))),
        body_mass_kg: athlete.get("body_mass_kg").and_then(toml::Value::as_float),
        goals: texts(athlete, "goals").into_iter().map(|g| (g, None)).collect(),
        equipment: texts(athlete, "equipment"),
        available_weekdays: texts(athlete, "available_weekdays")
            .iter()
            .map(|w| u8::try_from(weekday(w)).expect("small"))
            .collect(),
        max_pain: limit("max_pain"),
        max_sets_per_session: limit("max_sets_per_session"),
        max_minutes: limit("max_minutes"),
        bans: bans.map(|list| list.iter().map(ban).collect()).unwrap_or_default(),
        clearances: clearances.map(|list| list.iter().map(clearance).collect()).unwrap_or_default(),
        bands: [None; 3],
        ..ProfileDraft::default()
    }
}

/// The day after the last of the logs, a Monday.
fn tomorrow() -> CivilDate {
    CivilDate::parse("2026-11-23").expect("a date")
}

fn profiles(catalog: &Catalog) -> BTreeMap<String, Profile> {
    let file: toml::Table = toml::from_str(&kept("athletes.toml")).expect("toml");
    let list = file["athlete"].as_array().expect("athletes");
    let read = |value: &toml::Value| {
        let table = value.as_table().expect("a table");
        let id = table["id"].as_str().expect("an id").to_owned();
        let profile = draft(table).check(catalog, tomorrow().plus_days(-1));
        (id.clone(), profile.unwrap_or_else(|problems| panic!("{id}: {problems:?}")))
    };
    list.iter().map(read).collect()
}

/// Every set of the kept log by athlete, in the order of the file, each through the one check.
fn logs(catalog: &Catalog, profiles: &BTreeMap<String, Profile>) -> BTreeMap<String, Vec<SetEntry>> {
    let text = kept("sets.csv");
    let mut logs: BTreeMap<String, Vec<SetEntry>> = BTreeMap::new();
    for row in nextrung_sheet::read_sets(text.as_bytes()).expect("a sheet") {
        let setting = Setting { catalog, profile: &profiles[&row.athlete], today: tomorrow().plus_days(-1) };
        let entry = row.draft.check(&setting);
        let entry = entry.unwrap_or_else(|problems| panic!("{:?}: {problems:?}", row.draft));
        logs.entry(row.athlete).or_default().push(entry);
    }
    logs
}

struct Scene {
    catalog: Catalog,
    profiles: BTreeMap<String, Profile>,
    logs: BTreeMap<String, Vec<SetEntry>>,
}

fn scene() -> Scene {
    let catalog = catalog();
    let profiles = profiles(&catalog);
    let logs = logs(&catalog, &profiles);
    Scene { catalog, profiles, logs }
}

#[test]
fn every_row_is_a_sound_set_in_training_order() {
    let scene = scene();
    assert_eq!(scene.profiles.len(), 12);
    assert_eq!(scene.logs.len(), 12, "everybody has a log");
    let (first, last) = (CivilDate::parse("2026-05-25").unwrap(), CivilDate::parse("2026-11-22").unwrap());
    for (id, sets) in &scene.logs {
        assert!(sets.windows(2).all(|w| w[0].place() < w[1].place()), "{id} is in order");
        assert!(sets.iter().all(|s| (first..=last).contains(&s.date)), "{id} keeps to the half year");
        let ids: BTreeSet<_> = sets.iter().map(|s| s.client_set_id.clone()).collect();
        assert_eq!(ids.len(), sets.len(), "{id} has no id twice");
    }
}

#[test]
fn the_logs_are_as_untidy_as_logs_are() {
    let scene = scene();
    let all: Vec<&SetEntry> = scene.logs.values().flatten().collect();
    let share = |hit: &dyn Fn(&SetEntry) -> bool| {
        let hits = all.iter().filter(|s| hit(s)).count();
        f64::from(u32::try_from(hits).unwrap()) / f64::from(u32::try_from(all.len()).unwrap())
    };
    assert!(all.len() > 4000, "{} sets", all.len());
    assert!((0.05..0.3).contains(&share(&|s| s.reserve.is_some())), "reserve is mostly missing");
    assert!((0.3..0.8).contains(&share(&|s| s.rest.is_some())), "rest is often missing");
    assert!((0.02..0.2).contains(&share(&|s| s.stop == Stop::Failed)), "causes unsaid");
    assert!((0.003..0.05).contains(&share(&|s| s.stop == Stop::Interrupted)), "interruptions");
    assert!((0.01..0.2).contains(&share(&|s| s.stop == Stop::Chosen)), "stops by choice");
    assert!((0.01..0.3).contains(&share(&|s| !s.note.is_empty())), "a few words");
    for purpose in Purpose::ALL {
        assert!(share(&|s| s.purpose == purpose) > 0.003, "{}", purpose.word());
    }
}

/// What the service would say for the day after the last log.
fn tomorrow_of(scene: &Scene, id: &str) -> Prescription {
    let model = Model::new(scene.catalog.clone().into(), Parameters::default());
    let policy = Policy::default();
    let mut state = AthleteState::new(&model.parameters);
    let mut scratch = Scratch::default();
    let mut history = History::default();
    for set in &scene.logs[id] {
        let (task, done) = model.read(set).expect("a known rung");
        state.observe(&model, &mut scratch, (&task, &done));
        history.observe(&scene.catalog, set);
    }
    let date = tomorrow();
    let state = state.on(&model.parameters, date.day_number());
    let profile = &scene.profiles[id];
    prescribe(&Situation { model: &model, state: &state, history: &history, profile, policy: &policy, date })
}

fn days_of(sets: &[SetEntry]) -> Vec<CivilDate> {
    let days: BTreeSet<CivilDate> = sets.iter().map(|s| s.date).collect();
    days.into_iter().collect()
}

#[test]
#[expect(clippy::print_stdout, reason = "the headlines are part of what a run reports")]
fn most_train_tomorrow() {
    let scene = scene();
    let mut training = 0;
    for id in scene.logs.keys() {
        let given = tomorrow_of(&scene, id);
        println!("{id}: {:?}: {}", given.kind, given.headline);
        training += usize::from(matches!(given.kind, Kind::Training | Kind::Test));
    }
    assert!(training >= 9, "{training} of 12 train on Monday");
}

#[test]
fn the_one_in_pain_is_held_back() {
    let scene = scene();
    let last = scene.logs["nuthatch"].last().unwrap();
    assert!(tomorrow().days_since(last.date) <= 4 && last.stop == Stop::Pain);
    let given = tomorrow_of(&scene, "nuthatch");
    assert_eq!(given.kind, Kind::HeldBack);
    assert!(given.hold_backs.iter().any(|h| h.kind == HoldBackKind::Pain), "{:?}", given.hold_backs);
}

#[test]
fn the_one_who_has_not_practised_the_exit_is_held_back_from_free_balance() {
    let scene = scene();
    assert!(!scene.profiles["goldcrest"].is_cleared(Clearance::ExitPractised, tomorrow()));
    let given = tomorrow_of(&scene, "goldcrest");
    assert_eq!(given.kind, Kind::Training, "there is other work");
    let held = given.hold_backs.iter().any(|h| h.kind == HoldBackKind::Clearance);
    assert!(held, "{:?}", given.hold_backs);
    let exits = given.items.iter().filter_map(|i| scene.catalog.find(&i.rung));
    for rung in exits.map(|ix| scene.catalog.rung(ix)) {
        assert!(
            rung.gates.iter().all(|g| {
                g.need != nextrung_domain::ladder::GateNeed::Clearance(Clearance::ExitPractised)
            })
        );
    }
}

#[test]
fn the_newcomer_has_two_sessions_and_the_minor_is_sixteen() {
    let scene = scene();
    assert_eq!(days_of(&scene.logs["plover"]).len(), 2);
    let linnet = &scene.profiles["linnet"];
    assert!(linnet.is_minor(tomorrow()));
    assert_eq!(linnet.birth_date.map(|b| tomorrow().years_since(b)), Some(16));
}

#[test]
fn one_was_away_for_five_weeks_and_came_back() {
    let scene = scene();
    let days = days_of(&scene.logs["siskin"]);
    let gap = days.windows(2).map(|w| w[1].days_since(w[0])).max().unwrap();
    assert!((35..=44).contains(&gap), "{gap} days");
    let back = days.iter().filter(|d| tomorrow().days_since(**d) <= 7).count();
    assert!(back >= 2, "{back} sessions since");
}

/// Hardest rung of the pull ladder with at least two clean units in a working set within a span of days.
fn hardest_pull(scene: &Scene, id: &str, days: std::ops::Range<i32>) -> usize {
    let in_span = |s: &&SetEntry| days.contains(&tomorrow().days_since(s.date));
    let pulls = scene.logs[id].iter().filter(in_span).filter(|s| s.rung.ladder.as_str() == "pull");
    let clean = pulls.filter(|s| s.purpose == Purpose::Working && s.done >= 2);
    clean.filter_map(|s| scene.catalog.find(&s.rung)).map(|ix| scene.catalog.position(ix)).max().unwrap_or(0)
}

#[test]
fn one_climbs_to_one_arm_work_and_one_is_stuck() {
    let scene = scene();
    let place = |rung: &str| {
        let name = nextrung_domain::ids::RungRef::parse(rung).unwrap();
        scene.catalog.position(scene.catalog.find(&name).unwrap())
    };
    let (start, end) = (150..200, 0..30);
    assert!(hardest_pull(&scene, "wren", start.clone()) <= place("pull/archer"));
    assert!(hardest_pull(&scene, "wren", end.clone()) >= place("pull/one-arm-lowering"));
    let moved = hardest_pull(&scene, "swift", end).abs_diff(hardest_pull(&scene, "swift", start));
    assert!(moved <= 1, "swift moved {moved} rungs");
}

#[test]
fn items_come_with_targets_within_reason() {
    let scene = scene();
    for id in scene.logs.keys() {
        let given = tomorrow_of(&scene, id);
        for item in given.items.iter().filter(|i| i.block == Block::Working) {
            assert!(item.target_low <= item.target_high && item.sets >= 1, "{id}: {item:?}");
        }
    }
}
