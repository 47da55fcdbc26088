//! Faults within one ladder or ability file: each is reported with file, line, key, found, expected and suggestion.

use nextrung_domain::ladder_file::{LadderProblem, MAX_BYTES, MAX_PROBLEMS};

use crate::fixture::{Files, PULL, bend, line_of};

/// Asserts that `pull.toml`, with one text changed to another, has one problem at `key` on the line of `mark`, found,
/// expected and suggested as in `words`.
#[track_caller]
fn refused(change: [&str; 2], mark: &str, key: &str, words: [&str; 3]) {
    let mut files = Files::sound();
    files.pull = bend(PULL, change[0], change[1]);
    let wanted = LadderProblem {
        file: "pull.toml".to_owned(),
        line: line_of(&files.pull, mark),
        key: key.to_owned(),
        found: words[0].to_owned(),
        expected: words[1].to_owned(),
        suggestion: words[2].to_owned(),
    };
    assert_eq!(files.problems(), [wanted], "after `{}` became `{}`", change[0], change[1]);
}

/// The same for a change that can be found by what it put in.
#[track_caller]
fn refused_there(change: [&str; 2], key: &str, words: [&str; 3]) {
    refused(change, change[1], key, words);
}

const LADDER_KEYS: &str = "one of id, name, version, side, about, cautions, shading, rung";
const RUNG_KEYS: &str = "one of id, name, unit, side, cues, cautions, equipment, shadings, inverted, load_share, \
                         load_source, band, attempt_band, demand, gate";

#[test]
fn keys_that_nobody_reads_are_named_with_the_nearest_key() {
    let unread = "a key nobody reads";
    refused(
        ["about = ", "abuot = \"x\"\nabout = "],
        "abuot",
        "abuot",
        [unread, LADDER_KEYS, "did you mean `about`?"],
    );
    refused(
        ["cues = [\"ribs down\"]", "cues = [\"ribs down\"]\nequipmnt = [\"bar\"]"],
        "equipmnt",
        "rung[0].equipmnt",
        [unread, RUNG_KEYS, "did you mean `equipment`?"],
    );
    refused(
        ["difficulty = 0.55", "difficulty = 0.55\nweather = \"fair\""],
        "weather",
        "rung[3].demand[0].weather",
        [unread, "one of ability, difficulty, sd, basis, source", "remove it"],
    );
    refused(
        ["at_least = 20", "at_least = 20\nat_leat = 20"],
        "at_leat =",
        "rung[2].gate[0].at_leat",
        [unread, "one of rung, at_least, clearance, why", "did you mean `at_least`?"],
    );
    refused(
        ["name = \"light band\"", "name = \"light band\"\nsource_ = 1"],
        "source_",
        "shading[0].source_",
        [unread, "one of id, name, change, sd, source, equipment", "did you mean `source`?"],
    );
}

#[test]
fn missing_keys_are_named_at_their_table() {
    let text = "a text that is not empty";
    refused(
        ["version = 3\n", ""],
        "# A small",
        "version",
        ["nothing", "a whole number from 1 to 1000000", "add `version = ...`"],
    );
    refused(
        ["name = \"Hollow hang\"\n", ""],
        "[[rung]]",
        "rung[0].name",
        ["nothing", text, "add `name = ...`"],
    );
    refused(
        ["difficulty = -2.5\n", ""],
        "[[rung.demand]]",
        "rung[0].demand[0].difficulty",
        ["nothing", "a number from -8 to 8", "add `difficulty = ...`"],
    );
    refused(
        ["why = \"The shoulders must hold the body first.\"\n", ""],
        "[[rung.gate]]",
        "rung[2].gate[0].why",
        ["nothing", text, "add `why = ...`"],
    );
    refused(
        ["at_least = 20\n", ""],
        "[[rung.gate]]",
        "rung[2].gate[0].at_least",
        ["nothing", "a whole number from 1 to 1800", "add `at_least = ...`"],
    );
    refused(
        ["change = { vertical-pull = -0.30 }\n", ""],
        "[[shading]]",
        "shading[0].change",
        ["nothing", "a table of numbers", "add `change = ...`"],
    );
    refused(
        ["cues = [\"ribs down\"]\n", ""],
        "[[rung]]",
        "rung[0].cues",
        ["0 cues", "1 to 4 short cues", ""],
    );
    // A rung's table begins at its header, the line before its id.
    refused(
        [
            "load_share = 0.95
",
            "",
        ],
        "[[rung]]
id = \"pull-up\"",
        "rung[2].load_share",
        ["nothing", "a number from 0.05 to 1.5", "add `load_share = ...`"],
    );
}

