//! Kept loops: what comes while the keeper is at work on a workbook, and between two looks. A mapping that is a pipe holds the
//! keeper up where the workbook is read and nothing is sent yet.

use std::fs::{self, File};
use std::io::Write;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::hall::{line, sets};
use crate::kept::{Kept, MAP, ROWS, Row, book, litter};
use crate::program::{Ended, program};

const LATER: Row<'static> = ("2026-11-21", "wren", "pull/pull-up", "3");

fn begun(kept: &Kept, more: &[&str]) -> Child {
    kept.command(more).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

fn ended(process: Child) -> Ended {
    Ended::of(&process.wait_with_output().unwrap())
}

fn signal(process: &Child, sign: &str) {
    let pid = process.id().to_string();
    assert!(Command::new("kill").args([sign, &pid]).status().unwrap().success());
}

fn wait(what: &str, is_there: impl Fn() -> bool) {
    let end = Instant::now() + Duration::from_secs(30);
    while !is_there() {
        assert!(Instant::now() < end, "{what} in time");
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// The mapping of `log.xlsx`, a pipe.
fn pipe(kept: &Kept) -> PathBuf {
    let path = kept.folder().join("log.toml");
    assert!(Command::new("mkfifo").arg(&path).status().unwrap().success());
    path
}

/// Does something once the keeper has read `log.xlsx`; then it may go on.
fn meanwhile(kept: &Kept, work: impl FnOnce()) {
    // Waits until the other end is opened.
    let mut end = File::options().write(true).open(kept.folder().join("log.toml")).unwrap();
    work();
    end.write_all(MAP.as_bytes()).unwrap();
}

#[test]
fn what_is_saved_during_a_look_goes_in_at_the_next() {
    let kept = Kept::begin(&[("log.xlsx", book(&ROWS))]);
    kept.once().page();
    pipe(&kept);
    let process = begun(&kept, &["--every", "1"]);
    meanwhile(&kept, || {
        kept.put("log.xlsx", book(&[&ROWS[..], &[LATER]].concat()));
        // Later looks find a plain mapping.
        kept.put("plain", MAP);
        fs::rename(kept.folder().join("plain"), kept.folder().join("log.toml")).unwrap();
    });
    wait("the row", || sets(&kept.served, "hall/wren").len() == 4);
    signal(&process, "-INT");
    let said = ended(process);
    let expected =
        "log.xlsx: 3 sets, none new; next session as before\nlog.xlsx: 4 sets, 1 new; next session written\n";
    assert!(said.page().starts_with(expected), "{}", said.stdout);
}

#[test]
fn a_workbook_that_is_changed_or_opened_during_a_look_is_not_written_to() {
    let before = book(&ROWS);
    for (name, content) in [("~$log.xlsx", Vec::new()), ("log.xlsx", book(&ROWS[..2]))] {
        let kept = Kept::begin(&[("log.xlsx", before.clone())]);
        pipe(&kept);
        let process = begun(&kept, &["--once"]);
        meanwhile(&kept, || kept.put(name, &content));
        let looked = ended(process);
        assert_eq!(looked.code, 2);
        assert!(looked.said().contains("it was changed while it was worked on"), "{}", looked.stderr);
        let theirs = if name == "log.xlsx" { &content } else { &before };
        assert!(kept.bytes("log.xlsx") == *theirs, "{name}");
        assert_eq!(litter(&kept.folder()), Vec::<String>::new());
    }
}

#[test]
fn interrupted_at_a_workbook_it_is_done_with_that_one_and_with_no_other() {
    for sign in ["-INT", "-TERM"] {
        let other = book(&ROWS[..1]);
        let kept = Kept::begin(&[("log.xlsx", book(&ROWS)), ("other.xlsx", other.clone())]);
        pipe(&kept);
        let process = begun(&kept, &["--every", "86400"]);
        meanwhile(&kept, || signal(&process, sign));
        let said = ended(process);
        assert_eq!(said.page(), "log.xlsx: 3 sets, 3 new; next session written\n", "{sign}");
        assert!(kept.bytes("other.xlsx") == other);
    }
}

#[test]
fn a_service_that_does_not_answer_holds_nobody_up_who_interrupts() {
    let mute = TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!("http://{}", mute.local_addr().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let keep = ["workbook", "keep", folder.path().to_str().unwrap(), "--roster", "hall", "--server", &url];
    for sign in ["-INT", "-TERM"] {
        let process = program(&keep).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        wait("the lock of the folder", || folder.path().join(".nextrung-keep.lock").exists());
        std::thread::sleep(Duration::from_millis(500));
        let begun = Instant::now();
        signal(&process, sign);
        assert_eq!(ended(process).page(), "", "{sign}");
        assert!(begun.elapsed() < Duration::from_secs(30), "an answer is waited for a minute");
        fs::remove_file(folder.path().join(".nextrung-keep.lock")).unwrap();
    }
}

#[test]
fn while_nothing_changes_nothing_is_asked_about_an_athlete() {
    let kept = Kept::begin(&[("log.xlsx", book(&ROWS))]);
    let keeper = begun(&kept, &["--every", "1"]);
    wait("the rows", || sets(&kept.served, "hall/wren").len() == 3);
    let prescribed = || {
        let told = kept.served.run(&["athlete", "accesses", "hall/wren", "--most", "1000", "--json"]).json();
        let rows = told["accesses"].as_array().cloned().unwrap_or_default();
        let of = |row: &&serde_json::Value| row["method"].as_str().unwrap().ends_with("/Prescribe");
        rows.iter().filter(of).count()
    };
    wait("the record of accesses", || prescribed() > 0);
    // The first look records, the second finds that this changed the log.
    wait("looks that ask nothing", || {
        let asked = prescribed();
        std::thread::sleep(Duration::from_secs(4));
        prescribed() == asked
    });
    let before = kept.bytes("log.xlsx");
    let ban = "pull/pull-up=the elbow";
    kept.served.run(&["athlete", "edit", "hall/wren", "--ban", ban]).page();
    wait("another session", || kept.bytes("log.xlsx") != before);
    // What is read-only waits for its next session, and a file that may be written to again has the same bytes.
    let may_be_written = |is: bool| {
        let path = kept.folder().join("log.xlsx");
        let mut permissions = fs::metadata(&path).unwrap().permissions();
        std::os::unix::fs::PermissionsExt::set_mode(&mut permissions, if is { 0o644 } else { 0o444 });
        fs::set_permissions(path, permissions).unwrap();
    };
    may_be_written(false);
    let before = kept.bytes("log.xlsx");
    kept.served.run(&["athlete", "edit", "hall/wren", "--unban", "pull/pull-up"]).page();
    let asked = prescribed();
    wait("a look at what is read-only", || prescribed() > asked + 2);
    assert!(kept.bytes("log.xlsx") == before);
    may_be_written(true);
    wait("the session before", || kept.bytes("log.xlsx") != before);
    signal(&keeper, "-INT");
    let expected = "log.xlsx: 3 sets, 3 new; next session written\nlog.xlsx: 3 sets, none new; next session as before\n\
                    log.xlsx: 3 sets, none new; next session written\n";
    assert!(ended(keeper).page().starts_with(expected));
}

#[test]
fn looks_that_find_nothing_else_tell_nothing_and_a_lost_service_ends_no_loop() {
    let mut kept = Kept::begin(&[("log.xlsx", book(&ROWS))]);
    let errors = kept.served.folder.path().join("errors.txt");
    let told = kept.served.folder.path().join("told.txt");
    let mut keeper = kept.command(&["--every", "1"]);
    let file = |path: &Path| Stdio::from(File::create(path).unwrap());
    let process = keeper.stdout(file(&told)).stderr(file(&errors)).spawn().unwrap();
    wait("the second look", || fs::read_to_string(&told).unwrap().contains("as before"));
    // Several looks.
    std::thread::sleep(Duration::from_millis(3500));
    kept.served.stop_at_once();
    wait("the loss told", || line(&fs::read_to_string(&errors).unwrap()).contains("Try again in a moment"));
    signal(&process, "-INT");
    let expected =
        "log.xlsx: 3 sets, 3 new; next session written\nlog.xlsx: 3 sets, none new; next session as before\n";
    ended(process).page();
    assert_eq!(fs::read_to_string(&told).unwrap(), expected);
}
