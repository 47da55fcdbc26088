//! Tests of reading settings out of their layers.

use std::ffi::OsString;

use std::time::Duration;

use super::*;
use crate::settings::LogLevel;

fn flags(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs.iter().map(|(key, text)| ((*key).to_owned(), (*text).to_owned())).collect()
}

fn variables(pairs: &[(&str, &str)]) -> Vec<(OsString, OsString)> {
    pairs.iter().map(|(name, text)| (OsString::from(name), OsString::from(text))).collect()
}

fn file(text: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("nextrung.toml");
    std::fs::write(&path, text).unwrap();
    (folder, path)
}

fn told(problems: &[Problem]) -> Vec<String> {
    problems.iter().map(ToString::to_string).collect()
}

fn origin_of(effective: &Effective, key: &str) -> String {
    effective.entries.iter().find(|entry| entry.key == key).unwrap().origin.to_string()
}

#[test]
fn nothing_said_gives_the_usual_settings() {
    let effective = read(&Layers::default()).unwrap();
    let usual =
        Settings { metrics: Some(METRICS.into()), ..Settings::new(LISTEN.into(), Path::new(DATABASE)) };
    assert_eq!(effective.settings, usual);
    assert!(effective.entries.iter().all(|e| e.origin == Origin::Default && e.value == e.default));
    assert_eq!(entries(), effective.entries);
}

#[test]
fn a_flag_counts_before_a_variable_and_that_before_the_file() {
    let (_folder, path) = file("[limits]\ncalls = 7\nstreams = 8\n\nconnections = 9\n");
    let effective = read(
        &Layers::default()
            .with_flags(flags(&[("limits.calls", "1")]))
            .with_variables(variables(&[("NEXTRUNG_LIMITS_CALLS", "2"), ("NEXTRUNG_LIMITS_STREAMS", "3")]))
            .with_file(&path)
            .unwrap(),
    )
    .unwrap();
    let limits = effective.settings.limits;
    assert_eq!((limits.calls, limits.streams, limits.connections), (1, 3, 9));
    assert_eq!(origin_of(&effective, "limits.calls"), "--limits-calls");
    assert_eq!(origin_of(&effective, "limits.streams"), "NEXTRUNG_LIMITS_STREAMS");
    assert_eq!(origin_of(&effective, "limits.connections"), format!("{} line 5", path.display()));
    assert_eq!(origin_of(&effective, "listen"), "default");
}

#[test]
fn every_kind_of_value_is_read_from_every_layer() {
    let (_folder, path) = file(
        "listen = \"127.0.0.1:9\"\ntrusted-network = true\ntoday = 2026-03-14\ndrain.limit = \"1m 5s\"\nlimits.message = \"2MiB\"\nlog.level = \"trace\"\ndata = \"d\"",
    );
    let of_file = read(&Layers::default().with_file(&path).unwrap()).unwrap().settings;
    let texts = [
        ("listen", "127.0.0.1:9"),
        ("trusted-network", "true"),
        ("today", "2026-03-14"),
        ("drain.limit", "65s"),
        ("limits.message", "2048KiB"),
        ("log.level", "trace"),
        ("data", "d"),
    ];
    let of_flags = read(&Layers::default().with_flags(flags(&texts))).unwrap().settings;
    let names = texts.map(|(key, text)| (variable(key), text));
    let pairs: Vec<(&str, &str)> = names.iter().map(|(name, text)| (name.as_str(), *text)).collect();
    let of_variables = read(&Layers::default().with_variables(variables(&pairs))).unwrap().settings;
    assert_eq!(of_file, of_flags);
    assert_eq!(of_file, of_variables);
    assert_eq!((of_file.limits.drain, of_file.limits.message_bytes), (Duration::from_secs(65), 2 << 20));
    assert_eq!((of_file.trusted_network, of_file.log.level), (true, LogLevel::Trace));
    assert_eq!(of_file.ladders, LadderSource::Folder("d".into()));
    assert!(of_file.today.is_some());
}

