//! Corpus: awkward sheets, each with what it must come to.
//!
//! Beside a sheet stands a TOML: `named` names columns (`field=header`, one a line), `say` is laid over the guessed mapping as
//! a coach would do it, `mapping` replaces it, and `outcome` is all that comes of it, line by line: questions of the guess,
//! sets, findings, the summary.

#![expect(clippy::expect_used, clippy::panic, reason = "a corpus that cannot be read must fail")]

use std::fs;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::measure::Unit;
use nextrung_sheet::grid::{Grid, Refusal};
use nextrung_sheet::mapping::{Field, KnownRung, Mapping, NamedColumn};
use nextrung_sheet::stage::Import;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus")
}

fn rungs() -> Vec<KnownRung> {
    let rung = |(name, unit): (&str, Unit)| KnownRung::new(name, unit);
    [
        ("pull/chin-over-hold", Unit::HoldSeconds),
        ("pull/pull-up", Unit::Reps),
        ("pull/pull-up-lowering", Unit::LoweringSeconds),
        ("push-up/push-up", Unit::Reps),
        ("row/low-row", Unit::Reps),
    ]
    .map(rung)
    .to_vec()
}

/// A case: its file, and what is said about it.
struct Case {
    file: String,
    named: Vec<NamedColumn>,
    say: Option<Mapping>,
    /// The text of `say`.
    said: String,
    mapping: Option<Mapping>,
    outcome: String,
}

fn read_case(path: &Path) -> Case {
    let text = fs::read_to_string(path).expect("a case");
    let table: toml::Table = toml::from_str(&text).expect("TOML");
    let known = ["file", "named", "say", "mapping", "outcome"];
    assert!(table.keys().all(|key| known.contains(&key.as_str())), "{}: an unknown key", path.display());
    let given = |key: &str| table.get(key).map(|value| value.as_str().expect("a text").to_owned());
    let mapping =
        |text: String| Mapping::read(&text).unwrap_or_else(|p| panic!("{}: {p:#?}", path.display()));
    Case {
        file: given("file").expect("the name of the sheet"),
        named: given("named").unwrap_or_default().lines().map(named).collect(),
        say: given("say").map(mapping),
        said: given("say").unwrap_or_default(),
        mapping: given("mapping").map(mapping),
        outcome: given("outcome").expect("an outcome"),
    }
}

fn named(line: &str) -> NamedColumn {
    let (field, text) = line.split_once('=').expect("field=header");
    (Field::from_name(field).expect("a field"), text.to_owned())
}

/// A guess with what a coach says laid over it.
fn overlaid(guess: Mapping, said: Mapping, text: &str) -> Mapping {
    let is_said = |open: &String| {
        text.lines().any(|line| line.starts_with(&format!("{open} =")) || line == format!("# {open}"))
    };
    let given = Mapping::default();
    let mut mapping = Mapping {
        day_order: said.day_order.or(guess.day_order),
        athlete: said.athlete,
        session: said.session,
        purpose: said.purpose,
        stop: said.stop,
        stop_at_target: said.stop_at_target,
        sheet: said.sheet.or(guess.sheet),
        encoding: said.encoding,
        hidden_rows: said.hidden_rows,
        undone: said.undone,
        mass_unit: if said.mass_unit == given.mass_unit { guess.mass_unit } else { said.mass_unit },
        rest_unit: if said.rest_unit == given.rest_unit { guess.rest_unit } else { said.rest_unit },
        unsaid: guess.unsaid.into_iter().filter(|open| !is_said(open)).collect(),
        fill_down: if said.fill_down.is_empty() { guess.fill_down } else { said.fill_down },
        layout: if said.layout == given.layout { guess.layout } else { said.layout },
        has_decimal_comma: guess.has_decimal_comma || said.has_decimal_comma,
        columns: guess.columns,
        exercises: guess.exercises,
        athletes: said.athletes,
    };
    mapping.columns.extend(said.columns);
    mapping.exercises.extend(said.exercises);
    mapping
}

/// A set in one line.
fn line(row: u32, athlete: &str, set: &SetDraft) -> String {
    let (y, m, d) = set.training_date.expect("a day");
    let (unit, done) = set.done.expect("units done");
    let (Choice::Known(purpose), Choice::Known(stop)) = (&set.purpose, &set.stop) else {
        panic!("purpose and stop are known in {set:?}")
    };
    let mut line = format!(
        "{row} {athlete} {y}-{m:02}-{d:02} {}.{} {} {done} {} {} {}",
        set.session,
        set.set_number,
        set.rung,
        unit.short(),
        purpose.word(),
        stop.word()
    );
    assert_eq!(
        set.client_set_id,
        format!("{}:{y}-{m:02}-{d:02}:{}:{}", plain(athlete), set.session, set.set_number)
    );
    let mut add = |name: &str, value: Option<String>| {
        line.extend(value.map(|value| format!(" {name}={value}")));
    };
    add("target", set.planned_target.map(|v| v.to_string()));
    add("reserve", set.reps_in_reserve.map(|v| v.to_string()));
    add("rest", set.rest_seconds.map(|v| v.to_string()));
    add("load", set.load_kg.map(|v| v.to_string()));
    add("mass", set.body_mass_kg.map(|v| v.to_string()));
    add("pain", set.pain.map(|v| v.to_string()));
    add("tempo", (!set.tempo.is_empty()).then(|| set.tempo.clone()));
    add("note", (!set.note.is_empty()).then(|| format!("{:?}", set.note)));
    line
}