#[test]
fn values_of_the_wrong_type_are_described() {
    refused(
        ["version = 3", "version = \"three\""],
        "version",
        "version",
        ["the text \"three\"", "a whole number from 1 to 1000000", ""],
    );
    refused(
        ["version = 3", "version = 3.0"],
        "version",
        "version",
        ["the number 3.0", "a whole number from 1 to 1000000", ""],
    );
    refused(
        ["name = \"Hollow hang\"", "name = 7"],
        "name = 7",
        "rung[0].name",
        ["the number 7", "a text that is not empty", ""],
    );
    refused(
        ["difficulty = 0.55", "difficulty = \"hard\""],
        "\"hard\"",
        "rung[3].demand[0].difficulty",
        ["the text \"hard\"", "a number from -8 to 8", ""],
    );
    refused(
        ["cautions = [\"Warm the elbows first.\"]", "cautions = true"],
        "cautions = true",
        "cautions",
        ["true", "a list of texts", ""],
    );
    refused(
        ["cautions = [\"Warm the elbows first.\"]", "cautions = [\"a\",\n  [\"b\"]]"],
        "[\"b\"]",
        "cautions",
        ["a list", "a text that is not empty", ""],
    );
    refused(
        ["change = { vertical-pull = 0.25 }", "change = 0.25"],
        "change = 0.25",
        "shading[1].change",
        ["the number 0.25", "a table of numbers", ""],
    );
    refused(
        ["band = [10, 30]", "band = [10, 30]\ninverted = \"yes\""],
        "inverted",
        "rung[0].inverted",
        ["the text \"yes\"", "true or false", ""],
    );
    refused(
        ["cues = [\"ribs down\"]", "cues = [\"ribs down\"]\ngate = 2026-03-14"],
        "gate = 2026",
        "rung[0].gate",
        ["a date", "a list of tables [[gate]]", ""],
    );
    refused(
        ["band = [10, 30]\n", "band = [10]\n"],
        "band = [10]",
        "rung[0].band",
        ["a list", "two whole numbers [low, high]", ""],
    );
}

#[test]
fn numbers_out_of_range_and_no_numbers_are_refused() {
    for bad in ["8.01", "-8.01", "1e300", "nan", "-nan", "inf", "-inf", "1e999"] {
        let (change, found) = (format!("difficulty = {bad}"), format!("the number {bad}"));
        let key = "rung[3].demand[0].difficulty";
        refused_there(["difficulty = 0.55", &change], key, [&found, "a number from -8 to 8", ""]);
    }
    for good in ["8", "-8", "8.0", "+0.5", "1_0e-1"] {
        let mut files = Files::sound();
        files.pull = bend(PULL, "difficulty = 0.55", &format!("difficulty = {good}"));
        assert_eq!(files.load().err(), None, "{good}");
    }
}

#[test]
fn other_numbers_keep_to_their_ranges() {
    refused_there(
        ["sd = 0.05", "sd = -0.05"],
        "rung[2].demand[0].sd",
        ["the number -0.05", "a number from 0 to 2", ""],
    );
    refused_there(
        ["sd = 0.05", "sd = inf"],
        "rung[2].demand[0].sd",
        ["the number inf", "a number from 0 to 2", ""],
    );
    refused_there(
        ["version = 3", "version = 0"],
        "version",
        ["the number 0", "a whole number from 1 to 1000000", ""],
    );
    refused_there(
        ["load_share = 0.95", "load_share = 1.6"],
        "rung[2].load_share",
        ["the number 1.6", "a number from 0.05 to 1.5", ""],
    );
    refused_there(
        ["at_least = 20", "at_least = 0"],
        "rung[2].gate[0].at_least",
        ["the number 0", "a whole number from 1 to 1800", ""],
    );
    refused_there(
        ["{ vertical-pull = 0.25 }", "{ vertical-pull = nan }"],
        "shading[1].change",
        ["the number nan", "a number from -4 to 4", ""],
    );
}

