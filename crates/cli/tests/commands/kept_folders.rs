//! Kept folders: rows go in once, the next session comes back, and nothing of the coach's is touched.

use std::collections::BTreeSet;
use std::io::Cursor;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::hall::{of_corpus, sets};
use crate::kept::{ALONE, BLANK, Kept, ROWS, book, litter, stored, text};
use crate::program::Ended;

const OWN: &str = "xl/worksheets/nextrung1.xml";

#[test]
fn rows_go_in_once_and_the_next_session_comes_back() {
    let before = book(&ROWS);
    let kept = Kept::begin(&[("log.xlsx", before.clone())]);
    let first = kept.once();
    assert_eq!(first.page(), "log.xlsx: 3 sets, 3 new; next session written\n");
    let recorded = sets(&kept.served, "hall/wren");
    assert_eq!(recorded.len(), 3);
    assert_eq!(
        (&recorded[0]["clientSetId"], &recorded[0]["note"]),
        (&"wren:2026-11-16:1:1".into(), &"=1+1".into())
    );
    let after = kept.bytes("log.xlsx");
    let (was, is) = (stored(&before), stored(&after));
    let lists = BTreeSet::from(["[Content_Types].xml", "xl/_rels/workbook.xml.rels", "xl/workbook.xml"]);
    for (name, content) in &was {
        assert_eq!(Some(content) == is.get(name), !lists.contains(name.as_str()), "{name}");
    }
    let added: Vec<&String> = is.keys().filter(|name| !was.contains_key(*name)).collect();
    assert_eq!(added, [OWN]);

    // What stands there is what the service kept.
    let made = kept.served.run(&["prescriptions", "list", "hall/wren", "--json"]).json();
    let made = made["prescriptions"].as_array().unwrap().clone();
    assert_eq!(made.len(), 1);
    let sheet = text(&after, OWN);
    let words = |text: &str| text.replace('\'', "").split_whitespace().take(4).collect::<Vec<_>>().join(" ");
    assert!(sheet.contains("Next session of Wren (hall/wren), Tuesday 24 November 2026"), "{sheet}");
    assert!(sheet.contains(&words(made[0]["headline"].as_str().unwrap())), "{sheet}");
    for item in made[0]["items"].as_array().unwrap() {
        let reason = item["reasons"][0]["sentence"].as_str().unwrap();
        assert!(sheet.contains(&words(reason)), "{reason}: {sheet}");
    }
    let id = made[0]["name"].as_str().unwrap().rsplit('/').next().unwrap().to_owned();
    assert!(sheet.contains(&format!("hall/wren/{id}")), "{id}: {sheet}");

    let second = kept.once();
    assert_eq!(second.page(), "log.xlsx: 3 sets, none new; next session as before\n");
    // Our sheet is none of those that an import by hand asks about.
    let file = kept.folder().join("log.xlsx").to_str().unwrap().to_owned();
    let map = kept.served.folder.path().join("map.toml").to_str().unwrap().to_owned();
    let looked = crate::hall::sheet(&kept.served, "map", &file, &[]);
    assert!(looked.page().contains("log.xlsx, sheet `Log`: header in row 1"), "{}", looked.stdout);
    let known = crate::hall::sheet(&kept.served, "import", &file, &["--map", &map]);
    assert!(known.page().ends_with("\n0 new sets recorded, 3 known already.\n"), "{}", known.stdout);
    assert!(kept.bytes("log.xlsx") == after, "a second run writes nothing");
    assert_eq!(sets(&kept.served, "hall/wren"), recorded);
}

