//! What goes wrong, what is said about it, and the exit code.

use crate::program::{Served, run};

#[test]
fn what_is_not_there_is_one() {
    let served = Served::with_wren();
    for arguments in [
        &["athlete", "show", "hall/nobody"][..],
        &["roster", "show", "nowhere"],
        &["ladders", "show", "nothing"],
        &["why", "hall/wren/p-1"],
        &["sets", "correct", "hall/wren/none", "--reps", "1", "--reason", "x"],
        &["sets", "withdraw", "hall/wren/none", "--reason", "x"],
    ] {
        let ended = served.run(arguments);
        assert_eq!(ended.code, 1, "{arguments:?}: {}", ended.stderr);
        assert!(
            ended.stdout.is_empty() && ended.said().contains("See which there are: nextrung "),
            "{}",
            ended.stderr
        );
    }
}

#[test]
fn a_refusal_names_every_bad_field_for_people_and_programs() {
    let served = Served::with_wren();
    let bad = ["record", "hall/wren", "--date", "2026-11-20", "--set", "0", "--rung", "pull/pull-up"];
    let bad = [&bad[..], &["--reps", "-1", "--stop", "target"]].concat();
    let page = served.run(&bad);
    assert_eq!(page.code, 1);
    for field in ["set_number: found 0", "reps: found -1", "planned_target: found nothing"] {
        assert!(page.said().contains(field), "{field}: {}", page.stderr);
    }
    assert!(page.said().contains("Nothing was kept"), "{}", page.stderr);
    let error = served.run(&[&bad[..], &["--json"]].concat()).error();
    assert_eq!((&error["reason"], &error["code"]), (&"BAD_FIELDS".into(), &"INVALID_ARGUMENT".into()));
    assert_eq!(error["fields"].as_array().unwrap().len(), 3);
    assert_eq!(error["exitCode"], 1);
}

#[test]
fn the_same_request_id_gives_the_same_answer_and_other_content_is_refused() {
    let served = Served::fresh();
    let add = |title: &str| {
        served.run(&["roster", "add", "hall", "--title", title, "--request-id", "mine", "--json"])
    };
    assert_eq!(add("The hall").json(), add("The hall").json());
    let other = add("Another");
    assert_eq!(other.code, 1);
    assert_eq!(other.error()["reason"], "REQUEST_ID_REUSED");
    let taken = served.run(&["roster", "add", "hall", "--title", "Another"]);
    assert!(taken.said().contains("See it: nextrung roster show hall"), "{}", taken.stderr);
}

#[test]
fn wrong_usage_is_two() {
    for arguments in [
        &["frobnicate"][..],
        &["record", "hall/wren", "--stop", "tired"],
        &["prescribe", "hall/wren", "--date", "soon"],
        &["serve", "--listen", "0.0.0.0:0", "--database", "never-made.db"],
        &["roster", "list", "--server", "127.0.0.1:1"],
    ] {
        let ended = run(arguments);
        assert_eq!(ended.code, 2, "{arguments:?}: {}", ended.stderr);
        assert!(ended.stdout.is_empty() && !ended.stderr.is_empty());
    }
    let served = Served::fresh();
    for arguments in
        [&["athlete", "show", "wren"][..], &["record", "hall/wren", "--reps", "5"], &["athlete", "list"]]
    {
        assert_eq!(served.run(arguments).code, 2, "{arguments:?}");
    }
}

#[test]
fn nobody_there_is_three() {
    let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let ended = run(&["roster", "list", "--server", &format!("http://{free}")]);
    assert_eq!(ended.code, 3);
    assert!(ended.said().contains("nextrung serve"), "{}", ended.stderr);
}

#[test]
fn help_and_version_are_done() {
    for arguments in [&["--help"][..], &["--version"], &["record", "--help"], &["sets", "correct", "--help"]]
    {
        assert_eq!(run(arguments).code, 0, "{arguments:?}");
    }
}
