//! The demo: what a newcomer sees first, and that the commands it shows work.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use crate::program::run;

#[test]
fn three_days_are_shown_with_reasons_a_hold_back_and_cautions() {
    let shown = run(&["demo"]);
    let page = shown.page();
    for part in [
        "12 athletes",
        "Wren, Monday 23 November 2026",
        "Why this working rung: ",
        "Redstart, ",
        "Nuthatch, ",
        "Cautions\n",
        "Next",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(page.contains("Pain 5 of 10"), "the held-back athlete says why: {page}");
    assert!(page.contains("not medical advice"));
    // Commands stand on lines of their own, unbroken, however long the path of the program is.
    let mut text = page.lines().filter(|line| !line.contains(env!("CARGO_BIN_EXE_nextrung")));
    assert!(text.all(|line| line.chars().count() <= 100), "lines fit a terminal: {page}");
    assert!(!page.contains('\u{1b}'), "no escapes where there is no terminal");
}

#[test]
fn programs_read_the_same_days() {
    let shown = run(&["demo", "--json"]).json();
    assert_eq!(shown["athletes"], 12);
    assert!(shown["sets"].as_u64().unwrap() > 5000);
    let days = shown["prescriptions"].as_array().unwrap();
    assert_eq!(days.len(), 3);
    assert!(days.iter().all(|day| day["date"]["day"] == 23));
    assert_eq!(shown["explanation"]["prescription"]["name"], days[0]["name"]);
    assert!(!days[2]["holdBacks"].as_array().unwrap().is_empty());
}

/// Ends the service when the test does.
struct Background(Child);

impl Drop for Background {
    fn drop(&mut self) {
        drop(self.0.kill());
        drop(self.0.wait());
    }
}

#[test]
fn the_commands_it_shows_work_as_they_stand() {
    let folder = tempfile::tempdir().unwrap();
    let kept = folder.path().join("a try");
    let shown = run(&["demo", "--keep", kept.to_str().unwrap()]);
    let commands: Vec<&str> = shown.page().lines().filter_map(|line| line.strip_prefix("  ")).collect();
    let commands: Vec<&str> =
        commands.into_iter().filter(|line| line.starts_with(env!("CARGO_BIN_EXE_nextrung"))).collect();
    let (serve, clients) = commands.split_first().unwrap();
    assert!(serve.contains(" serve --database "), "{serve}");
    assert!(clients.len() >= 5, "{commands:?}");

    let serve = format!("exec {serve} --listen 127.0.0.1:0");
    let mut service =
        Background(Command::new("sh").args(["-c", &serve]).stdout(Stdio::piped()).spawn().unwrap());
    // Kept open: the service may say more.
    let mut said = BufReader::new(service.0.stdout.take().unwrap());
    let mut first = String::new();
    said.read_line(&mut first).unwrap();
    let url = format!("http://{}", first.trim_end().strip_prefix("listening on ").unwrap());
    for client in clients {
        let command = Command::new("sh")
            .args(["-c", client])
            .current_dir(&folder)
            .env("NEXTRUNG_SERVER", &url)
            .output();
        let ended = command.unwrap();
        assert!(ended.status.success(), "{client}: {}", String::from_utf8_lossy(&ended.stderr));
    }
}

#[test]
fn a_folder_that_has_a_demo_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().to_str().unwrap();
    run(&["demo", "--keep", path]).page();
    let again = run(&["demo", "--keep", path]);
    assert_eq!(again.code, 2);
    assert!(again.said().contains(" serve --database "), "{}", again.stderr);
}