#[test]
fn a_later_row_is_recorded_and_its_session_takes_the_place_of_the_last() {
    let kept = Kept::begin(&[("log.xlsx", book(&ROWS))]);
    kept.once().page();
    // The coach goes on with the copy that has our sheet: only the rows differ.
    let rows = [&ROWS[..], &[("2026-11-21", "lark ash", "pull/pull-up", "3")]].concat();
    kept.put("log.xlsx", book(&rows));
    assert_eq!(kept.once().page(), "log.xlsx: 4 sets, 1 new; next session written\n");
    let sheet = text(&kept.bytes("log.xlsx"), OWN);
    let (lark, wren) = (sheet.find("Lark Ash (hall/lark)").unwrap(), sheet.find("Wren (hall/wren)").unwrap());
    assert!(lark < wren, "one under the other by their ids");
    let before = kept.bytes("log.xlsx");
    kept.served
        .run(&[
            "record",
            "hall/wren",
            "--date",
            "2026-11-22",
            "--set",
            "1",
            "--rung",
            "pull/pull-up",
            "--reps",
            "1",
            "--stop",
            "pain",
            "--pain",
            "8",
        ])
        .page();
    assert_eq!(
        kept.once().page(),
        "log.xlsx: 4 sets, none new; next session written\n",
        "from another client"
    );
    let after = kept.bytes("log.xlsx");
    let differing: Vec<String> = stored(&before)
        .into_iter()
        .filter(|(name, content)| stored(&after)[name] != *content)
        .map(|(name, _)| name)
        .collect();
    assert_eq!(differing, [OWN]);
}

#[test]
fn the_name_of_the_file_says_whose_it_is_where_nothing_else_does() {
    let kept =
        Kept::begin(&[("lark.xlsx", book(&[])), ("wren.xlsx", book(&ROWS)), ("nobody.xlsx", book(&ROWS))]);
    for name in ["lark", "wren", "nobody"] {
        kept.put(&format!("{name}.toml"), ALONE);
    }
    let looked = kept.once();
    assert_eq!(looked.code, 2);
    let lines: Vec<&str> = looked.stdout.lines().collect();
    assert_eq!(lines[0], "lark.xlsx: no sets; next session written", "nothing in it yet");
    assert!(lines[1].starts_with("nobody.xlsx: no sets; nobody to write a session for"), "{}", lines[1]);
    assert_eq!(lines[2], "wren.xlsx: 3 sets, 3 new; next session written");
    assert_eq!(sets(&kept.served, "hall/wren").len(), 3);
    assert!(looked.said().contains("nobody"), "{}", looked.stderr);
}

#[test]
fn an_empty_folder_is_told_how_to_begin() {
    let kept = Kept::begin(&[]);
    let looked = kept.once();
    assert_eq!((looked.code, looked.stdout.as_str()), (0, ""));
    for part in ["no workbook in", "name it after the athlete", "wren.xlsx", "--blank"] {
        assert!(looked.said().contains(part), "{part}: {}", looked.stderr);
    }
    assert!(!looked.said().contains("wren.toml"), "--map says how to read: {}", looked.stderr);
    // The empty one that it speaks of, kept as it is and then filled in by the athlete.
    let file = kept.folder().join("wren.xlsx");
    let write = ["workbook", "write", "hall/wren", "--blank", "-o", file.to_str().unwrap()];
    kept.served.run(&write).page();
    kept.put("wren.toml", BLANK);
    let looked = kept.once();
    assert_eq!((looked.code, looked.stdout.as_str()), (0, "wren.xlsx: no sets; next session written\n"));
    assert!(!looked.said().contains("no workbook"), "{}", looked.stderr);
    let strings = text(&kept.bytes("wren.xlsx"), "xl/sharedStrings.xml");
    for head in ["date", "exercise", "sets", "load (kg)", "note"] {
        assert!(strings.contains(&format!(">{head}<")), "{head}: {strings}");
    }
}

#[test]
fn the_mapping_says_whose_it_is_before_the_name_of_the_file_does() {
    let kept = Kept::begin(&[("wren.xlsx", book(&ROWS))]);
    kept.put("wren.toml", format!("athlete = \"lark\"\n{ALONE}"));
    assert_eq!(kept.once().page(), "wren.xlsx: 3 sets, 3 new; next session written\n");
    assert_eq!((sets(&kept.served, "hall/lark").len(), sets(&kept.served, "hall/wren").len()), (3, 0));
}