#[test]
fn unknown_names_are_reported_with_the_nearest_one() {
    let ability = "an ability of abilities.toml";
    refused_there(
        ["ability = \"vertical-pull\"\ndifficulty = 0.55", "ability = \"vertical-pul\"\ndifficulty = 0.55"],
        "rung[3].demand[0].ability",
        ["`vertical-pul`", ability, "did you mean `vertical-pull`?"],
    );
    refused_there(
        ["ability = \"vertical-pull\"\ndifficulty = 0.55", "ability = \"courage\"\ndifficulty = 0.55"],
        "rung[3].demand[0].ability",
        ["`courage`", ability, ""],
    );
    refused_there(
        ["{ vertical-pull = 0.25 }", "{ vertical-pulls = 0.25 }"],
        "shading[1].change",
        ["`vertical-pulls`", ability, "did you mean `vertical-pull`?"],
    );
    refused_there(
        ["shadings = [\"light-band\", \"slow-lowering\"]", "shadings = [\"light-bnad\", \"slow-lowering\"]"],
        "rung[2].shadings",
        ["`light-bnad`", "a shading declared in this file", "did you mean `light-band`?"],
    );
    refused_there(
        ["side = \"straight-arm\"", "side = \"straigt-arm\""],
        "rung[0].side",
        ["`straigt-arm`", "bent-arm, straight-arm, balance or legs", "did you mean `straight-arm`?"],
    );
    refused_there(
        ["unit = \"lowering-seconds\"", "unit = \"lowering_seconds\""],
        "rung[1].unit",
        ["`lowering_seconds`", "reps, hold-seconds or lowering-seconds", "did you mean `lowering-seconds`?"],
    );
    refused_there(
        ["basis = \"anchor\"", "basis = \"ancor\""],
        "rung[2].demand[0].basis",
        ["`ancor`", "anchor, derived or estimate", "did you mean `anchor`?"],
    );
    refused_there(
        ["clearance = \"slow-lowering-full-range\"", "clearance = \"slow-lowering-full\""],
        "rung[3].gate[0].clearance",
        [
            "`slow-lowering-full`",
            "inverted-work, exit-practised or slow-lowering-full-range",
            "did you mean `slow-lowering-full-range`?",
        ],
    );
    refused_there(
        ["equipment = [\"bar\", \"box\"]", "equipment = [\"bar\", \"Big Box\"]"],
        "rung[1].equipment",
        ["`Big Box`", "a slug such as `bar`", ""],
    );
    refused_there(["id = \"pull\"", "id = \"Pull Up\""], "id", ["`Pull Up`", "a slug such as `pull`", ""]);
}

#[test]
fn ids_are_used_once() {
    let again = |what: &str| format!("`{what}` a second time");
    refused(
        ["id = \"lowering\"", "id = \"hollow-hang\" # again"],
        "# again",
        "rung[1].id",
        [&again("hollow-hang"), "an id used once", ""],
    );
    refused(
        ["shadings = [\"light-band\", \"slow-lowering\"]", "shadings = [\"light-band\",\n\"light-band\"]"],
        "\"light-band\"]",
        "rung[2].shadings",
        [&again("light-band"), "each shading once", ""],
    );
    let demand = "difficulty = 0.55\nsd = 0.2\nbasis = \"estimate\"\nsource = \"invented for tests\"\n";
    let twice = format!("{demand}[[rung.demand]]\nability = \"vertical-pull\" # again\n{demand}");
    refused(
        [demand, &twice],
        "# again",
        "rung[3].demand[1].ability",
        ["an ability a second time", "each ability once", ""],
    );

    let mut files = Files::sound();
    files.pull = bend(PULL, "id = \"slow-lowering\"", "id = \"light-band\" # again");
    let problems: Vec<String> = files.problems().iter().map(ToString::to_string).collect();
    let line = line_of(&files.pull, "# again");
    let twice =
        format!("pull.toml:{line}: shading[1].id: found {}; expected an id used once", again("light-band"));
    let line = line_of(&files.pull, "\"slow-lowering\"]");
    let lost = format!(
        "pull.toml:{line}: rung[2].shadings: found `slow-lowering`; expected a shading declared in this file"
    );
    assert_eq!(problems, [twice, lost], "the lost id is missed where it was offered");
}