fn plain(athlete: &str) -> String {
    athlete.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect()
}

/// All that comes of a case.
fn outcome(case: &Case) -> Vec<String> {
    let bytes = fs::read(folder().join(&case.file)).expect("the sheet");
    let mut lines = Vec::new();
    if let Err(refusal) = import(case, &bytes, &mut lines) {
        lines.push(format!("refused {refusal}"));
    }
    lines
}

fn import(case: &Case, bytes: &[u8], lines: &mut Vec<String>) -> Result<(), Refusal> {
    let rungs = rungs();
    let told = case.mapping.clone().or(case.say.clone()).unwrap_or_default();
    let grid = Grid::open(&case.file, bytes, told.encoding)?;
    let mapping = match &case.mapping {
        Some(mapping) => mapping.clone(),
        None => {
            let guess = Mapping::guess_with(&grid, told.sheet.as_deref(), &rungs, &case.named)?;
            lines.extend(guess.remarks.iter().skip(1).map(|remark| format!("remark {remark}")));
            lines.extend(guess.questions.iter().map(|question| format!("question {question}")));
            let written = Mapping::read(&guess.write()).expect("a guess reads back, its comments too");
            assert_eq!(written, guess.mapping);
            overlaid(guess.mapping, told, &case.said)
        }
    };
    let import = Import::new(&grid, &mapping, &rungs)?;
    let staged = import.rehearse()?;
    let mut sets = Vec::new();
    let mut aside = Vec::new();
    let mut take = |set: nextrung_sheet::stage::Delivered<'_>| {
        sets.push(line(set.spot.row(), set.athlete, &set.draft));
        ControlFlow::Continue(())
    };
    import.deliver(&staged, Some(&mut aside), &mut take).expect("a vector takes every byte");
    lines.extend(sets.iter().map(|set| format!("set {set}")));
    lines.extend(staged.findings.iter().map(|finding| format!("finding {finding}")));
    lines.extend(staged.summary.to_string().lines().map(|line| format!("summary {line}")));
    let aside = String::from_utf8(aside).expect("text");
    lines.extend(aside.lines().skip(1).map(|line| format!("aside {line}")));
    assert_eq!(staged.is_sound(), aside.is_empty());
    // All or nothing, and the same each time.
    let mut again = Vec::new();
    let mut take = |set: nextrung_sheet::stage::Delivered<'_>| {
        again.push(line(set.spot.row(), set.athlete, &set.draft));
        ControlFlow::Continue(())
    };
    let all = import.deliver(&staged, None, &mut take);
    assert_eq!(all.is_ok(), staged.is_sound(), "bad rows are never passed over in silence");
    assert_eq!(again, if staged.is_sound() { sets } else { Vec::new() });
    Ok(())
}

#[test]
fn every_sheet_comes_to_what_is_expected_of_it() {
    let entries = fs::read_dir(folder()).expect("the corpus").map(|entry| entry.expect("an entry").path());
    let (mut cases, mut sheets) = (Vec::new(), Vec::new());
    for path in entries {
        match path.extension().and_then(|e| e.to_str()) {
            Some("toml") => cases.push(path),
            Some("csv" | "xlsx" | "ods") => {
                sheets.push(path.file_name().unwrap().to_str().unwrap().to_owned());
            }
            _ => {}
        }
    }
    cases.sort();
    assert!(
        sheets.len() >= 40 && cases.len() >= sheets.len(),
        "{} sheets, {} cases",
        sheets.len(),
        cases.len()
    );
    let mut wrong = Vec::new();
    for path in &cases {
        let case = read_case(path);
        sheets.retain(|sheet| *sheet != case.file);
        let found = outcome(&case);
        let expected: Vec<&str> = case.outcome.trim().lines().collect();
        if found != expected {
            wrong.push(format!("== {}\n{}", path.display(), found.join("\n")));
        }
    }
    assert!(sheets.is_empty(), "sheets that nothing is expected of: {sheets:?}");
    assert!(
        wrong.is_empty(),
        "{} of {} cases came to something else:\n{}",
        wrong.len(),
        cases.len(),
        wrong.join("\n")
    );
}