#[test]
fn what_is_wrong_with_one_workbook_stops_no_other() {
    let bad = [
        &ROWS[..],
        &[("2026-11-19", "Wren", "pull/pull-up", "five"), ("2026-11-19", "Wren", "pull/pull-up", "5")],
    ]
    .concat();
    let kept = Kept::begin(&[
        ("a.xlsx", book(&bad)),
        ("b.xlsx", b"no workbook".to_vec()),
        ("d.xlsx", book(&ROWS[..1])),
    ]);
    let plain = std::fs::read(of_corpus("plain_document.ods")).unwrap();
    kept.put("c.ods", &plain);
    let (ods, map) = (kept.folder().join("c.ods"), kept.folder().join("c.toml"));
    let said = ["--purpose", "working", "--stop", "other", "-o", map.to_str().unwrap()];
    crate::hall::sheet(&kept.served, "map", ods.to_str().unwrap(), &said).page();
    let looked = kept.once();
    assert_eq!(looked.code, 2);
    let lines: Vec<&str> = looked.stdout.lines().collect();
    assert_eq!(lines[0], "a.xlsx: 3 sets, 3 new; next session written; not all of it is right");
    assert!(lines[1].starts_with("b.xlsx: no sets"), "{}", lines[1]);
    assert!(lines[2].contains("nothing is written into ods"), "{}", lines[2]);
    assert_eq!(lines[3], "d.xlsx: 1 set, not new; next session written");
    let said = looked.said();
    for part in
        ["a.xlsx", "D5", "found `five`", "not recorded with them, being of the same sessions: 1 sound set;"]
    {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert_eq!(
        sets(&kept.served, "hall/wren").len(),
        3 + 2,
        "those of c.ods too; the session of the bad row waits"
    );
    assert!(kept.bytes("c.ods") == plain);
    // Mended, the session is recorded as it would have been.
    let mended = [
        &ROWS[..],
        &[("2026-11-19", "Wren", "pull/pull-up", "5"), ("2026-11-19", "Wren", "pull/pull-up", "5")],
    ]
    .concat();
    kept.put("a.xlsx", book(&mended));
    assert!(kept.once().stdout.starts_with("a.xlsx: 5 sets, 2 new; next session written\n"));
    assert_eq!(sets(&kept.served, "hall/wren")[6]["clientSetId"], "wren:2026-11-19:1:2");
}

#[test]
fn a_recorded_row_that_was_changed_is_told_and_the_rest_goes_on() {
    let kept = Kept::begin(&[("log.xlsx", book(&ROWS))]);
    kept.once().page();
    let mut rows = [&ROWS[..], &[("2026-11-21", "wren", "pull/pull-up", "3")]].concat();
    rows[0].3 = "9";
    kept.put("log.xlsx", book(&rows));
    let looked = kept.once();
    assert_eq!(looked.code, 2);
    assert!(looked.said().contains("nextrung sets correct"), "{}", looked.stderr);
    let recorded = sets(&kept.served, "hall/wren");
    assert_eq!((recorded.len(), &recorded[0]["reps"]), (4, &5.into()));
}

#[test]
fn workbooks_that_must_not_be_written_to_are_left_as_they_are() {
    let mut theirs = rust_xlsxwriter::Workbook::new();
    theirs.add_worksheet().set_name("Log").unwrap().write_string(0, 0, "Date").unwrap();
    theirs.add_worksheet().set_name("Next session").unwrap().write_string(0, 0, "mine").unwrap();
    let theirs = theirs.save_to_buffer().unwrap();
    let open = book(&ROWS);
    let kept = Kept::begin(&[("open.xlsx", open.clone()), ("wren.xlsx", theirs.clone())]);
    kept.put(".~lock.open.xlsx#", "");
    kept.put("wren.toml", ALONE);
    let looked = kept.once();
    assert_eq!(looked.code, 2);
    assert!(
        looked
            .stdout
            .contains("open.xlsx: left alone while it is open elsewhere (.~lock.open.xlsx# is there)")
    );
    assert!(looked.said().contains("somebody else's"), "{}", looked.stderr);
    assert!(kept.bytes("wren.xlsx") == theirs);
    assert!(kept.bytes("open.xlsx") == open);
    assert!(sets(&kept.served, "hall/wren").is_empty(), "what may be half saved is not read either");
    let kept_ones = kept.served.run(&["prescriptions", "list", "hall/wren", "--json"]).json();
    assert_eq!(
        kept_ones["prescriptions"].as_array().map_or(0, Vec::len),
        0,
        "nothing kept of what is not written"
    );
    std::fs::remove_file(kept.folder().join(".~lock.open.xlsx#")).unwrap();
    assert!(kept.once().stdout.contains("open.xlsx: 3 sets, 3 new; next session written"));
}

#[test]
fn nothing_is_kept_of_a_session_that_cannot_be_written() {
    let mut signed = zip::ZipWriter::new_append(Cursor::new(book(&ROWS))).unwrap();
    signed.start_file("_xmlsignatures/sig1.xml", zip::write::SimpleFileOptions::default()).unwrap();
    let signed = signed.finish().unwrap().into_inner();
    let kept = Kept::begin(&[("log.xlsx", signed.clone())]);
    let looked = kept.once();
    assert_eq!(looked.code, 2);
    assert!(looked.said().contains("it is signed"), "{}", looked.stderr);
    assert!(kept.bytes("log.xlsx") == signed);
    assert_eq!(sets(&kept.served, "hall/wren").len(), 3, "its rows are read all the same");
    let made = kept.served.run(&["prescriptions", "list", "hall/wren", "--json"]).json();
    assert_eq!(made["prescriptions"].as_array().map_or(0, Vec::len), 0);
}

#[cfg(unix)]
#[test]
fn links_and_read_only_workbooks_stay_what_they_are() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let before = book(&ROWS);
    let kept = Kept::begin(&[("read.xlsx", before.clone()), ("twice.xlsx", before.clone())]);
    let place = |name: &str| kept.folder().join(name);
    let elsewhere = kept.served.folder.path().join("elsewhere.xlsx");
    std::fs::hard_link(place("twice.xlsx"), &elsewhere).unwrap();
    symlink(&elsewhere, place("soft.xlsx")).unwrap();
    std::fs::set_permissions(place("read.xlsx"), PermissionsExt::from_mode(0o444)).unwrap();
    let looked = kept.once();
    let lines: Vec<&str> = looked.stdout.lines().collect();
    assert_eq!(
        lines[0],
        "read.xlsx: 3 sets, 3 new; the next session is new, but the file is read-only and stays as it is"
    );
    for (line, name) in [(lines[1], "soft.xlsx"), (lines[2], "twice.xlsx")] {
        assert!(
            line.starts_with(&format!("{name}: left alone: it is a link or has a second name")),
            "{line}"
        );
        assert!(kept.bytes(name) == before, "{name}");
    }
    assert!(kept.bytes("read.xlsx") == before);
    // One that holds the session already is in step, whatever may be written.
    std::fs::set_permissions(place("read.xlsx"), PermissionsExt::from_mode(0o644)).unwrap();
    assert!(kept.once().stdout.starts_with("read.xlsx: 3 sets, none new; next session written\n"));
    std::fs::set_permissions(place("read.xlsx"), PermissionsExt::from_mode(0o444)).unwrap();
    assert!(kept.once().stdout.starts_with("read.xlsx: 3 sets, none new; next session as before\n"));
    assert!(std::fs::symlink_metadata(place("soft.xlsx")).unwrap().is_symlink());
}