#[test]
fn bands_run_from_a_low_of_one_up_to_what_the_unit_allows() {
    let expected = "two whole numbers from 1 to 1800, the first not above the second";
    for bad in ["[5, 3]", "[0, 3]", "[-2, 3]", "[3, 1801]", "[3, 9999999]"] {
        let change = format!("attempt_band = {bad}");
        refused_there(["attempt_band = [3, 8]", &change], "rung[0].attempt_band", [bad, expected, ""]);
    }
    refused(
        ["\nband = [10, 30]", "\nband = [5, 3]"],
        "band = [5, 3]",
        "rung[0].band",
        ["[5, 3]", expected, ""],
    );
    let mut files = Files::sound();
    files.pull = bend(PULL, "attempt_band = [3, 8]", "attempt_band = [8, 8]");
    assert_eq!(files.load().err(), None, "a band of one value");
}

#[test]
fn a_gate_has_exactly_one_condition() {
    let one = "exactly one of `rung` and `clearance`";
    refused(
        ["rung = \"pull/hollow-hang\"\nat_least = 20\nwhy", "# here\nwhy"],
        "[[rung.gate]]\n# here",
        "rung[2].gate[0]",
        ["neither `rung` nor `clearance`", one, ""],
    );
    refused(
        [
            "rung = \"pull/hollow-hang\"\nat_least = 20\nwhy",
            "rung = \"pull/hollow-hang\"\nclearance = \"exit-practised\"\nat_least = 20\nwhy",
        ],
        "[[rung.gate]]\nrung = \"pull/hollow-hang\"",
        "rung[2].gate[0]",
        ["both `rung` and `clearance`", one, ""],
    );
    refused(
        [
            "clearance = \"slow-lowering-full-range\"",
            "clearance = \"slow-lowering-full-range\"\nat_least = 3",
        ],
        "at_least = 3",
        "rung[3].gate[0].at_least",
        ["`at_least` beside `clearance`", "`at_least` only beside `rung`", "remove it"],
    );
}

#[test]
fn a_ladder_and_a_rung_have_something_in_them() {
    let mut files = Files::sound();
    files.pull = PULL[..PULL.find("[[rung]]").unwrap()].to_owned();
    let problems = files.problems();
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert_eq!(
        problems[0].to_string(),
        "pull.toml:1: rung: found 0 rungs; expected 1 to 200 tables [[rung]]"
    );
    refused(
        [
            "[[rung.demand]]\nability = \"vertical-pull\"\ndifficulty = -2.5\nsd = 0.3\nbasis = \"estimate\"\n\
               source = \"invented for tests\"\n",
            "",
        ],
        "[[rung]]",
        "rung[0].demand",
        ["0 demands", "1 to 4 tables [[rung.demand]]", ""],
    );
    refused(
        ["change = { vertical-pull = 0.25 }", "change = {}"],
        "change = {}",
        "shading[1].change",
        ["no ability", "what the shading adds to the difficulty, for at least one ability", ""],
    );
}

#[test]
fn broken_syntax_is_reported_at_its_line() {
    for (bad, mark) in [
        ("name = \"Hollow hang", "name = \"Hollow hang"),
        ("name = ", "name = \n"),
        ("name = \"a\"\nname = \"b\"", "name = \"b\""),
        ("name : \"Hollow hang\"", "name : "),
    ] {
        let mut files = Files::sound();
        files.pull = bend(PULL, "name = \"Hollow hang\"", bad);
        let problems = files.problems();
        assert_eq!(problems.len(), 1, "{bad}: {problems:?}");
        let p = &problems[0];
        assert_eq!((p.file.as_str(), p.line), ("pull.toml", line_of(&files.pull, mark)), "{bad}: {p}");
        assert_eq!(p.expected, "TOML");
        assert_eq!(p.suggestion, "mend the syntax on this line first; nothing else was read");
        assert!(!p.found.is_empty() && !p.found.contains('\n'), "{bad}: {p:?}");
        assert_eq!(p.key, "", "{bad}");
    }
}

