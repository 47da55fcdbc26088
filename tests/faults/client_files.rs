//! Client files: what is written for people is on the disk before it has its name.

use std::path::Path;
use std::process::Command;

use rust_xlsxwriter::Workbook;

use crate::disk::Disk;
use crate::served::{Fleet, Launch};
use crate::trace::{Step, read};

const MAP: &str = "[defaults]\npurpose = \"working\"\nstop = \"other\"\n\n[columns]\ndate = \"Date\"\nathlete = \"Who\"\n\
                   exercise = \"What\"\nreps = \"Reps\"\n";
const CELLS: [[&str; 4]; 2] = [["Date", "Who", "What", "Reps"], ["2026-03-09", "wren", "pull/pull-up", "5"]];

fn workbook() -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    for (row, cells) in (0..).zip(CELLS) {
        sheet.write_row(row, 0, cells).expect("a row");
    }
    book.save_to_buffer().expect("bytes")
}

/// What the program does to the files of a folder.
fn steps(arguments: &[&str], folder: &Path) -> Vec<Step> {
    let trace = folder.with_extension("trace");
    let mut launch = Launch::on("", folder.with_extension("log"));
    let _disk = Disk::under(&mut launch, folder, Some(&trace));
    let mut command = Command::new(env!("CARGO_BIN_EXE_nextrung"));
    let ended = command.args(arguments).envs(launch.variables).output().expect("the program");
    assert!(ended.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&ended.stderr));
    let steps = read(&trace);
    std::fs::remove_file(trace).expect("the trace");
    steps
}

/// True when a file that is written to is synced after its last write, and the folder after that where it must be.
fn is_on_the_disk(steps: &[Step], with_its_name: bool) -> bool {
    let last = |is_it: &dyn Fn(&Step) -> bool| steps.iter().rposition(is_it);
    let written = last(&|step| matches!(step, Step::Write { .. })).expect("something is written");
    let synced = last(&|step| matches!(step, Step::Sync { .. }));
    let named = last(&|step| matches!(step, Step::SyncFolder));
    synced > Some(written) && (!with_its_name || named > synced)
}

#[test]
fn files_for_people_are_synced_before_they_have_their_names() {
    let home = tempfile::tempdir().expect("a folder");
    let folder = home.path().join("folder");
    std::fs::create_dir(&folder).expect("a folder");
    let database = home.path().join("hall.db").display().to_string();
    let fleet = Fleet::start(vec![Launch::on(database, home.path().join("log"))]);
    let server = format!("http://{}", fleet.address(0).expect("it runs"));
    let at = |name: &str| folder.join(name).display().to_string();
    let run = |arguments: &[&str]| steps(&[arguments, &["--server", &server]].concat(), &folder);
    run(&["roster", "add", "hall", "--title", "The hall"]);
    run(&["athlete", "add", "hall/wren", "--name", "Wren"]);
    std::fs::write(folder.join("log.xlsx"), workbook()).expect("a workbook");
    std::fs::write(home.path().join("map.toml"), MAP).expect("a mapping");

    let (log, out, map) = (at("log.xlsx"), at("out.toml"), home.path().join("map.toml"));
    let mapped = run(&["sheet", "map", &log, "--roster", "hall", "-o", &out]);
    assert!(is_on_the_disk(&mapped, false), "{mapped:?}");
    let map = map.display().to_string();
    let kept = run(&[
        "workbook",
        "keep",
        &folder.display().to_string(),
        "--roster",
        "hall",
        "--map",
        &map,
        "--once",
        "--date",
        "2026-03-11",
    ]);
    assert!(is_on_the_disk(&kept, true), "{kept:?}");
}