#[test]
fn every_problem_of_every_layer_is_told_at_once() {
    let (_folder, path) = file("limits.calls = 0\nlimits.message = 4096\nlimitz.calls = 5\nlisten = [1]\n");
    let layers = Layers::default()
        .with_flags(flags(&[("limits.calls", "many"), ("drain.limit", "30")]))
        .with_variables(variables(&[
            ("NEXTRUNG_LOG_LEVLE", "info"),
            ("NEXTRUNG_TODAY", "soon"),
            ("PATH", "x"),
        ]))
        .with_file(&path)
        .unwrap();
    let problems = told(&read(&layers).unwrap_err());
    let at = |n: usize, key: &str| format!("{} line {n}, {key}: found ", path.display());
    let expected = [
        at(4, "listen") + "a list; expected an address",
        "NEXTRUNG_TODAY: found `soon`; expected a day".to_owned(),
        "--limits-calls: found `many`; expected a whole number from 1 to 1000000".to_owned(),
        at(1, "limits.calls") + "`0`; expected a whole number from 1",
        at(2, "limits.message") + "`4096`; expected a size with its unit",
        "--drain-limit: found `30`; expected a time with its unit".to_owned(),
        "NEXTRUNG_LOG_LEVLE: found a variable nobody knows; expected no such variable; did you mean \
         `NEXTRUNG_LOG_LEVEL`?"
            .to_owned(),
        at(3, "limitz.calls") + "a key nobody knows; expected no such key; did you mean `limits.calls`?",
    ];
    assert_eq!(problems.len(), expected.len(), "{problems:#?}");
    for (problem, begin) in problems.iter().zip(&expected) {
        assert!(problem.starts_with(begin.as_str()), "{problem}\n{begin}");
    }
}

#[test]
fn a_file_that_is_none_is_told_with_its_line() {
    let (_folder, path) = file("listen = \"a\"\nlisten = \"b\"\n");
    let problem = Layers::default().with_file(&path).unwrap_err();
    assert!(problem.found.contains("line 2"), "{problem}");
    let missing = path.with_extension("none");
    assert!(Layers::default().with_file(&missing).unwrap_err().field.contains("nextrung.none"));
}

#[test]
fn variables_of_clients_and_of_others_are_passed_over() {
    let pairs = [("NEXTRUNG_SERVER", "x"), ("NEXTRUNG_ROSTER", "x"), ("NEXTRUNG_CONFIG", "x"), ("HOME", "x")];
    assert!(read(&Layers::default().with_variables(variables(&pairs))).is_ok());
}

#[test]
fn a_variable_that_is_no_text_is_told() {
    use std::os::unix::ffi::OsStringExt;
    let bytes = OsString::from_vec(vec![0xff]);
    let layers = Layers::default().with_variables([("NEXTRUNG_LISTEN".into(), bytes)]);
    let problems = told(&read(&layers).unwrap_err());
    assert!(problems[0].starts_with("NEXTRUNG_LISTEN: found bytes that are no UTF-8"), "{problems:?}");
}

#[test]
fn what_is_in_force_reads_the_same_again() {
    let given =
        flags(&[("limits.calls", "5"), ("drain.limit", "90s"), ("data", "a \"b\" \\c"), ("shelf", "none")]);
    let effective = read(&Layers::default().with_flags(given)).unwrap();
    let shown = listing(&effective.entries);
    assert!(shown.contains("limits.calls = 5 ") && shown.contains("# --limits-calls"), "{shown}");
    let (_folder, path) = file(&shown);
    let again = read(&Layers::default().with_file(&path).unwrap()).unwrap();
    assert_eq!(again.settings, effective.settings);
}

#[test]
fn names_of_keys_lead_to_one_flag_and_one_variable_each() {
    let keys: Vec<&str> = entries().iter().map(|entry| entry.key).collect();
    assert!(keys.len() > 15, "{keys:?}");
    let mut names: Vec<String> = keys.iter().map(|key| variable(key)).collect();
    names.extend(keys.iter().map(|key| flag(key)));
    let all = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), all);
}

#[test]
fn the_page_is_the_one_that_is_shipped() {
    let shipped = include_str!("../../../../deploy/SETTINGS.md");
    assert!(page() == shipped, "write it anew: see the end of its first section");
    for entry in entries() {
        assert!(entry.about.ends_with('.') && entry.about.len() > 20, "{}: {}", entry.key, entry.about);
    }
}

#[test]
fn a_secret_is_never_shown() {
    let given =
        flags(&[("trace.authorization", "open sesame"), ("trace.collector", "http://127.0.0.1:4317")]);
    let effective = read(&Layers::default().with_flags(given)).unwrap();
    let secret = effective.settings.trace.authorization.as_ref().unwrap();
    assert_eq!(secret.reveal(), "open sesame");
    let shown = [format!("{effective:?}"), listing(&effective.entries)];
    assert!(shown.iter().all(|text| !text.contains("sesame")), "{shown:?}");
    assert!(shown[1].contains("# trace.authorization is set and not shown"), "{}", shown[1]);
    let bad =
        variables(&[("NEXTRUNG_TRACE_AUTHORIZATION", " "), ("NEXTRUNG_TRACE_COLLECTOR", "http://me:pw@x")]);
    let problems = told(&read(&Layers::default().with_variables(bad)).unwrap_err());
    assert!(problems[1].contains("not shown"), "{problems:?}");
}