#[cfg(unix)]
#[test]
fn a_workbook_of_another_user_is_not_taken_from_them() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;
    let before = book(&ROWS);
    let kept = Kept::begin(&[("log.xlsx", before.clone())]);
    let home = kept.served.folder.path();
    // Where another user can run it.
    let binary = home.join("nextrung");
    std::fs::copy(env!("CARGO_BIN_EXE_nextrung"), &binary).unwrap();
    for (path, mode) in [(home, 0o755), (&kept.folder(), 0o777), (&kept.folder().join("log.xlsx"), 0o666)] {
        std::fs::set_permissions(path, PermissionsExt::from_mode(mode)).unwrap();
    }
    let plain = kept.command(&["--once"]);
    let mut keeper = Command::new(binary);
    keeper.args(plain.get_args());
    // Only root can run it as somebody else; others see that their own workbook is written.
    let is_root = std::fs::metadata(home).unwrap().uid() == 0;
    if is_root {
        keeper.uid(12_345).gid(12_345);
    }
    let looked = Ended::of(&keeper.output().unwrap());
    assert_eq!(looked.code, if is_root { 2 } else { 0 }, "{}", looked.stderr);
    assert_eq!(looked.said().contains("it belongs to another user"), is_root, "{}", looked.stderr);
    assert_eq!(kept.bytes("log.xlsx") == before, is_root);
    assert_eq!(litter(&kept.folder()), Vec::<String>::new());
}

