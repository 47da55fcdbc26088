//! Settings of the service: where they come from, what is told about them, and that nothing starts on bad ones.

use std::process::Output;

use crate::program::{program, run};

fn served(arguments: &[&str], variables: &[(&str, &str)]) -> Output {
    program(&[&["serve"], arguments].concat()).envs(variables.iter().copied()).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn what_is_in_force_is_shown_with_where_it_comes_from_and_secrets_are_not() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("n.toml");
    std::fs::write(&file, "limits.calls = 7\ntrace.authorization = \"open sesame\"\nlimits.replays = 1\n")
        .unwrap();
    let file = file.to_str().unwrap();
    let variables = [("NEXTRUNG_LIMITS_REPLAYS", "3"), ("NEXTRUNG_CONFIG", file)];
    let shown = served(&["--show-config", "--drain-limit", "5s"], &variables);
    assert!(shown.status.success(), "{}", text(&shown.stderr));
    let page = text(&shown.stdout);
    for part in [
        "listen = \"127.0.0.1:7878\" # default",
        &format!("limits.calls = 7 # {file} line 1"),
        "limits.replays = 3 # NEXTRUNG_LIMITS_REPLAYS",
        "drain.limit = \"5s\" # --drain-limit",
        &format!("# trace.authorization is set and not shown # {file} line 2"),
    ] {
        assert!(page.contains(part), "{part}\n{page}");
    }
    let json = served(&["--show-config", "--json"], &variables);
    let entries: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    let of = |key: &str| entries.as_array().unwrap().iter().find(|entry| entry["key"] == key).unwrap();
    assert_eq!(
        (&of("limits.replays")["value"], &of("limits.replays")["origin"]),
        (&"3".into(), &"NEXTRUNG_LIMITS_REPLAYS".into())
    );
    assert!(!page.contains("sesame") && !text(&json.stdout).contains("sesame"));
}

#[test]
fn nothing_starts_on_bad_settings_and_all_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("never.db");
    let database = database.to_str().unwrap();
    let variables = [("NEXTRUNG_LIMITS_CALLS", "lots"), ("NEXTRUNG_LIMIT_STREAMS", "1")];
    let refused = served(&["--drain-limit", "30", "--database", database], &variables);
    assert_eq!(refused.status.code(), Some(2));
    let said = text(&refused.stderr);
    for part in [
        "the settings have 3 problems",
        "NEXTRUNG_LIMITS_CALLS: found `lots`; expected a whole number from 1 to 1000000",
        "--drain-limit: found `30`; expected a time with its unit",
        "NEXTRUNG_LIMIT_STREAMS: found a variable nobody knows",
        "did you mean `NEXTRUNG_LIMITS_STREAMS`?",
        "Keys are listen, trusted-network, database,",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    assert!(!std::path::Path::new(database).exists());
    let unknown = run(&["serve", "--drain-limits", "3s"]);
    assert!(unknown.code == 2 && unknown.said().contains("--drain-limit"), "{}", unknown.stderr);
}

#[test]
fn shipped_files_are_sound() {
    let deploy = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../deploy");
    let shipped = deploy.join("systemd/nextrung.toml");
    let shown = served(&["--show-config", "--config", shipped.to_str().unwrap()], &[]);
    assert!(shown.status.success(), "{}", text(&shown.stderr));
    assert!(text(&shown.stdout).contains("drain.limit = \"30s\" #"), "{}", text(&shown.stdout));
}