#[test]
fn repro_a_file_of_problems_has_two_hundred_and_the_count_of_the_rest() {
    use std::fmt::Write as _;
    let mut files = Files::sound();
    files.pull = String::new();
    // Each problem used to be placed by counting through the file: one this long took a service 45 s, for an answer of 8.7 MB.
    for key in 0.. {
        if files.pull.len() > MAX_BYTES - 20 {
            break;
        }
        writeln!(files.pull, "{key:x}=1").expect("a string takes every text");
    }
    let keys = files.pull.lines().count();
    let problems = files.problems();
    assert_eq!(problems.len(), MAX_PROBLEMS + 1);
    assert!(problems.iter().all(|p| (1..=keys + 1).contains(&p.line)), "{problems:?}");
    let last = problems.last().expect("the count");
    let missing = 8;
    assert_eq!(last.found, format!("{} more problems", keys + missing - MAX_PROBLEMS));
}

#[test]
fn oversize_files_are_refused_unread() {
    let long = format!("# {}\n", "x".repeat(MAX_BYTES));
    let mut files = Files::sound();
    files.pull.push_str(&long);
    let found = format!("{} bytes", files.pull.len());
    let problems = files.problems();
    assert_eq!(problems.len(), 1, "{problems:?}");
    let p = &problems[0];
    assert_eq!((p.file.as_str(), p.line, p.key.as_str()), ("pull.toml", 1, ""));
    assert_eq!((p.found.as_str(), p.expected.as_str()), (found.as_str(), "at most 524288 bytes"));

    let mut files = Files::sound();
    files.abilities.push_str(&long);
    let problems = files.problems();
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert_eq!((problems[0].file.as_str(), problems[0].key.as_str()), ("abilities.toml", ""));
    assert_eq!(problems[0].expected, "at most 524288 bytes");

    let mut files = Files::sound();
    let room = MAX_BYTES - files.pull.len();
    files.pull.push_str(&format!("#{}\n", "x".repeat(room - 2)));
    assert_eq!(files.pull.len(), MAX_BYTES);
    assert_eq!(files.load().err(), None, "the largest file that is read");
}

#[test]
fn every_fault_of_every_ladder_file_is_reported_at_once() {
    let mut files = Files::sound();
    files.pull = bend(&files.pull, "version = 3", "version = -1");
    files.pull = bend(&files.pull, "id = \"hollow-hang\"", "id = \"Hollow Hang\"");
    files.pull = bend(&files.pull, "equipment = [\"bar\"]\nband", "equipment = [\"A Bar\"]\nband");
    files.pull = bend(&files.pull, "\nband = [10, 30]", "\nband = [30, 10]");
    files.pull = bend(&files.pull, "difficulty = -2.5", "difficulty = nan");
    files.pull = bend(&files.pull, "unit = \"lowering-seconds\"", "unit = \"seconds\"");
    files.pull = bend(&files.pull, "difficulty = -0.9", "difficulty = 99");
    files.pull = bend(&files.pull, "at_least = 20", "at_least = 2000");
    files.press = bend(&files.press, "version = 1", "version = 1\nauthor = \"x\"");
    let keys: Vec<String> =
        files.problems().iter().map(|p| format!("{}:{}: {}", p.file, p.line, p.key)).collect();
    let at = |mark: &str, key: &str| format!("pull.toml:{}: {key}", line_of(&files.pull, mark));
    let wanted = [
        at("version = -1", "version"),
        at("id = \"Hollow Hang\"", "rung[0].id"),
        at("\"A Bar\"", "rung[0].equipment"),
        at("band = [30, 10]", "rung[0].band"),
        at("difficulty = nan", "rung[0].demand[0].difficulty"),
        at("unit = \"seconds\"", "rung[1].unit"),
        at("difficulty = 99", "rung[1].demand[0].difficulty"),
        at("at_least = 2000", "rung[2].gate[0].at_least"),
        format!("press.toml:{}: author", line_of(&files.press, "author")),
    ];
    for one in &wanted {
        assert!(keys.contains(one), "{one} is not among {keys:#?}");
    }
    assert_eq!(keys.len(), wanted.len(), "{keys:#?}");
}

#[test]
fn a_problem_reads_as_one_line() {
    let mut files = Files::sound();
    files.pull = bend(PULL, "unit = \"lowering-seconds\"", "unit = \"lowering-second\"");
    let line = line_of(&files.pull, "unit = \"lowering-second\"");
    assert_eq!(
        files.problems()[0].to_string(),
        format!(
            "pull.toml:{line}: rung[1].unit: found `lowering-second`; expected reps, hold-seconds or \
             lowering-seconds; did you mean `lowering-seconds`?"
        )
    );
}