#[test]
fn killed_at_any_moment_it_leaves_the_old_workbook_or_the_new_one() {
    let before = book(&ROWS);
    let kept = Kept::begin(&[("log.xlsx", before.clone())]);
    let begun = Instant::now();
    kept.once().page();
    let mut whole = begun.elapsed();
    let after = kept.bytes("log.xlsx");
    let (mut old, mut new) = (0, 0);
    for round in 1..=200_u32 {
        if round > 24 && old > 0 && new > 0 {
            break;
        }
        kept.put("log.xlsx", &before);
        let mut process =
            kept.command(&["--once"]).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        std::thread::sleep(whole * (1 + round % 12) / 10);
        process.kill().unwrap();
        process.wait().unwrap();
        let left = kept.bytes("log.xlsx");
        assert!(left == before || left == after, "round {round}: neither the old nor the new workbook");
        *(if left == before { &mut old } else { &mut new }) += 1;
        // The first run may have been the slowest or the fastest.
        match (old, new) {
            (0, _) => whole = whole * 4 / 5,
            (_, 0) => whole = whole * 5 / 4,
            _ => {}
        }
    }
    assert!(old > 0 && new > 0, "killed before and after: {old} old, {new} new");
    kept.once().page();
    assert!(kept.bytes("log.xlsx") == after, "the next run ends where an unbroken one does");
    assert_eq!(litter(&kept.folder()), Vec::<String>::new());
    assert_eq!(sets(&kept.served, "hall/wren").len(), 3);
    let made = kept.served.run(&["prescriptions", "list", "hall/wren", "--json"]).json();
    assert_eq!(made["prescriptions"].as_array().unwrap().len(), 1, "and keeps one prescription");
}

#[test]
fn the_loop_sees_what_is_saved_and_ends_when_interrupted() {
    let kept = Kept::begin(&[("log.xlsx", book(&ROWS))]);
    let process =
        kept.command(&["--every", "1"]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let wait = |count: usize| {
        let end = Instant::now() + Duration::from_secs(60);
        while sets(&kept.served, "hall/wren").len() < count || kept.bytes("log.xlsx").is_empty() {
            assert!(Instant::now() < end, "{count} sets in time");
            std::thread::sleep(Duration::from_millis(50));
        }
    };
    wait(3);
    let refused = kept.once();
    assert_eq!(refused.code, 2, "a folder has one keeper");
    assert!(refused.said().contains("another nextrung workbook keep"), "{}", refused.stderr);
    let rows = [&ROWS[..], &[("2026-11-21", "wren", "pull/pull-up", "3")]].concat();
    kept.put("log.xlsx", book(&rows));
    wait(4);
    let pid = process.id().to_string();
    assert!(Command::new("kill").args(["-INT", &pid]).status().unwrap().success());
    let ended = process.wait_with_output().unwrap();
    let said = String::from_utf8(ended.stdout).unwrap();
    assert!(ended.status.success(), "{said}");
    assert!(said.starts_with("log.xlsx: 3 sets, 3 new; next session written\n"), "{said}");
    assert!(text(&kept.bytes("log.xlsx"), OWN).contains("Next session of Wren"), "{said}");
}
